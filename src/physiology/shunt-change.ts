import type { Shunt } from '../result/result.generated.js';

export interface ShuntChange {
  /** After minus before, in fractions of cardiac output; negative is an improvement. */
  change: number;
  /** 95 %. */
  interval: [number, number];
  /** True if the interval excludes zero. */
  isClear: boolean;
}

/**
 * Change of the shunt from before to after treatment.
 *
 * Formula   after − before; each side of the interval from the two intervals, for independent errors:
 *           low = change − √((after − afterLow)² + (beforeHigh − before)²), high likewise
 * Assumes   independent errors. An assumed arterio-venous difference has the same error on both visits, so the interval is then
 *           conservative
 * Absent    (undefined) if either fraction or interval is missing, or the two were computed by different methods
 */
export function shuntChange(before: Shunt | undefined, after: Shunt | undefined): ShuntChange | undefined {
  if (before?.fraction === undefined || after?.fraction === undefined) return undefined;
  if (!before.interval || !after.interval || trendRefusal(before, after) !== undefined) return undefined;
  const change = after.fraction - before.fraction;
  const down = Math.hypot(after.fraction - after.interval[0], before.interval[1] - before.fraction);
  const up = Math.hypot(after.interval[1] - after.fraction, before.fraction - before.interval[0]);
  const interval: [number, number] = [change - down, change + up];
  return { change, interval, isClear: interval[0] > 0 || interval[1] < 0 };
}

/** Why the two shunts give no trend: different methods were used. Undefined if the method is the same. */
export function trendRefusal(before: Shunt | undefined, after: Shunt | undefined): string | undefined {
  if (before?.fraction === undefined || after?.fraction === undefined) return undefined;
  const words = ({ method, av_difference_basis: basis }: Shunt): string =>
    `${METHODS[method]}${basis === undefined ? '' : `, arterio-venous difference ${BASES[basis]}`}`;
  const [was, is] = [words(before), words(after)];
  if (was === is) return undefined;
  return `Before the treatment the shunt was found by ${was}, after it by ${is}: different methods give no trend. Repeat the sample in the same way.`;
}

const METHODS: Record<Shunt['method'], string> = {
  content: 'oxygen contents on 100 % oxygen',
  dissolved: 'dissolved oxygen alone',
  'room-air': 'an estimate on less than 100 % oxygen',
};

const BASES: Record<NonNullable<Shunt['av_difference_basis']>, string> = {
  'mixed-venous': 'measured in mixed-venous blood',
  fick: 'by Fick',
  assumed: 'assumed',
};
