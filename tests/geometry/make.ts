import type { ProfileSample } from '../../src/geometry/measure.js';
import { loadRules } from '../../src/rules/load-rules.js';

export const RULES = loadRules();

/** The definitions in force, from the rule files. */
export const DEFINITIONS = RULES.measure;

export { IS_LONG } from '../long-tests.js';

/** A surface without a scan behind it: intervals contain only what the surface itself shows. */
export const NO_SCAN = { scan: {}, hasAxes: false };

/** Keeps the largest error of each kind and where it occurred. */
export class Worst {
  private readonly found = new Map<string, { error: number; where: string }>();

  add(what: string, error: number, where: string): void {
    const before = this.found.get(what);
    if (!before || Math.abs(error) > Math.abs(before.error)) this.found.set(what, { error, where });
  }

  of(what: string): number {
    return Math.abs(this.found.get(what)?.error ?? Number.NaN);
  }

  toString(): string {
    return [...this.found]
      .map(([what, { error, where }]) => `${what} ${error.toFixed(3)} (${where})`)
      .join(', ');
  }
}

const sample = (atMm: number, d: number): ProfileSample => ({
  atMm,
  equivalentMm: d,
  minMm: d,
  maxMm: d,
  areaMm2: (Math.PI / 4) * d * d,
});

/** A profile of round sections, one every `stepMm` from 0. */
export const profileOf = (calibresMm: readonly number[], stepMm = 1): ProfileSample[] =>
  calibresMm.map((d, i) => sample(i * stepMm, d));

/** A profile of round sections every 0.5 mm, from 0.5 mm off the far end to the neck. */
export function profileAlong(calibreAt: (s: number) => number, neckMm: number): ProfileSample[] {
  const count = Math.floor(neckMm / 0.5);
  return Array.from({ length: count }, (_, i) => sample((i + 1) * 0.5, calibreAt((i + 1) * 0.5)));
}
