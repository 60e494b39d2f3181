import { intervalOf, unitOfKey } from '../result/interval-of.js';
import type { Result } from '../result/result.generated.js';
import type { PathStep } from '../result/value-path.js';

export type Interval = [number, number];

/** One number of both results. */
export interface NumberChange {
  path: string;
  unit: string;
  old?: number;
  new?: number;
  oldInterval?: Interval;
  newInterval?: Interval;
  change?: number;
  /** The 95 % half-width of the change, from the two intervals taken as independent. */
  combined?: number;
  /** Whether the change is larger than that; undefined where a result gives no interval for the number. */
  exceeds?: boolean;
}

/** What is left out: samples along a vessel, places in the scan's own axes, check points of a print, hashes and sizes of files, and the intervals themselves. */
const LEFT_OUT =
  /^(inputs|tool|profile|centreline_mm|point_mm|points_mm|centre_mm|triangles|gauges|findings|checklist|cautions|sensitivity|intervals?|order_list|best_today|follow_up)$|_interval_|_range$/;

/**
 * Every number of the two results under its path, in the order of the old one, then what only the new one has. Entries of lists go
 * by their names, closures by what is closed. The two errors are taken as independent and combined as the root of the sum of their
 * squares (JCGM 100:2008, 5.1.2), each half-width on the side that faces the other value.
 */
export function compareNumbers(old: Result, now: Result): NumberChange[] {
  const before = new Map(numbersOf(old));
  const after = new Map(numbersOf(now));
  const paths = [...before.keys(), ...[...after.keys()].filter((path) => !before.has(path))];
  return paths.map((path) => {
    const [a, b] = [before.get(path), after.get(path)];
    const change: NumberChange = { path, unit: unitOfKey((a ?? b)!.steps) };
    if (a) Object.assign(change, { old: a.value, ...(a.interval && { oldInterval: a.interval }) });
    if (b) Object.assign(change, { new: b.value, ...(b.interval && { newInterval: b.interval }) });
    if (a && b) Object.assign(change, judgeChange(a.value, b.value, a.interval, b.interval));
    return change;
  });
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
  interval?: Interval;
}

/** Path and value of every number that is compared. */
function* numbersOf(result: Result): Generator<[string, Leaf]> {
  const root: unknown = result;
  function* walk(value: unknown, steps: PathStep[], path: string): Generator<[string, Leaf]> {
    if (typeof value === 'number') {
      const interval = intervalOf(root, steps);
      yield [path, { value, steps, ...(interval && { interval }) }];
    } else if (Array.isArray(value)) {
      // the far point of a gauge is a place; a landing zone's to_mm is a number
      if (steps.at(-1) === 'to_mm') return;
      for (const [i, item] of value.entries())
        yield* walk(item, [...steps, i], `${path}.${labelOf(item, i)}`);
    } else if (typeof value === 'object' && value !== null) {
      for (const [key, item] of Object.entries(value))
        if (!LEFT_OUT.test(key)) yield* walk(item, [...steps, key], path === '' ? key : `${path}.${key}`);
    }
  }
  yield* walk(root, [], '');
}

/** What a list entry is called in a path. */
function labelOf(item: unknown, index: number): string {
  if (typeof item !== 'object' || item === null) return String(index);
  const { closed, occlusion_percent, name, code, from, to } = item as Record<string, unknown>;
  if (Array.isArray(closed) || closed === 'lobe') {
    const set = Array.isArray(closed) ? closed.join('+') : 'lobe';
    return occlusion_percent === undefined || occlusion_percent === 100
      ? set
      : `${set}@${occlusion_percent}%`;
  }
  if (typeof from === 'string' && typeof to === 'string') return `${from}-${to}`;
  return [name, code].find((text): text is string => typeof text === 'string') ?? String(index);
}
