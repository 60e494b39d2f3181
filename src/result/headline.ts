import type { Result, Shunt } from './result.generated.js';

/** The shunt that closure, devices and every summary depend on: that of the visit `baseline`. */
export const headlineShunt = (
  result: Pick<Result, 'baseline' | 'shunt' | 'shunt_after'>,
): Shunt | undefined => (result.baseline === 'after' ? result.shunt_after : result.shunt);
