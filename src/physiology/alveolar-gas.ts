import type { Fraction, MmHg } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';

export interface AlveolarInput {
  fio2: Fraction;
  barometricMmHg: MmHg;
  waterVapourMmHg: MmHg;
  paCO2MmHg: MmHg;
  /** Default 0.8. Has no effect at FiO2 1. */
  respiratoryQuotient?: number;
}

/**
 * Alveolar oxygen pressure, full alveolar gas equation.
 *
 * Formula   PAO2 = FiO2·(PB − PH2O) − PaCO2·(FiO2 + (1 − FiO2)/R)
 * Source    Fenn, Rahn, Otis 1946 [fenn-1946, from memory]. The short form with PaCO2/R is wrong at FiO2 1
 *           (10 mmHg low at PaCO2 40) and is not used.
 * Units     mmHg, 0..1
 * Checked   tests/check-values/alveolar-gas.csv
 * @example  alveolarPo2({ fio2: 1, barometricMmHg: 760, waterVapourMmHg: 47, paCO2MmHg: 40 })   // 673
 */
export function alveolarPo2(input: AlveolarInput): MmHg {
  const { fio2, barometricMmHg, waterVapourMmHg, paCO2MmHg } = input;
  const r = input.respiratoryQuotient ?? CONSTANTS.respiratoryQuotient.value;
  return fio2 * (barometricMmHg - waterVapourMmHg) - paCO2MmHg * (fio2 + (1 - fio2) / r);
}
