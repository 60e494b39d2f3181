import type { Fraction } from '../foundation/unit-types.js';
import type { GasLimits } from './gas-limits.js';

/** The report on a shunt that cannot be distinguished from no shunt. */
export interface NearZero {
  fraction: 0;
  interval: [0, number];
  upperLimit: number;
  /** The unrounded result of the equation; below zero if arterial blood has more oxygen than end-capillary blood. */
  equationFraction: Fraction;
}

/**
 * A shunt that cannot be distinguished from no shunt within the errors of the sample: the equation gives zero or less, or at most a normal
 * shunt with a 95 % interval that reaches zero. Undefined if the shunt can be distinguished from none.
 *
 * Formula   upper limit = 97.5th percentile of the draws; if the equation gives less than zero, the draws are moved up until
 *           it gives zero, so that a chance error cannot make the limit lower than the errors allow
 * Units     0..1; `drawn` is the middle 95 % of the draws, not cut at zero
 * Checked   tests/physiology/simulated-patients.test.ts: patients with shunts from 0 up
 */
export function nearZero(
  equationFraction: Fraction,
  drawn: readonly [number, number],
  limits: Pick<GasLimits, 'normalShuntFraction'>,
): NearZero | undefined {
  const isNone = equationFraction <= 0;
  const reachesZero = drawn[0] <= 0 && equationFraction <= limits.normalShuntFraction;
  if (!isNone && !reachesZero) return undefined;
  const upperLimit = Math.min(1, drawn[1] - Math.min(0, equationFraction));
  return { fraction: 0, interval: [0, upperLimit], upperLimit, equationFraction };
}
