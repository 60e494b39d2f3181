import { describe, expect, it } from 'vitest';
import { growthOf } from '../../src/compare/growth.js';
import { matchVessels } from '../../src/compare/match-vessels.js';
import type { NumberChange } from '../../src/compare/numbers.js';
import type { PlacedLesion, PlacedVessel } from '../../src/compare/placed-lesion.js';
import type { Vec3 } from '../../src/foundation/vector.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { numberOf } from '../../src/rules/rule.js';

const rules = loadRules();
const limit = (id: string): number => numberOf(rules, id);

interface Lying {
  aside?: number;
  neckAside?: number;
  calibreMm?: number;
}
/** A straight feeder along x from 0 to 40 mm whose neck is its far end, `aside` mm off that line. */
const vessel = (name: string, { aside = 0, neckAside = aside, calibreMm = 5 }: Lying = {}): PlacedVessel => ({
  name,
  vessel: { role: 'feeder' } as PlacedVessel['vessel'],
  course: Array.from({ length: 41 }, (_, x): Vec3 => [x, aside, 0]),
  neck: [40, neckAside, 0],
  calibreMm,
});
const lesion = (...vessels: PlacedVessel[]): PlacedLesion => ({ vessels }) as PlacedLesion;
const matchOf = (old: PlacedVessel, ...now: PlacedVessel[]) => {
  const { matches } = matchVessels(lesion(old), lesion(...now), undefined, rules);
  const found = matches.find(({ oldName }) => oldName === old.name)!;
  return [found.matchedBy, found.newName];
};

describe('one vessel of two scans', () => {
  it('is another from the limit of the necks and of the courses on', () => {
    const both = Math.min(limit('same-vessel-neck'), limit('same-vessel-course'));
    expect(matchOf(vessel('A1'), vessel('X', { aside: both }))).toEqual(['geometry', 'X']);
    expect(matchOf(vessel('A1'), vessel('X', { aside: both + 0.01 }))).toEqual(['none', undefined]);
    // the neck alone lies off: its course still runs along that of the other
    const neck = limit('same-vessel-neck');
    expect(matchOf(vessel('A1', { neckAside: neck }), vessel('X', { neckAside: -0.001 }))[0]).toBe(
      'geometry',
    );
    const off = { ...vessel('X', { neckAside: neck + 0.02 }), course: vessel('X').course };
    expect(matchOf(vessel('A1', { neckAside: -neck - 0.02 }), off)[0]).toBe('none');
  });

  it('under another name is another where the calibres differ by more than the ratio; under its own it is not', () => {
    const ratio = limit('same-vessel-calibre');
    expect(matchOf(vessel('A1'), vessel('X', { calibreMm: 5 * ratio }))).toEqual(['geometry', 'X']);
    expect(matchOf(vessel('A1'), vessel('X', { calibreMm: 5 * ratio * 1.001 }))).toEqual(['none', undefined]);
    expect(matchOf(vessel('A1'), vessel('A1', { calibreMm: 5 * ratio * 1.5 }))).toEqual(['name', 'A1']);
  });

  it('keeps its name unless one under another name lies nearer by the lead', () => {
    // neck and course lie off by the same, so that they count twice
    const lead = limit('same-vessel-name');
    const at = (aside: number) => matchOf(vessel('A1'), vessel('A1', { aside }), vessel('X', { aside: 0.5 }));
    expect(at((lead + 1) / 2 - 0.01)).toEqual(['name', 'A1']);
    expect(at((lead + 1) / 2 + 0.01)).toEqual(['geometry', 'X']);
  });
});

it('growth is named fast above the usual one, where it is sure', () => {
  const usual = limit('usual-growth');
  const text = (change: number, combined: number): string =>
    growthOf(
      [{ path: 'sac.longest_mm', what: 'sac', unit: 'mm', change, combined } as NumberChange],
      2,
      rules,
    )[0].text;
  expect(text(2 * usual + 0.02, 0.1)).toContain('faster than');
  expect(text(2 * usual, 0.1)).not.toContain('faster than');
  expect(text(2 * usual + 0.02, 2 * usual + 1)).not.toContain('faster than');
});
