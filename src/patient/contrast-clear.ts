import { addDays } from '../foundation/iso-date.js';

/**
 * The first day from `start` on which the contrast of a session plus that of all sessions within the window before it is within the limit.
 */
export function contrastClear(
  start: string,
  before: readonly { on: string; most: number }[],
  most: number,
  limitMl: number | undefined,
  windowDays: number,
): string {
  let on = start;
  for (;;) {
    const within = before.filter((one) => addDays(one.on, windowDays) > on);
    const sum = within.reduce((total, one) => total + one.most, most);
    if (limitMl === undefined || sum <= limitMl || within.length === 0) return on;
    on = addDays(within[0].on, windowDays);
  }
}
