import type { Patient } from '../case/case.js';
import { convert } from '../foundation/units.js';
import { absoluteFiltration, bodySurfaceM2 } from '../physiology/body-surface.js';
import { numberOf, type Rules } from '../rules/rule.js';

/** One named limit of the volume of iodinated contrast, mL. */
export interface ContrastLimit {
  name: string;
  limitMl: number;
  /** Id of the rule that gives its number and source. */
  rule: string;
}

export interface ContrastLimits {
  limits: ContrastLimit[];
  /** The filtration used for the limits, mL/min: the smaller of the indexed and the absolute value. */
  filtrationMlMin?: number;
  /** Values that could not be used and why, as clauses. */
  notes: string[];
}

/**
 * The limits of contrast volume that the known values allow. They differ threefold and come from injections into the
 * coronary arteries: the smallest is a caution, none is a prohibition.
 *
 * Formulas  5 · weight / creatinine, at most 300 mL (Cigarroa 1989), from 18 years; grams of iodine below the filtration (Nyman
 *           2008); volume / filtration below 1.78 (Nie 2021), 3.0 and 1.1 g (ESUR 10.0, first pass), below 3.7 (Laskey
 *           2007); a child at most 5 mL/kg (common practice, no source)
 * Size      the filtration is the smaller of eGFR per 1.73 m2 and eGFR · surface / 1.73 [kdigo-2012]
 * Pregnancy  no limit by eGFR: its formulas do not apply
 * Units     eGFR mL/min/1.73m2, weight kg, height cm, creatinine umol/L
 * Checked   tests/check-values/contrast.csv, tests/plan/contrast.test.ts
 */
export function contrastLimits(
  patient: Pick<
    Patient,
    'ageYears' | 'weightKg' | 'heightCm' | 'pregnant' | 'egfrMlMin173' | 'creatinineUmolL'
  >,
  rules: Pick<Rules, 'byId'>,
): ContrastLimits {
  const notes: string[] = [];
  const limits: ContrastLimit[] = [];
  const { ageYears, weightKg, egfrMlMin173: egfr } = patient;
  const add = (name: string, limitMl: number, rule: string) => limits.push({ name, limitMl, rule });
  const adultFrom = numberOf(rules, 'contrast-creatinine-from-age');
  const isChild = ageYears !== undefined && ageYears < adultFrom;
  if (isChild && weightKg !== undefined)
    add(
      'child by weight',
      numberOf(rules, 'contrast-child-per-weight') * weightKg,
      'contrast-child-per-weight',
    );
  if (isChild && weightKg === undefined)
    notes.push('no limit by weight: the weight of the child is not given');
  limits.push(...creatinineLimit(patient, rules, notes));
  if (patient.pregnant === 'yes') {
    if (egfr !== undefined) notes.push('no limit by eGFR: its formulas do not hold in pregnancy');
    return { limits, notes };
  }
  if (egfr === undefined || egfr <= 0) return { limits, notes };
  const surface = bodySurfaceM2(patient);
  if (surface === undefined)
    notes.push(
      'eGFR per 1.73 m2 taken as it is: without height and weight there is no absolute one, which is smaller in a small patient',
    );
  const filtration = surface === undefined ? egfr : Math.min(egfr, absoluteFiltration(egfr, surface));
  const mlPerGram = 1000 / numberOf(rules, 'contrast-iodine');
  add('Nyman 2008', numberOf(rules, 'contrast-nyman') * filtration * mlPerGram, 'contrast-nyman');
  add('Nie 2021', numberOf(rules, 'contrast-2021') * filtration, 'contrast-2021');
  add('Laskey 2007', numberOf(rules, 'contrast-laskey') * filtration, 'contrast-laskey');
  add('ESUR 10.0', numberOf(rules, 'contrast-esur') * filtration, 'contrast-esur');
  add(
    'ESUR 10.0 by iodine',
    numberOf(rules, 'contrast-esur-iodine') * filtration * mlPerGram,
    'contrast-esur-iodine',
  );
  return { limits, filtrationMlMin: filtration, notes };
}

/** The formula by weight and creatinine, for adults only. */
function creatinineLimit(
  patient: Parameters<typeof contrastLimits>[0],
  rules: Pick<Rules, 'byId'>,
  notes: string[],
): ContrastLimit[] {
  const { ageYears, weightKg, creatinineUmolL } = patient;
  if (creatinineUmolL === undefined || creatinineUmolL <= 0) return [];
  const adultFrom = numberOf(rules, 'contrast-creatinine-from-age');
  if (ageYears === undefined || ageYears < adultFrom) {
    notes.push(`no limit by creatinine: it applies from ${adultFrom} years`);
    return [];
  }
  if (weightKg === undefined) {
    notes.push('no limit by creatinine: the weight is not given');
    return [];
  }
  if (patient.pregnant === 'yes') notes.push('creatinine falls in pregnancy, so its limit reads too high');
  const creatinineMgDl = convert(creatinineUmolL, 'creatinine', 'umol/L', 'mg/dL');
  const volume = (numberOf(rules, 'contrast-cigarroa-factor') * weightKg) / creatinineMgDl;
  const limitMl = Math.min(volume, numberOf(rules, 'contrast-cigarroa-cap'));
  return [{ name: 'Cigarroa 1989', limitMl, rule: 'contrast-cigarroa-factor' }];
}
