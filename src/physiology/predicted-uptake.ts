import type { Patient } from '../case/case.js';
import { CONSTANTS } from '../reference/constants.js';
import { bodySurfaceM2 } from './body-surface.js';

/** Resting oxygen uptake predicted by a formula, with its error. */
export interface PredictedUptake {
  mlMin: number;
  intervalMlMin: [number, number];
}

const c = CONSTANTS;

/**
 * Resting oxygen uptake by age, sex and body size, without heart rate; never a measurement.
 *
 * Formula   157.3·surface + 10.0 (man) − 10.5·ln(age) + 4.8; half of the man's term if the sex is not stated
 * Source    Eur Heart J 1995;16:698 [bergstra-1995]
 * Units     age years, surface m2, uptake mL/min; interval plus and minus 30 % (common practice, no source: more than
 *           25 % off in 25 to 82 % of 691 patients, by formula)
 * Absent    in pregnancy, under one year of age, and without age, height or weight: `absentBecause`
 * Checked   tests/check-values/body-size.csv
 * @example  predictedUptake({ ageYears: 40, sex: 'male', heightCm: 180, weightKg: 72 }).uptake.mlMin   // about 277
 */
export function predictedUptake(
  patient: Pick<Patient, 'ageYears' | 'sex' | 'heightCm' | 'weightKg' | 'pregnant'>,
): { uptake: PredictedUptake } | { absentBecause: string } {
  const { ageYears, sex } = patient;
  if (patient.pregnant === 'yes') return { absentBecause: 'no formula of oxygen uptake holds in pregnancy' };
  if (ageYears === undefined) return { absentBecause: 'the age is not given' };
  if (ageYears < c.predictedFromYears.value)
    return { absentBecause: 'no formula of oxygen uptake is used under one year of age' };
  const surface = bodySurfaceM2(patient);
  if (surface === undefined) return { absentBecause: 'height and weight are not both given' };
  const man = c.uptakeManMlMin.value * (sex === 'male' ? 1 : sex === 'female' ? 0 : 0.5);
  const mlMin =
    c.uptakePerSurface.value * surface +
    man -
    c.uptakeLogAge.value * Math.log(ageYears) +
    c.uptakeOffsetMlMin.value;
  const spread = c.uptakeSpreadFraction.value;
  return { uptake: { mlMin, intervalMlMin: [mlMin * (1 - spread), mlMin * (1 + spread)] } };
}
