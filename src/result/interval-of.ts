import type { PathStep } from './value-path.js';

const UNIT_ENDING = /^(.+)_(mm|mm2|cm2|ml|percent|deg|mmhg|ml_dl|l_min|l)$/;

/**
 * The 95 % interval in a result for the number at `steps`, or undefined if there is none: `X_interval_UNIT` next to `X_UNIT`, `X_range`
 * next to `X`, the entry of `intervals`, and `interval` next to `fraction` or `change`.
 */
export function intervalOf(root: unknown, steps: readonly PathStep[]): [number, number] | undefined {
  let holder: unknown = root;
  for (const step of steps.slice(0, -1)) holder = own(holder, step);
  const key = String(steps.at(-1));
  const unit = UNIT_ENDING.exec(key);
  const candidates = [
    unit && own(holder, `${unit[1]}_interval_${unit[2]}`),
    own(holder, `${key}_range`),
    own(own(holder, 'intervals'), key),
    key === 'fraction' || key === 'change' ? own(holder, 'interval') : undefined,
  ];
  return candidates.find(isInterval);
}

function own(holder: unknown, key: PathStep): unknown {
  if (typeof holder !== 'object' || holder === null || !Object.hasOwn(holder, key)) return undefined;
  return (holder as Record<PathStep, unknown>)[key];
}

function isInterval(value: unknown): value is [number, number] {
  return Array.isArray(value) && value.length === 2 && value.every((v) => typeof v === 'number');
}

/** The unit in the suffix of a key, for printing: `mm`, `mL`, `%`; empty for a plain number. */
export function unitOfKey(steps: readonly PathStep[]): string {
  // an entry of a list has the unit of the list
  if (typeof steps.at(-1) === 'number') return unitOfKey(steps.slice(0, -1));
  const key = String(steps.at(-1));
  const known = UNIT_OF_ENDING.find(([ending]) => ending.test(key));
  if (known) return known[1];
  // the parts of calibre_mm: min, mean, max
  return steps.length > 1 && typeof steps.at(-2) === 'string' && steps.at(-2) !== key
    ? /^(min|mean|max)$/.test(key)
      ? unitOfKey(steps.slice(0, -1))
      : ''
    : '';
}

const UNIT_OF_ENDING: readonly (readonly [RegExp, string])[] = [
  [/_ml_dl$/, 'mL/dL'],
  [/_l_min$/, 'L/min'],
  [/_percent$/, '%'],
  [/(_|^)mmhg$/, 'mmHg'],
  [/(_|^)cmh2o$/, 'cmH2O'],
  [/_mm2$/, 'mm2'],
  [/_cm2$/, 'cm2'],
  [/_mm$/, 'mm'],
  [/_ml$/, 'mL'],
  [/_deg$/, 'deg'],
  [/_l$/, 'L'],
];
