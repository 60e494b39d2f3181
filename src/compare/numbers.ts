import { intervalOf, unitOfKey } from '../result/interval-of.js';
import { headlineShunt } from '../result/headline.js';
import type { Result, Shunt } from '../result/result.generated.js';
import type { PathStep } from '../result/value-path.js';
import { numberWords } from './number-words.js';

export type Interval = [number, number];

/** One number of both results. */
export interface NumberChange {
  path: string;
  /** The name of the number, for documents. */
  what: string;
  unit: string;
  old?: number;
  new?: number;
  oldInterval?: Interval;
  newInterval?: Interval;
  change?: number;
  /** The 95 % half-width of the change, from the two intervals taken as independent. */
  combined?: number;
  /** Whether the change is larger than that; undefined if a result gives no interval for the number. */
  exceeds?: boolean;
  /** Why no change is given although both plans contain the number. */
  noTrendBecause?: string;
}

/**
 * Keys left out: samples along a vessel, places in the scan's own axes, check points of a print, hashes and sizes of files, and the
 * intervals themselves.
 */
const LEFT_OUT =
  /^(inputs|tool|profile|centreline_mm|point_mm|points_mm|centre_mm|end_mm|proposal|triangles|gauges|findings|checklist|cautions|sensitivity|intervals?|order_list|best_today|follow_up)$|_interval_|_range$/;

/**
 * Every number of the two results under its path, in the order of the old one, then those only in the new one. Entries of lists are
 * identified by name, closures by what is closed. The two errors are taken as independent and combined as the root of the sum of their
 * squares (JCGM 100:2008, 5.1.2), each half-width on the side towards the other value.
 */
export function compareNumbers(old: Result, now: Result): NumberChange[] {
  const before = new Map(numbersOf(old));
  const after = new Map(numbersOf(now));
  const paths = [...before.keys(), ...[...after.keys()].filter((path) => !before.has(path))];
  const rows = paths.map((path) => {
    const [a, b] = [before.get(path), after.get(path)];
    const { words, steps } = (a ?? b)!;
    const change: NumberChange = { path, what: numberWords(words), unit: unitOfKey(steps) };
    if (a) Object.assign(change, { old: a.value, ...(a.interval && { oldInterval: a.interval }) });
    if (b) Object.assign(change, { new: b.value, ...(b.interval && { newInterval: b.interval }) });
    const noTrendBecause = a && b && noTrend(path, old, now);
    if (noTrendBecause) change.noTrendBecause = noTrendBecause;
    else if (a && b) Object.assign(change, judgeChange(a.value, b.value, a.interval, b.interval));
    return change;
  });
  return [...headlineChange(old, now), ...rows];
}

/** The shunt that each plan depends on, if one of them was measured after treatment. */
function headlineChange(old: Result, now: Result): NumberChange[] {
  if (old.baseline !== 'after' && now.baseline !== 'after') return [];
  const [was, is] = [headlineShunt(old), headlineShunt(now)];
  if (was?.fraction === undefined || is?.fraction === undefined) return [];
  const noTrendBecause = otherMethods(was, is);
  return [
    {
      path: 'headline_shunt.fraction',
      what: 'shunt that the plan depends on',
      unit: '',
      old: was.fraction,
      new: is.fraction,
      ...(was.interval && { oldInterval: was.interval }),
      ...(is.interval && { newInterval: is.interval }),
      ...(noTrendBecause
        ? { noTrendBecause }
        : judgeChange(was.fraction, is.fraction, was.interval, is.interval)),
    },
  ];
}

/** Shunts by different methods give no trend, nor do values that depend on them. */
function noTrend(path: string, old: Result, now: Result): string | undefined {
  if (path.startsWith('closure.')) return otherMethods(headlineShunt(old), headlineShunt(now));
  const visit = (['shunt', 'shunt_after'] as const).find((one) => path.startsWith(`${one}.`));
  return visit && path.endsWith('fraction') ? otherMethods(old[visit], now[visit]) : undefined;
}

/** A statement if two shunts were computed by different methods, else undefined. */
export function otherMethods(old: Shunt | undefined, now: Shunt | undefined): string | undefined {
  if (old === undefined || now === undefined || old.method === now.method) return undefined;
  return `the shunts were found by different methods (${old.method} and ${now.method})`;
}

/** The change between two estimates and whether it is beyond both intervals. */
export function judgeChange(
  old: number,
  now: number,
  oldInterval?: Interval,
  newInterval?: Interval,
): Pick<NumberChange, 'change' | 'combined' | 'exceeds'> {
  const change = now - old;
  if (oldInterval === undefined || newInterval === undefined) return { change };
  const halves =
    change >= 0 ? [oldInterval[1] - old, now - newInterval[0]] : [old - oldInterval[0], newInterval[1] - now];
  const combined = Math.hypot(Math.max(0, halves[0]), Math.max(0, halves[1]));
  return { change, combined, exceeds: Math.abs(change) > combined };
}

interface Leaf {
  value: number;
  steps: PathStep[];
  /** The labels that names are made from: entries of lists by name. */
  words: string[];
  interval?: Interval;
}

/** Path and value of every number that is compared. */
function* numbersOf(result: Result): Generator<[string, Leaf]> {
  const root: unknown = result;
  function* walk(
    value: unknown,
    steps: PathStep[],
    labels: string[],
    words: string[],
  ): Generator<[string, Leaf]> {
    if (typeof value === 'number') {
      const interval = intervalOf(root, steps);
      yield [labels.join('.'), { value, steps, words, ...(interval && { interval }) }];
    } else if (Array.isArray(value)) {
      // the far point of a check point is a place; a landing zone's to_mm is a number
      if (steps.at(-1) === 'to_mm') return;
      for (const [i, item] of value.entries()) {
        const label = labelOf(item, i);
        yield* walk(item, [...steps, i], [...labels, label], [...words, betweenOf(item) ?? label]);
      }
    } else if (typeof value === 'object' && value !== null) {
      for (const [key, item] of Object.entries(value))
        if (!LEFT_OUT.test(key)) yield* walk(item, [...steps, key], [...labels, key], [...words, key]);
    }
  }
  yield* walk(root, [], [], []);
}

/** `A1 landing zone and bronchus`, for an entry on a pair. */
function betweenOf(item: unknown): string | undefined {
  if (typeof item !== 'object' || item === null) return undefined;
  const { from, to } = item as Record<string, unknown>;
  return typeof from === 'string' && typeof to === 'string' ? `${from} and ${to}` : undefined;
}

/** The label of a list entry in a path. */
function labelOf(item: unknown, index: number): string {
  if (typeof item !== 'object' || item === null) return String(index);
  const { closed, occlusion_percent, name, code, from, to } = item as Record<string, unknown>;
  if (Array.isArray(closed) || closed === 'lobe') {
    const set = Array.isArray(closed) ? closed.toSorted().join('+') : 'lobe';
    return occlusion_percent === undefined || occlusion_percent === 100
      ? set
      : `${set}@${occlusion_percent}%`;
  }
  if (typeof from === 'string' && typeof to === 'string') return `${from}-${to}`;
  return [name, code].find((text): text is string => typeof text === 'string') ?? String(index);
}
