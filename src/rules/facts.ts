/**
 * What a condition or a text may speak of. `digits` is how a number is printed; no digits: a word or a list.
 * `isTrimmed`: without trailing zeros, for a number of the case that stands beside a limit.
 */
export interface FactMeaning {
  unit: string;
  digits?: number;
  isTrimmed?: boolean;
  meaning: string;
}

export type FactValue = number | string | boolean | readonly string[];

/** Known facts of one patient, feeder or plan. A fact that is not known is left out, never a default. */
export type Facts = Readonly<Record<string, FactValue | undefined>>;

const number = (unit: string, digits: number, meaning: string): FactMeaning => ({ unit, digits, meaning });
const trimmed = (unit: string, digits: number, meaning: string): FactMeaning => ({
  ...number(unit, digits, meaning),
  isTrimmed: true,
});
const word = (meaning: string): FactMeaning => ({ unit: '', meaning });

/** The catalogue: a rule that names a fact outside it is refused. */
export const FACTS: Readonly<Record<string, FactMeaning>> = {
  'patient.age': trimmed('years', 1, 'age'),
  'patient.sex': word('female, male or other'),
  'patient.weight': number('kg', 0, 'weight'),
  'patient.pregnant': word('yes or no'),
  'patient.pregnancy': word('now, possible, or not possible by sex or age'),
  'patient.child': word(
    'yes below the age of the rule child-below, else no, also where the age is not given',
  ),
  'patient.gestation': word('weeks of pregnancy, or that they are not given'),
  'patient.blood_group': word('blood group as the case writes it'),
  'patient.usual_saturation': number('%', 0, 'saturation on air lying, else of a sample on air'),
  'patient.anticoagulated': word('yes or no'),
  'patient.history': word('list of what the history holds'),
  'history.bleeding': word('haemoptysis and haemothorax, where the history lists them'),
  'history.brain': word('stroke, tia and brain-abscess, where the history lists them'),
  'history.pressure': word(
    'pulmonary-hypertension, heart-failure and liver-avm, where the history lists them',
  ),
  'case.unanswered': number('of side, lobe, age, allergies and pregnancy', 0, 'basic questions left open'),
  'case.unanswered_names': word('basic questions left open'),
  'bleeding.active': word('yes, no or unknown: bleeds now or did within 24 hours'),
  'bleeding.stable': word('yes, no or unknown'),
  'bleeding.when': word('now, or within 24 hours'),
  'bleeding.airway': word('yes where it bleeds into the airway, or where nobody says into what'),
  'bleeding.chest': word('yes where it bleeds into the chest, or where nobody says into what'),
  'stock.closes': number('feeder(s)', 0, 'feeders that a device in stock closes, allergies set aside'),
  'stock.closes_names': word('feeders that a device in stock closes'),
  'stock.lacks_names': word('feeders that no device in stock closes'),
  'patient.allergies': word('list of allergies; known and empty where the case says none'),
  'patient.egfr': number('mL/min/1.73m2', 0, 'estimated glomerular filtration rate'),
  'patient.fev1_percent': number('%', 0, 'FEV1, % of predicted'),
  'patient.dlco_percent': number('%', 0, 'DLCO, % of predicted'),
  'patient.haemoglobin': number('g/dL', 1, 'haemoglobin'),
  'patient.anticoagulant': word('agent, dose and last dose as the case writes them'),
  'blood.ferritin': number('ug/L', 0, 'serum ferritin'),
  'blood.transferrin_saturation': number('%', 0, 'transferrin saturation'),
  'patient.haematocrit': number('%', 0, 'haematocrit'),
  'curacao.score': number('of 4 criteria', 0, 'Curacao criteria met, the lesion itself counted'),
  'curacao.open': number('of 4 criteria', 0, 'Curacao criteria the case does not answer'),
  'curacao.reading': word('definite, possible or unlikely'),
  'circulation.mean_pa': trimmed('mmHg', 2, 'mean pulmonary artery pressure'),
  'circulation.wedge': trimmed('mmHg', 2, 'wedge pressure'),
  'circulation.resistance': number('Wood units', 1, 'pulmonary vascular resistance, shunt included'),
  'circulation.bed_resistance': number('Wood units', 1, 'resistance of the normal bed alone'),
  'circulation.pressure': word('normal, raised, not classifiable or severe'),
  'circulation.class': word('class of pulmonary hypertension'),
  'circulation.pressure_text': word('the measured pressures, their class and resistances'),
  'team.hyperbaric': word('yes where the team of the case names a hyperbaric centre'),
  'lesion.side': word('left or right'),
  'lesion.other_side': word('the side that the lesion does not lie on'),
  'lesion.lobe': word('upper, middle, lingula or lower'),
  'lesion.kind': word('simple, complex or diffuse'),
  'lesion.segments': word('list of segments'),
  'lesion.feeders': number('feeder(s)', 0, 'feeding arteries measured'),
  'lesion.none_open': word('yes where a treated lesion has surfaces and no feeding artery among them'),
  'lesion.state': word('untreated, closed, open again, or treated where no surfaces tell which'),
  'lesion.other_lesions': word('yes, no or unknown: lesions that no surface of the case holds'),
  'lesion.systemic_feeders': number('systemic feeder(s)', 0, 'systemic feeding arteries of the model'),
  'lesion.sac_volume': number('mL', 1, 'sac volume'),
  'lesion.largest_feeder': number('mm', 1, 'largest landing calibre, else largest feeder calibre'),
  'lesion.largest_drain': number('mm', 1, 'largest draining vein, mean calibre'),
  'landing.missing': number('feeder(s)', 0, 'feeders without a landing zone'),
  'landing.missing_names': word('feeders without a landing zone'),
  'feeder.name': word('name of the feeder'),
  'feeder.calibre': number('mm', 2, 'landing calibre'),
  'feeder.to_sac': number('mm', 1, 'from the landing zone to the sac'),
  'feeder.zone': number('mm', 1, 'length of the landing zone'),
  'feeder.ovality_percent': number('%', 0, 'largest width of the zone over its calibre, minus one'),
  'feeder.device_kind': word('kind of the device chosen for the feeder'),
  'shunt.percent': number('%', 1, 'right-to-left shunt that the plan rests on, % of cardiac output'),
  'shunt.after_percent': number('%', 1, 'shunt in samples after treatment'),
  'shunt.words': word(
    'the shunt in words: a percentage, or that it cannot be told from none and its upper limit',
  ),
  'shunt.after_words': word('the same of the samples after treatment'),
  'shunt.room_air_saturation': number('%', 1, 'measured arterial saturation on air'),
  'closure.shunt_words': word(
    'predicted shunt with every feeder closed: a percentage, or the least it can be',
  ),
  'closure.mean_pa': number('mmHg', 0, 'predicted mean pulmonary artery pressure with every feeder closed'),
  'devices.shelf': word('yes where a shelf was given'),
  'devices.feeders': number('feeder(s)', 0, 'feeders that need a device'),
  'devices.ready': number('feeder(s)', 0, 'feeders with a device on the shelf today'),
  'devices.unready': number('feeder(s)', 0, 'feeders with no device on the shelf today'),
  'devices.waiting': number('feeder(s)', 0, 'feeders whose device must be ordered'),
  'devices.borderline': number('feeder(s)', 0, 'feeders whose choice changes inside the calibre interval'),
  'devices.none': number('feeder(s)', 0, 'feeders that no device of the shelf fits'),
  'devices.none_names': word('feeders that no device of the shelf fits'),
  'devices.waiting_names': word('feeders whose device must be ordered'),
  'devices.borderline_names': word('feeders whose choice changes inside the calibre interval'),
  'devices.late': word('yes where the devices come after the planned date'),
  'devices.ready_by': word('date by which every device is there'),
  'devices.nickel': word('yes, no or unknown: nickel in the chosen devices'),
  'devices.lumen': number('mm', 2, 'largest inner lumen a chosen device needs'),
  'planned.approach': word('auto, embolise or resect'),
  'planned.recommended': word('embolise, resect or discuss'),
  'planned.date': word('planned date'),
  'surgery.one_lung_ventilation': word('yes or no'),
  'surgery.leak_test': number('cmH2O', 1, 'leak test pressure'),
  'surgery.leak_test_mmhg': number('mmHg', 1, 'leak test pressure'),
  'surgery.leak_test_written': word('leak test pressure as the case writes it'),
  'resection.taken': word('segments that plan B takes'),
  'surgery.predicted_fev1': number('%', 1, 'predicted FEV1 after the resection'),
  'surgery.predicted_dlco': number('%', 1, 'predicted DLCO after the resection'),
  'contrast.smallest': number('mL', 0, 'smallest of the contrast limits, cut to whole mL'),
  'contrast.smallest_name': word('where the smallest contrast limit comes from'),
  'contrast.all': word('every contrast limit with its name, the smallest first'),
  'contrast.filtration': number(
    'mL/min',
    0,
    'filtration of the contrast limits: the smaller of indexed and absolute',
  ),
  'contrast.notes': word(
    'contrast limits that could not be used and why, with a leading semicolon; or empty',
  ),
  'haemoglobin.low_limit': number('g/dL', 1, 'haemoglobin below which it is low for age, sex and pregnancy'),
  'haemoglobin.high_limit': number('g/dL', 1, 'haemoglobin above which it is high for age and sex'),
  'haemoglobin.group': word('whom the haemoglobin limits hold for'),
  'haemoglobin.reading': word('low, low normal, high normal, normal or high'),
  'blood.order': word('blood to be crossmatched, in units or for a child in mL/kg'),
  'at_hand.catheter': word('yes where the delivery catheter is at hand, no where missing'),
  'at_hand.snare': word('yes where the snare is at hand, no where missing'),
  'at_hand.balloon': word('yes where the balloon is at hand, no where missing'),
  'at_hand.blood': word('yes where crossmatched blood is at hand, no where missing'),
  'at_hand.clamps': word('yes where clamps and tapes are at hand, no where missing'),
  'at_hand.sutures': word('yes where vascular sutures are at hand, no where missing'),
  'at_hand.stapler': word('yes where staplers are at hand, no where missing'),
  'at_hand.print': word('yes where the printed model is at hand, no where missing'),
};
