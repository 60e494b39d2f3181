import type { Case, GasSample, Patient } from '../case/case.js';
import type { Fraction, GPerDl, LPerMin, MlPerDl } from '../foundation/unit-types.js';

/** The input of a shunt: the samples of one visit and their blood. */
export interface ShuntInput {
  samples: readonly GasSample[];
  when: 'before' | 'after';
  haemoglobinGDl?: GPerDl;
  haematocritFraction?: Fraction;
  /** Given by the user instead of the default; a mixed-venous sample takes precedence. */
  avDifferenceMlDl?: MlPerDl;
  cardiacOutputLMin?: LPerMin;
  cardiacOutputMethod?: Case['circulation']['cardiacOutputMethod'];
  oxygenUptakeMlMin?: number;
  oxygenUptakeMethod?: Case['circulation']['oxygenUptakeMethod'];
  /** Age, sex and size, for predicted values. */
  patient?: Pick<Patient, 'ageYears' | 'sex' | 'heightCm' | 'weightKg' | 'pregnant'>;
  /** Pulse oximetry on air of this visit. */
  oximetry?: Patient['oximetry'];
}
