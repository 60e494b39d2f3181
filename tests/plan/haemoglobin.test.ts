import { describe, expect, it } from 'vitest';
import type { Patient } from '../../src/case/case.js';
import { haemoglobinReading } from '../../src/plan/haemoglobin.js';
import { RULES } from './make.js';

const read = (patient: Partial<Patient>, haemoglobinGDl?: number) =>
  haemoglobinReading(
    { patient: { history: [], hht: {}, spirometry: {}, ...patient }, blood: { haemoglobinGDl } },
    RULES,
  );

// Low limits: WHO guideline on haemoglobin cutoffs, 2024 (as quoted in a secondary page). High limits: from memory.
const LIMITS: [string, Partial<Patient>, number, number | undefined][] = [
  ['6 months', { ageYears: 0.5 }, 10.5, undefined],
  ['23 months', { ageYears: 1.99 }, 10.5, undefined],
  ['2 years', { ageYears: 2 }, 11, undefined],
  ['just under 5', { ageYears: 4.99 }, 11, undefined],
  ['5 years', { ageYears: 5 }, 11.5, undefined],
  ['6 years', { ageYears: 6 }, 11.5, 15.5],
  ['just under 12', { ageYears: 11.99 }, 11.5, 15.5],
  ['girl of 12', { ageYears: 12, sex: 'female' }, 12, 16],
  ['boy of 12', { ageYears: 12, sex: 'male' }, 12, 16.5],
  ['just under 15', { ageYears: 14.99, sex: 'male' }, 12, 16.5],
  ['woman', { ageYears: 15, sex: 'female' }, 12, 16],
  ['man', { ageYears: 15, sex: 'male' }, 13, 16.5],
  ['sex not stated', { ageYears: 40 }, 13, 16],
  ['week 13', { ageYears: 30, sex: 'female', pregnant: 'yes', gestationWeeks: 13.9 }, 11, 16],
  ['week 14', { ageYears: 30, sex: 'female', pregnant: 'yes', gestationWeeks: 14 }, 10.5, 16],
  ['week 27', { ageYears: 30, sex: 'female', pregnant: 'yes', gestationWeeks: 27.9 }, 10.5, 16],
  ['week 28', { ageYears: 30, sex: 'female', pregnant: 'yes', gestationWeeks: 28 }, 11, 16],
  ['weeks not stated', { ageYears: 30, sex: 'female', pregnant: 'yes' }, 11, 16],
];

describe('haemoglobin limits for age, sex and pregnancy', () => {
  it.each(LIMITS)('%s: %j low %d, high %s', (_, patient, low, high) => {
    expect(read(patient)).toMatchObject({ lowGDl: low });
    expect(read(patient)?.highGDl).toBe(high);
    expect(read(patient, low - 0.01)?.reading).toBe('low');
    expect(read(patient, low)?.reading).toBe(high === undefined ? 'normal' : 'low normal');
    if (high === undefined) return;
    expect(read(patient, high)?.reading).toBe('high normal');
    expect(read(patient, high + 0.01)?.reading).toBe('high');
    const middle = (low + high) / 2;
    expect(read(patient, middle - 0.01)?.reading).toBe('low normal');
    expect(read(patient, middle)?.reading).toBe('high normal');
  });

  it('no limits under six months or without an age; no reading without a haemoglobin', () => {
    expect(read({ ageYears: 0.49 }, 14)).toBeUndefined();
    expect(read({ sex: 'male' }, 14)).toBeUndefined();
    expect(read({ ageYears: 40, sex: 'male' })?.reading).toBeUndefined();
  });
});
