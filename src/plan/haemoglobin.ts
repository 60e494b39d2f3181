import type { Case } from '../case/case.js';
import { numberOf, type Rules } from '../rules/rule.js';

/** A haemoglobin relative to the limits for age, sex and pregnancy. */
export interface HaemoglobinReading {
  /** The group, as text: `women from 15 years`. */
  group: string;
  lowGDl: number;
  /** Absent under six years of age, for which there is no limit. */
  highGDl?: number;
  /** `low normal`: in the lower half between the two limits; absent without a haemoglobin or without an upper limit. */
  reading?: 'low' | 'low normal' | 'high normal' | 'normal' | 'high';
}

/**
 * The limits of haemoglobin for age, sex and pregnancy, and where this patient's value is. A value below the lower limit is low, one above
 * the upper limit is high. If the sex is not stated, the man's lower and the woman's upper limit count, so that neither is missed; in
 * pregnancy of unknown gestation, the limit of the first and third trimester.
 *
 * Source    rules `haemoglobin-low-*` (WHO 2024) and `haemoglobin-high-*` (from memory)
 * Units     g/dL, years, weeks
 * Absent undefined under six months of age and if the age is not stated
 * Checked   tests/plan/haemoglobin.test.ts
 */
export function haemoglobinReading(
  { patient, blood }: Pick<Case, 'patient' | 'blood'>,
  rules: Pick<Rules, 'byId'>,
): HaemoglobinReading | undefined {
  const limits = limitsOf(patient, rules);
  if (limits === undefined) return undefined;
  const lowGDl = numberOf(rules, limits.low);
  const highGDl = limits.high === undefined ? undefined : numberOf(rules, limits.high);
  const base = { group: limits.group, lowGDl, ...(highGDl !== undefined && { highGDl }) };
  const value = blood.haemoglobinGDl;
  if (value === undefined) return base;
  if (value < lowGDl) return { ...base, reading: 'low' };
  if (highGDl === undefined) return { ...base, reading: 'normal' };
  if (value > highGDl) return { ...base, reading: 'high' };
  return { ...base, reading: value < (lowGDl + highGDl) / 2 ? 'low normal' : 'high normal' };
}

interface Limits {
  group: string;
  /** Ids of number rules. */
  low: string;
  high?: string;
}

function limitsOf(patient: Case['patient'], rules: Pick<Rules, 'byId'>): Limits | undefined {
  const { ageYears, sex, gestationWeeks } = patient;
  if (patient.pregnant === 'yes') {
    const second = numberOf(rules, 'second-trimester-from');
    const third = numberOf(rules, 'third-trimester-from');
    const isSecond = gestationWeeks !== undefined && gestationWeeks >= second && gestationWeeks < third;
    const group = isSecond
      ? 'the second trimester'
      : gestationWeeks === undefined
        ? 'pregnancy, weeks not stated'
        : `the ${gestationWeeks < second ? 'first' : 'third'} trimester`;
    const low = isSecond ? 'haemoglobin-low-second-trimester' : 'haemoglobin-low-pregnant';
    return { group, low, high: 'haemoglobin-high-woman' };
  }
  if (ageYears === undefined || ageYears < 0.5) return undefined;
  const bySex = sex === 'male' ? 'haemoglobin-high-man' : 'haemoglobin-high-woman';
  if (ageYears < 2) return { group: '6 to 23 months', low: 'haemoglobin-low-infant' };
  if (ageYears < 5) return { group: '2 to 4 years', low: 'haemoglobin-low-small-child' };
  if (ageYears < 12) {
    const high = ageYears < 6 ? undefined : 'haemoglobin-high-child';
    return { group: '5 to 11 years', low: 'haemoglobin-low-child', ...(high && { high }) };
  }
  if (ageYears < 15) return { group: '12 to 14 years', low: 'haemoglobin-low-adolescent', high: bySex };
  if (sex === 'female') return { group: 'women from 15 years', low: 'haemoglobin-low-woman', high: bySex };
  if (sex === 'male') return { group: 'men from 15 years', low: 'haemoglobin-low-man', high: bySex };
  return { group: '15 years and over, sex not stated', low: 'haemoglobin-low-man', high: bySex };
}
