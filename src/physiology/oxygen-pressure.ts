import type { Fraction, MmHg } from '../foundation/unit-types.js';
import { type BloodConditions, po2AtConditions } from './blood-conditions.js';

/**
 * Oxygen pressure at which haemoglobin has the saturation `so2Fraction`: the exact inverse of Severinghaus Eq 1.
 *
 * Formula   Q = 11700 / (1/S − 1);   P = ³√(Q + √(Q² + 50³)) + ³√(Q − √(Q² + 50³)), signed cube roots
 * Source    Ellis, J Appl Physiol 1989;67:902   [ellis-1989, secondary]. The author's own approximate inverse
 *           (Eq 2) is off by 4 mmHg at 99 % and is not used.
 * Units     0..1 (below 1); result mmHg
 * Valid     0 <= S < 1; at 1 the curve has no finite inverse, so this throws RangeError
 * Note      for Q below about 1 the two roots nearly cancel; the second is then written as −50 / first root
 * Checked   tests/check-values/dissociation.csv; round trip in tests/physiology/dissociation.test.ts
 * @example  po2FromSaturation(0.5)   // 26.857
 */
export function po2FromSaturation(so2Fraction: Fraction, conditions: BloodConditions = {}): MmHg {
  if (!(so2Fraction >= 0 && so2Fraction < 1)) {
    throw new RangeError(`saturation is ${so2Fraction}; it must be from 0 to below 1`);
  }
  if (so2Fraction === 0) return 0;
  const q = 11700 / (1 / so2Fraction - 1);
  const first = Math.cbrt(q + Math.sqrt(q * q + 125000));
  return po2AtConditions(first - 50 / first, conditions);
}
