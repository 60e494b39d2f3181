import { dottedPath } from '../foundation/dotted-path.js';
import { editDistance } from '../foundation/nearest-key.js';

/** The value at a path of a result. */
export type PathStep = string | number;

interface Found {
  ok: true;
  value: unknown;
  steps: PathStep[];
}

interface NotFound {
  ok: false;
  /** The part of the path that exists, as written; empty at the root. */
  until: string;
  /** The existing path nearest to the one written. */
  nearest?: string;
  /** Why the result has no value there, if it says so. */
  because?: string;
}

/** Longest path that is looked up, in characters. */
const LONGEST_PATH = 500;

/**
 * The value at a path of a result, such as `vessels.A1.landing.calibre_mm`. List entries are named by their position
 * (`closure.0` or `closure[0]`), by their own `id`, `name` or `code` (`checklist.nickel.level`), or in `closure` by the closed set
 * (`closure.A1+A2.shunt_fraction`, `closure.lobe.shunt_fraction`). Names may contain dots.
 * Only own properties are followed.
 */
export function valueAt(root: unknown, path: string): Found | NotFound {
  const steps: PathStep[] = [];
  let value = root;
  let rest = dottedPath(path.slice(0, LONGEST_PATH));
  let until = '';
  while (rest !== '') {
    const next = step(value, rest);
    if (next === undefined) {
      const because = reasonAt(value, rest.split('.')[0]);
      const nearest = nearestPath(value, rest, until);
      return { ok: false, until, ...(nearest && { nearest }), ...(because && { because }) };
    }
    value = next.value;
    steps.push(next.key);
    until = until === '' ? next.written : `${until}.${next.written}`;
    rest = next.rest;
  }
  return value === undefined || steps.length === 0
    ? { ok: false, until: '', nearest: nearestPath(root, path, '') }
    : { ok: true, value, steps };
}

interface Step {
  key: PathStep;
  written: string;
  value: unknown;
  rest: string;
}

/** One step down: the longest name of this level that is a prefix of `rest`. */
function step(value: unknown, rest: string): Step | undefined {
  let best: Step | undefined;
  for (const [name, key, below] of entriesOf(value)) {
    const fits = rest === name || rest.startsWith(`${name}.`);
    if (fits && (best === undefined || name.length > best.written.length))
      best = { key, written: name, value: below, rest: rest.slice(name.length + 1) };
  }
  return best;
}

/** Every name that leads one level down, with its key and value. */
function* entriesOf(value: unknown): Generator<[name: string, key: PathStep, value: unknown]> {
  if (Array.isArray(value)) {
    for (const [i, item] of value.entries()) {
      yield [String(i), i, item];
      const name = nameOf(item);
      if (name !== undefined) yield [name, i, item];
    }
  } else if (typeof value === 'object' && value !== null) {
    for (const [key, item] of Object.entries(value)) if (item !== undefined) yield [key, key, item];
  }
}

function nameOf(item: unknown): string | undefined {
  if (typeof item !== 'object' || item === null) return undefined;
  const { closed, id, name, code } = item as Record<string, unknown>;
  if (Array.isArray(closed)) return closed.join('+');
  return [closed, id, name, code].find((text): text is string => typeof text === 'string');
}

/** The nearest existing path, followed down to a single value; undefined if there is none. */
function nearestPath(from: unknown, rest: string, until: string): string | undefined {
  let value = from;
  let path = until;
  let segments = rest.split('.');
  while (typeof value === 'object' && value !== null) {
    const known = step(value, segments.join('.'));
    let written: string;
    if (known !== undefined) {
      [written, value] = [known.written, known.value];
      segments = known.rest === '' ? [] : known.rest.split('.');
    } else {
      const choice = nearestEntry(value, segments[0]);
      if (choice === undefined) return path === '' ? undefined : path;
      [written, value] = choice;
      segments = segments.slice(1);
    }
    path = path === '' ? written : `${path}.${written}`;
    if (segments.length === 0) return path;
  }
  return path === '' ? undefined : path;
}

function nearestEntry(value: unknown, segment: string): [string, unknown] | undefined {
  let best: { distance: number; entry: [string, unknown] } | undefined;
  const plain = (word: string): string => word.slice(0, 64).toLowerCase().replaceAll('-', '_');
  const names = [...entriesOf(value)];
  // in a list of named entries an index is suggested only if a number was written
  const isNamed = Array.isArray(value) && names.length > value.length && !/^\d+$/.test(segment);
  for (const [name, key, below] of names) {
    if (isNamed && name === String(key)) continue;
    // a prefix of a name is nearer than any other word
    const starts = segment !== '' && plain(name).startsWith(plain(segment));
    const distance = starts ? 0.5 : editDistance(plain(segment), plain(name));
    if (best === undefined || distance < best.distance) best = { distance, entry: [name, below] };
  }
  return best?.entry;
}

/** `landing_absent_because`, or `absent_because`, of the object in which something is missing. */
function reasonAt(value: unknown, missing: string): string | undefined {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) return undefined;
  const holder = value as Record<string, unknown>;
  for (const key of [`${missing}_absent_because`, 'absent_because'])
    if (Object.hasOwn(holder, key) && typeof holder[key] === 'string') return holder[key];
  return undefined;
}
