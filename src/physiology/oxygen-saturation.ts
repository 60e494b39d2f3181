import { cube } from '../foundation/power.js';
import type { Fraction, MmHg } from '../foundation/unit-types.js';
import { type BloodConditions, standardPo2 } from './blood-conditions.js';

/**
 * Saturation of haemoglobin with oxygen from the oxygen pressure.
 *
 * Formula   S = 1 / (23400 / (P³ + 150·P) + 1),   P = PO2 at 37 °C and pH 7.40
 * Source    Severinghaus, J Appl Physiol 1979;46(3):599-602, Eq 1   [severinghaus-1979]
 * Units     mmHg; result 0..1, functional saturation
 * Valid     0 mmHg and up; published fit within 0.0055 of the standard curve. Above 100 mmHg it reads
 *           up to 0.55 points higher than its own table, so content differences on oxygen carry that error
 * Checked   tests/check-values/dissociation.csv
 * @example  saturationFromPo2(40)   // 0.7495
 */
export function saturationFromPo2(po2MmHg: MmHg, conditions: BloodConditions = {}): Fraction {
  if (!(po2MmHg >= 0)) throw new RangeError(`PO2 is ${po2MmHg} mmHg; it must be 0 or more`);
  const p = standardPo2(po2MmHg, conditions);
  return 1 / (23400 / (cube(p) + 150 * p) + 1);
}
