import { describe, expect, it } from 'vitest';
import { limitsInForce } from '../../src/patient/session-limits.js';
import { closureCaseOf, RULES } from '../physiology/make.js';

const limitsOf = (contrastLimitMl?: number) => {
  const base = closureCaseOf();
  const shared = {
    patient: { ...base.patient, ageYears: 41, weightKg: 64, heightCm: 166, egfrMlMin173: 25 },
    planned: { approach: 'auto', ...(contrastLimitMl !== undefined && { session: { contrastLimitMl } }) },
  };
  return limitsInForce(shared as Parameters<typeof limitsInForce>[0], false, RULES);
};

describe('the contrast limit', () => {
  it('is the patient’s in whole mL, rounded down, where that is below the hospital’s; if unstated it does not bind', () => {
    const own = limitsOf().patientContrastMl!;
    expect(Number.isInteger(own)).toBe(true);
    expect(limitsOf().contrastMl).toBeUndefined();
    expect(limitsOf(own + 1)).toMatchObject({ contrastMl: own, contrastOf: 'patient' });
    expect(limitsOf(own)).toMatchObject({ contrastMl: own, contrastOf: 'hospital' });
    expect(limitsOf(own - 1)).toMatchObject({ contrastMl: own - 1, contrastOf: 'hospital' });
  });
});
