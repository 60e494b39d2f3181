import type { Case, GasSample, Patient } from '../case/case.js';
import type { Fraction, GPerDl, LPerMin, MlPerDl } from '../foundation/unit-types.js';

/** What a shunt is worked from: the samples of one visit and the blood they were drawn from. */
export interface ShuntInput {
  samples: readonly GasSample[];
  when: 'before' | 'after';
  haemoglobinGDl?: GPerDl;
  haematocritFraction?: Fraction;
  /** Given by the user in place of the default; a mixed-venous sample goes before it. */
  avDifferenceMlDl?: MlPerDl;
  cardiacOutputLMin?: LPerMin;
  cardiacOutputMethod?: Case['circulation']['cardiacOutputMethod'];
  oxygenUptakeMlMin?: number;
  oxygenUptakeMethod?: Case['circulation']['oxygenUptakeMethod'];
  /** Age, sex and size, for what is predicted by them. */
  patient?: Pick<Patient, 'ageYears' | 'sex' | 'heightCm' | 'weightKg' | 'pregnant'>;
  /** Pulse oximetry on air that belongs to this visit. */
  oximetry?: Patient['oximetry'];
}
