import { describe, expect, test } from 'vitest';
import { renderChecklist } from '../../src/report/checklist.js';
import { figuresOf } from '../../src/report/figures/figures.js';
import { renderPlan } from '../../src/report/plan.js';
import { checkResult } from '../../src/report/result-check.js';
import { resultJson } from '../../src/report/result-json.js';
import type { Result } from '../../src/result/result.generated.js';
import { oneFeeder, twoFeeders } from './fixtures.js';

type Path = (string | number)[];

/** Every key below a value, as a path. */
function pathsOf(value: unknown, at: Path = []): Path[] {
  if (Array.isArray(value)) return value.flatMap((item, i) => pathsOf(item, [...at, i]));
  if (typeof value !== 'object' || value === null) return [];
  return Object.entries(value).flatMap(([key, entry]) => [[...at, key], ...pathsOf(entry, [...at, key])]);
}

/** A copy with the value at a path omitted or replaced. */
function without(result: Result, path: Path, replacement?: unknown): Result {
  const copy = structuredClone(result);
  let holder = copy as unknown as Record<string | number, unknown>;
  for (const key of path.slice(0, -1)) holder = holder[key] as Record<string | number, unknown>;
  const last = path.at(-1)!;
  if (replacement === undefined) delete holder[last];
  else holder[last] = replacement;
  return copy;
}

/** Samples of a profile are all alike: the first represents them. */
const isNew = (path: Path): boolean => !(path[2] === 'profile' && typeof path[3] === 'number' && path[3] > 0);

const full = (): Result => {
  const result = twoFeeders();
  result.shunt_after = { ...oneFeeder().shunt!, sample: 'after' };
  return result;
};

const UNWANTED = /NaN|undefined|\bnull\b|\[object|Infinity/;

/** A value that records the path of each key read from it, and of each looked up. */
function watched<T>(value: T, read: Set<string>, at: Path = []): T {
  if (typeof value !== 'object' || value === null) return value;
  const note = (key: string | symbol): void => {
    read.add([...at, String(key)].join('.'));
  };
  return new Proxy(value, {
    get: (target, key, self) => {
      note(key);
      const entry = Reflect.get(target, key, self);
      return typeof key === 'symbol' ? entry : watched(entry, read, [...at, key]);
    },
    has: (target, key) => {
      note(key);
      return Reflect.has(target, key);
    },
    ownKeys: (target) => {
      Reflect.ownKeys(target).forEach(note);
      return Reflect.ownKeys(target);
    },
  });
}

/** The figures of the full result, and every path that they are drawn from: they do not depend on any other. */
const drawnFrom = new Set<string>();
const drawn = figuresOf(watched(full(), drawnFrom));

function documentsOf(result: Result, path: Path): string {
  const figures = drawnFrom.has(path.join('.')) ? figuresOf(result) : drawn;
  return [renderPlan(result, { figures }), renderChecklist(result), ...figures.map(({ svg }) => svg)].join(
    '\n',
  );
}

describe('a result with a gap', () => {
  const paths = pathsOf(full()).filter(isNew);

  test('figures are drawn from some of it, and what they do not read does not change them', () => {
    const unread = paths.filter((path) => !drawnFrom.has(path.join('.')));
    expect(unread.length).toBeGreaterThan(100);
    expect(drawnFrom.size).toBeGreaterThan(100);
    const some = unread.filter((_, i) => i % Math.ceil(unread.length / 8) === 0);
    for (const path of some) expect(figuresOf(without(full(), path)), path.join('.')).toEqual(drawn);
  });

  test('every optional value may be missing: documents and figures say so and print nothing odd', async () => {
    let optional = 0;
    for (const path of paths) {
      const result = without(full(), path);
      if ((await checkResult(result)).length > 0) continue;
      optional += 1;
      const text = documentsOf(result, path);
      expect(text, path.join('.')).not.toMatch(UNWANTED);
      expect(text.includes('\n## Cautions\n'), path.join('.')).toBe(true);
      expect(await checkResult(JSON.parse(resultJson(result))), path.join('.')).toEqual([]);
    }
    // Guards the test itself: most keys of the schema are optional.
    expect(optional).toBeGreaterThan(150);
  });

  test('every list may be empty', async () => {
    let lists = 0;
    for (const path of paths) {
      const value = path.reduce<unknown>((at, key) => (at as Record<string | number, unknown>)[key], full());
      if (!Array.isArray(value)) continue;
      const result = without(full(), path, []);
      if ((await checkResult(result)).length > 0) continue;
      lists += 1;
      expect(documentsOf(result, path), path.join('.')).not.toMatch(UNWANTED);
    }
    expect(lists).toBeGreaterThan(25);
  });

  test('an empty text never leaves a gap in a table or a heading', async () => {
    for (const path of paths) {
      const value = path.reduce<unknown>((at, key) => (at as Record<string | number, unknown>)[key], full());
      if (typeof value !== 'string') continue;
      const result = without(full(), path, '');
      if ((await checkResult(result)).length > 0) continue;
      expect(/\| {2,}\||^#+ *$|\*\*\*\*/m.exec(renderPlan(result))?.[0], path.join('.')).toBeUndefined();
    }
  });
});
