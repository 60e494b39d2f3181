import { bleedingState } from '../case/bleeding.js';
import { AT_HAND_ITEMS, type Case } from '../case/case.js';
import { fixed } from '../foundation/number-text.js';
import type { LesionMeasure } from '../geometry/measure.js';
import { isOnAir } from '../physiology/sample-agreement.js';
import { visitsOf } from '../physiology/visit.js';
import { listedStructures } from '../case/listed-structures.js';
import { stated, surgeryFacts } from '../resection/surgery-facts.js';
import type { Result } from '../result/result.generated.js';
import type { Facts } from '../rules/facts.js';
import { judgePressure } from '../physiology/pulmonary-pressure.js';
import { numberOf, type Rules } from '../rules/rule.js';
import type { MissedVessel } from '../witness/missed-vessels.js';
import { isNoneOpen, isTreated } from './none-open.js';
import { bodyFacts } from './body-facts.js';
import { curacao } from './checklist-curacao.js';

/** The input of readiness, checklist and counselling. Parts not computed are left out. */
export interface PlanInput {
  case: Case;
  rules: Rules;
  lesion?: LesionMeasure;
  lesionKind?: 'simple' | 'complex' | 'diffuse';
  /** The visit that the headline depends on; default: before. */
  baseline?: Result['baseline'];
  shunt?: Result['shunt'];
  shuntAfter?: Result['shunt_after'];
  closure?: Result['closure'];
  devices?: Result['devices'];
  resection?: Result['resection'];
  /** Code of the device in stock that closes each feeder, regardless of allergies; absent without a shelf. */
  stock?: Readonly<Record<string, string | undefined>>;
  /** Shelf code to nickel, for the checklist. */
  nickelByCode?: ReadonlyMap<string, 'yes' | 'no' | 'unknown'>;
  /** ISO date that lead times count from. */
  today?: string;
  /** Opacified vessels outside all surfaces; absent if not searched for. */
  missed?: readonly Pick<MissedVessel, 'kind'>[];
  /** The subjects of the stops found while the surfaces were read, compared with the scan and measured. */
  surfaceStops?: readonly string[];
}

/** The facts of one patient that the rules are evaluated on; unknown facts are left out. */
export function planFacts(input: PlanInput): Facts {
  const { resection } = input;
  return {
    ...patientFacts(input),
    ...lesionFacts(input),
    ...gasFacts(input),
    ...deviceFacts(input),
    ...bleedingFacts(input),
    ...scanFacts(input),
    'surfaces.stops': input.surfaceStops?.length,
    'surfaces.stops_names': input.surfaceStops,
    ...surgeryFacts(input.case, {
      ...(resection?.predicted_fev1_percent !== undefined && {
        fev1Percent: resection.predicted_fev1_percent,
      }),
      ...(resection?.predicted_dlco_percent !== undefined && {
        dlcoPercent: resection.predicted_dlco_percent,
      }),
    }),
    'planned.approach': input.case.planned.approach,
    'planned.date': input.case.planned.date,
    ...atHandFacts(input.case),
    'lesion.none_open': isNoneOpen(input.case) ? 'yes' : 'no',
    'lesion.state': lesionState(input.case),
    'lesion.other_lesions': input.case.lesion.otherLesions,
    'team.hyperbaric': input.case.team?.some(({ role }) => role === 'hyperbaric_centre') ? 'yes' : undefined,
    'patient.pregnancy': pregnancyOf(input.case.patient, input.rules),
    'patient.child': isChild(input.case.patient, input.rules) ? 'yes' : 'no',
  };
}

function scanFacts({ missed }: PlanInput): Facts {
  if (!missed) return {};
  const count = (wanted: MissedVessel['kind']): number => missed.filter(({ kind }) => kind === wanted).length;
  return {
    'scan.feeder_candidates': count('feeder-candidate'),
    'scan.unclear_vessels': count('unclear'),
  };
}

function atHandFacts({ atHand }: Case): Facts {
  return Object.fromEntries(AT_HAND_ITEMS.map((item) => [`at_hand.${item}`, stated(atHand[item])]));
}

/** `now`, `possible` in a woman of child-bearing age or if sex or age is not known, else `not possible`. */
function pregnancyOf({ ageYears: age, sex, pregnant }: Case['patient'], rules: Rules): string {
  if (pregnant === 'yes') return 'now';
  const mayBe =
    sex !== 'male' &&
    (age === undefined ||
      (age >= numberOf(rules, 'pregnancy-age-from') && age < numberOf(rules, 'pregnancy-age-to')));
  return mayBe ? 'possible' : 'not possible';
}

/** False if the age is not given. */
const isChild = ({ ageYears: age }: Case['patient'], rules: Rules): boolean =>
  age !== undefined && age < numberOf(rules, 'child-below');

/** The state of treatment; `treated` if there are no surfaces to show whether a feeder is open. */
function lesionState(patientCase: Case): string {
  if (!isTreated(patientCase)) return 'untreated';
  if (isNoneOpen(patientCase)) return 'closed';
  return listedStructures(patientCase) === undefined ? 'treated' : 'open again';
}

/** The unanswered questions that any advice depends on. */
function unansweredBasics({ lesion, patient }: Case, rules: Rules): string[] {
  const { ageYears: age } = patient;
  const mayBePregnant = pregnancyOf(patient, rules) === 'possible';
  return [
    ...(lesion.side === undefined ? ['side'] : []),
    ...(lesion.lobe === undefined ? ['lobe'] : []),
    ...(age === undefined ? ['age'] : []),
    ...(patient.allergies === undefined ? ['allergies'] : []),
    ...(mayBePregnant && stated(patient.pregnant) === undefined ? ['pregnancy'] : []),
  ];
}

/** Agent, dose and last dose as written; a statement that they are missing if the patient takes an unnamed anticoagulant. */
function anticoagulantText({ anticoagulant: given, anticoagulated }: Case['patient']): string | undefined {
  if (given === undefined)
    return anticoagulated === 'yes' ? 'agent, dose and last dose not stated' : undefined;
  return [given.agent, given.dose, given.lastDose && `last dose ${given.lastDose}`]
    .filter((part) => part !== undefined)
    .join(', ');
}

function bleedingFacts({ case: patientCase, lesion, devices, stock }: PlanInput): Facts {
  const { bleeding } = patientCase;
  const into = bleeding?.into ?? 'unknown';
  const goes = (where: 'airway' | 'chest'): string =>
    [where, 'both', 'unknown'].includes(into) ? 'yes' : 'no';
  const names = Object.keys(devices ?? {});
  const closes = stock && names.length > 0 ? names.filter((name) => stock[name] !== undefined) : undefined;
  const lacks = stock && [
    ...names.filter((name) => stock[name] === undefined),
    ...(lesion === undefined ? [] : unmeasuredFeeders(patientCase, lesion)),
  ];
  return {
    'bleeding.active': bleedingState(bleeding),
    'bleeding.stable': bleeding?.stable ?? 'unknown',
    'bleeding.when':
      bleeding?.now === 'yes'
        ? 'now'
        : bleeding?.within24h === 'yes'
          ? 'within 24 hours'
          : bleeding && bleedingState(bleeding) === 'unknown'
            ? 'at a time not stated'
            : undefined,
    'bleeding.airway': goes('airway'),
    'bleeding.chest': goes('chest'),
    'stock.closes': closes?.length,
    'stock.closes_names': closes,
    'stock.lacks': lacks?.length,
    'stock.lacks_names': lacks,
  };
}

function patientFacts({ case: patientCase, rules, baseline, shunt, shuntAfter }: PlanInput): Facts {
  const { patient, blood, circulation, lesion } = patientCase;
  const score = curacao(patientCase, rules);
  const pressure = judgePressure(circulation, baseline === 'after' ? shuntAfter : shunt, rules);
  const unanswered = unansweredBasics(patientCase, rules);
  const listed = (...words: string[]): string[] => patient.history.filter((word) => words.includes(word));
  return {
    'patient.age': patient.ageYears,
    'patient.sex': stated(patient.sex),
    'patient.weight': patient.weightKg,
    'patient.anticoagulated': stated(patient.anticoagulated),
    'patient.history': patient.history,
    'patient.allergies': patient.allergies,
    'patient.egfr': patient.egfrMlMin173,
    'patient.fev1_percent': patient.spirometry.fev1Percent,
    'patient.dlco_percent': patient.spirometry.dlcoPercent,
    'patient.haemoglobin': blood.haemoglobinGDl,
    'patient.haematocrit':
      blood.haematocritFraction === undefined ? undefined : 100 * blood.haematocritFraction,
    'curacao.score': score.score,
    'curacao.open': score.open,
    'curacao.answered':
      score.open === 0 ? 'every criterion answered' : `${score.open} of 4 criteria not answered`,
    'curacao.reading': score.reading,
    ...bodyFacts(patientCase, rules),
    'patient.gestation':
      patient.gestationWeeks === undefined ? 'weeks not given' : `${fixed(patient.gestationWeeks, 0)} weeks`,
    'patient.blood_group':
      patient.bloodGroup === undefined ? 'not known' : `${patient.bloodGroup} (unverified)`,
    'lesion.other_side': lesion.side && (lesion.side === 'left' ? 'right' : 'left'),
    'patient.anticoagulant': anticoagulantText(patient),
    'blood.ferritin': blood.ferritinUgL,
    'blood.transferrin_saturation':
      blood.transferrinSaturationFraction === undefined
        ? undefined
        : 100 * blood.transferrinSaturationFraction,
    'history.bleeding': listed('haemoptysis', 'haemothorax'),
    'history.brain': listed('stroke', 'tia', 'brain-abscess'),
    'history.pressure': listed('pulmonary-hypertension', 'heart-failure', 'liver-avm'),
    'case.states_differ': visitsOf(patientCase).findings.some(({ level }) => level === 'stop') ? 'yes' : 'no',
    'case.unanswered': unanswered.length,
    'case.unanswered_names': unanswered,
    'circulation.mean_pa': circulation.meanPaPressureMmHg,
    'circulation.wedge': circulation.wedgePressureMmHg,
    'circulation.resistance': pressure?.resistanceWu,
    'circulation.bed_resistance': pressure?.bedResistanceWu,
    'circulation.pressure': pressure?.reading,
    'circulation.class': pressure?.class,
    'circulation.pressure_text': pressure?.text,
  };
}

/** Feeding arteries that the case names but that were not measured. */
function unmeasuredFeeders(patientCase: Case, lesion: LesionMeasure): string[] {
  const measured = new Set(lesion.vessels.map((vessel) => vessel.name));
  return (listedStructures(patientCase) ?? [])
    .filter((part) => part.role === 'feeder' && !measured.has(part.name))
    .map((part) => `${part.name} (not measured)`);
}

function lesionFacts({ case: patientCase, lesion, lesionKind }: PlanInput): Facts {
  if (lesion === undefined) return { 'lesion.kind': lesionKind };
  const feeders = lesion.vessels.filter((vessel) => vessel.role === 'feeder');
  const drains = lesion.vessels.filter((vessel) => vessel.role === 'drain');
  const missing = [
    ...feeders.filter((vessel) => vessel.landing === undefined).map((vessel) => vessel.name),
    ...unmeasuredFeeders(patientCase, lesion),
  ];
  const largest = (values: number[]): number | undefined =>
    values.length === 0 ? undefined : Math.max(...values);
  return {
    'lesion.kind': lesionKind,
    'lesion.feeders': feeders.length,
    'lesion.sac_volume': lesion.sac?.volumeMl,
    'lesion.largest_feeder': largest(
      feeders.map((vessel) => vessel.landing?.calibreMm ?? vessel.calibreMm.mean),
    ),
    'lesion.largest_drain': largest(drains.map((vessel) => vessel.calibreMm.mean)),
    'landing.missing': missing.length,
    'landing.missing_names': missing,
  };
}

function gasFacts({
  case: patientCase,
  baseline = 'before',
  shunt,
  shuntAfter,
  closure,
  lesion,
}: PlanInput): Facts {
  const percent = (fraction: number | undefined): number | undefined =>
    fraction === undefined ? undefined : 100 * fraction;
  const feeders = (lesion?.vessels ?? [])
    .filter((vessel) => vessel.role === 'feeder')
    .map((vessel) => vessel.name);
  const all = closure?.find(
    ({ closed }) => closed !== 'lobe' && feeders.length > 0 && feeders.every((name) => closed.includes(name)),
  );
  const headline = baseline === 'after' ? shuntAfter : shunt;
  const air = visitsOf(patientCase).samples.find(
    (sample) =>
      sample.when === baseline &&
      sample.site === 'arterial' &&
      sample.so2Fraction !== undefined &&
      isOnAir(sample),
  );
  return {
    'shunt.percent': percent(headline?.fraction),
    'shunt.after_percent': percent(shuntAfter?.fraction),
    'shunt.words': shuntWords(headline),
    'shunt.after_words': shuntWords(shuntAfter),
    'shunt.room_air_saturation': percent(air?.so2Fraction),
    'patient.usual_saturation': percent(patientCase.patient.oximetry?.lyingFraction ?? air?.so2Fraction),
    'closure.shunt_words':
      all?.shunt_fraction === undefined
        ? undefined
        : `${all.shunt_fraction_is === 'at-least' ? 'at least ' : ''}${fixed(100 * all.shunt_fraction, 1)} %`,
    'closure.mean_pa': all?.mean_pa_pressure_mmhg,
  };
}

/** `31.0 %`, or a statement that the shunt cannot be distinguished from no shunt. */
function shuntWords(shunt: Result['shunt']): string | undefined {
  if (shunt?.fraction === undefined) return undefined;
  return shunt.upper_limit === undefined
    ? `${fixed(100 * shunt.fraction, 1)} %`
    : `cannot be told from none (at most ${fixed(100 * shunt.upper_limit, 1)} %)`;
}

/** Counts over the feeders that have a calibre; all absent without a device plan or a shelf. */
function deviceFacts({ case: patientCase, devices }: PlanInput): Facts {
  const withShelf = patientCase.shelf !== undefined;
  const base: Facts = { 'devices.shelf': withShelf ? 'yes' : 'no' };
  if (devices === undefined || !withShelf) return base;
  const sized = Object.entries(devices).filter(([, device]) => device.window_mm !== undefined);
  const none = sized.filter(([, device]) => device.code === undefined).map(([name]) => name);
  const chosen = sized.filter(([, device]) => device.code !== undefined);
  const waiting = chosen.filter(([, device]) => device.on_shelf !== true).map(([name]) => name);
  const borderline = sized.filter(([, device]) => device.borderline).map(([name]) => name);
  const unsized = Object.keys(devices).length - sized.length;
  const lumens = chosen.flatMap(([, device]) => device.needs_lumen_mm ?? []);
  const readyBy = readyByDate(devices);
  const late =
    readyBy !== undefined && patientCase.planned.date !== undefined
      ? readyBy > patientCase.planned.date
      : undefined;
  return {
    ...base,
    'devices.feeders': Object.keys(devices).length,
    'devices.ready': chosen.length - waiting.length,
    'devices.unready': none.length + waiting.length + unsized,
    'devices.none': none.length,
    'devices.none_names': none,
    'devices.waiting': waiting.length,
    'devices.waiting_names': waiting,
    'devices.borderline': borderline.length,
    'devices.borderline_names': borderline,
    'devices.ready_by': readyBy,
    'devices.late': late === undefined ? undefined : late ? 'yes' : 'no',
    'devices.lumen': lumens.length === 0 ? undefined : Math.max(...lumens),
  };
}

/** The date by which every feeder has its device; undefined if one has no device or no date. */
export function readyByDate(devices: Result['devices']): string | undefined {
  const dates = Object.values(devices).map((device) => device.ready_by);
  return dates.includes(undefined) ? undefined : dates.sort().at(-1);
}
