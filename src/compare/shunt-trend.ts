import { fixed } from '../foundation/number-text.js';
import { percent } from '../report/words.js';
import type { Result, Shunt } from '../result/result.generated.js';
import { judgeChange, otherMethods } from './numbers.js';

/** The shunt that counts on each scan, in one sentence, or why the two cannot be compared. */
export function shuntTrendText(old: Result, now: Result): string {
  const [a, b] = [counting(old), counting(now)];
  const known = [
    a && `${shuntText(a.shunt)} ${a.visit} in the old plan`,
    b && `${shuntText(b.shunt)} ${b.visit} in the new one`,
  ].filter((text) => text !== undefined);
  if (known.length === 0) return 'Neither plan has a shunt.';
  const both = `Share of the output: ${known.join(', ')}`;
  if (!a || !b) return `${both}; the ${a ? 'new' : 'old'} plan has none.`;
  const because = otherMethods(a.shunt, b.shunt);
  if (because) return `${both}. No trend: ${because}.`;
  const { exceeds } = judgeChange(a.fraction, b.fraction, a.shunt.interval, b.shunt.interval);
  const weight = exceeds === undefined ? '' : exceeds ? ', beyond both intervals' : ', inside both intervals';
  const points = percent(b.fraction - a.fraction);
  const change =
    points === 0 ? 'no change' : `${fixed(Math.abs(points), 1)} points ${points < 0 ? 'lower' : 'higher'}`;
  return `${both}: ${change}${weight}.`;
}

interface Counting {
  shunt: Shunt;
  fraction: number;
  visit: string;
}

function counting(result: Result): Counting | undefined {
  for (const [shunt, visit] of [
    [result.shunt_after, 'after treatment'],
    [result.shunt, 'before treatment'],
  ] as const)
    if (shunt?.fraction !== undefined) return { shunt, fraction: shunt.fraction, visit };
  return undefined;
}

function shuntText({ fraction = 0, interval }: Shunt): string {
  const range = interval ? ` (${fixed(percent(interval[0]), 1)} to ${fixed(percent(interval[1]), 1)})` : '';
  return `${fixed(percent(fraction), 1)} %${range}`;
}
