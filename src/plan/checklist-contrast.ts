import { numberOf, type Rules } from '../rules/rule.js';

/** One published limit of the volume of iodinated contrast, mL, under its name. */
export interface ContrastLimit {
  name: string;
  limitMl: number;
  /** Id of the rule that holds its number and source. */
  rule: string;
}

/**
 * The published limits of contrast volume that the known values allow. They differ threefold: the smallest is a
 * caution, none is a prohibition.
 *
 * Formulas  5 · weight / creatinine, at most 300 mL (Cigarroa 1989); grams of iodine below eGFR (Nyman 2008);
 *           volume / eGFR below 1.78 (2021), 3.0 (ESUR 10.0), volume / clearance below 3.7 (Laskey 2007)
 * Units     eGFR mL/min/1.73m2, taken for the absolute one and for the clearance; weight kg; creatinine mg/dL
 * Checked   tests/plan/checklist.test.ts
 */
export function contrastLimits(
  patient: { egfr?: number; weightKg?: number; creatinineMgDl?: number },
  rules: Rules,
): ContrastLimit[] {
  const limits: ContrastLimit[] = [];
  const { egfr, weightKg, creatinineMgDl } = patient;
  if (weightKg !== undefined && creatinineMgDl !== undefined && creatinineMgDl > 0) {
    const volume = (numberOf(rules, 'contrast-cigarroa-factor') * weightKg) / creatinineMgDl;
    const limitMl = Math.min(volume, numberOf(rules, 'contrast-cigarroa-cap'));
    limits.push({ name: 'Cigarroa 1989', limitMl, rule: 'contrast-cigarroa-factor' });
  }
  if (egfr === undefined || egfr <= 0) return limits;
  const mlPerGram = 1000 / numberOf(rules, 'contrast-iodine');
  limits.push({ name: 'Nyman 2008', limitMl: numberOf(rules, 'contrast-nyman') * egfr * mlPerGram, rule: 'contrast-nyman' });
  limits.push({ name: 'series of 2021', limitMl: numberOf(rules, 'contrast-2021') * egfr, rule: 'contrast-2021' });
  limits.push({ name: 'Laskey 2007', limitMl: numberOf(rules, 'contrast-laskey') * egfr, rule: 'contrast-laskey' });
  limits.push({ name: 'ESUR 10.0', limitMl: numberOf(rules, 'contrast-esur') * egfr, rule: 'contrast-esur' });
  const iodine = numberOf(rules, 'contrast-esur-iodine') * egfr * mlPerGram;
  limits.push({ name: 'ESUR 10.0 by iodine', limitMl: iodine, rule: 'contrast-esur-iodine' });
  return limits;
}
