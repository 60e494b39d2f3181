import { describe, expect, it } from 'vitest';
import { growthOf } from '../../src/compare/growth.js';
import type { LesionPose } from '../../src/compare/lesion-pose.js';
import { matchVessels } from '../../src/compare/match-vessels.js';
import type { NumberChange } from '../../src/compare/numbers.js';
import { movedLesion, type PlacedLesion, type PlacedVessel } from '../../src/compare/placed-lesion.js';
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
/** A straight feeder along x from 0 to 40 mm whose neck, at its far end, is `aside` mm off that line. */
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

describe('one vessel in two scans', () => {
  it('counts as another from the limit of the necks and of the courses on', () => {
    const both = Math.min(limit('same-vessel-neck'), limit('same-vessel-course'));
    expect(matchOf(vessel('A1'), vessel('X', { aside: both }))).toEqual(['geometry', 'X']);
    expect(matchOf(vessel('A1'), vessel('X', { aside: both + 0.01 }))).toEqual(['none', undefined]);
    // only the neck is off: its course still runs along that of the other
    const neck = limit('same-vessel-neck');
    expect(matchOf(vessel('A1', { neckAside: neck }), vessel('X', { neckAside: -0.001 }))[0]).toBe(
      'geometry',
    );
    const off = { ...vessel('X', { neckAside: neck + 0.02 }), course: vessel('X').course };
    expect(matchOf(vessel('A1', { neckAside: -neck - 0.02 }), off)[0]).toBe('none');
  });

  it('under another name is another vessel where the calibres differ by more than the ratio; under its own name it is not', () => {
    const ratio = limit('same-vessel-calibre');
    expect(matchOf(vessel('A1'), vessel('X', { calibreMm: 5 * ratio }))).toEqual(['geometry', 'X']);
    expect(matchOf(vessel('A1'), vessel('X', { calibreMm: 5 * ratio * 1.001 }))).toEqual(['none', undefined]);
    expect(matchOf(vessel('A1'), vessel('A1', { calibreMm: 5 * ratio * 1.5 }))).toEqual(['name', 'A1']);
  });

  it('keeps its name unless one under another name is closer by the lead', () => {
    // neck and course are off by the same amount, so that they count twice
    const lead = limit('same-vessel-name');
    const at = (aside: number) => matchOf(vessel('A1'), vessel('A1', { aside }), vessel('X', { aside: 0.5 }));
    expect(at((lead + 1) / 2 - 0.01)).toEqual(['name', 'A1']);
    expect(at((lead + 1) / 2 + 0.01)).toEqual(['geometry', 'X']);
  });
});

/** Points 1 mm apart on a straight line. */
const line = (from: Vec3, step: Vec3, count: number): Vec3[] =>
  Array.from({ length: count }, (_, i) => from.map((c, k) => c + i * step[k]) as Vec3);
const matched = (old: PlacedVessel[], now: PlacedVessel[], more: Partial<PlacedLesion>[] = [{}, {}]) =>
  matchVessels({ ...lesion(...old), ...more[0] }, { ...lesion(...now), ...more[1] }, undefined, rules);

describe('the distance between vessels', () => {
  it('of a course is its mean distance, over the shorter course', () => {
    // at a right angle to x through the neck: its points are 0 to n mm off, n / 2 on average
    const upright = (n: number): PlacedVessel => ({
      ...vessel('X'),
      course: line([40, n, 0], [0, -1, 0], n + 1),
    });
    const most = 2 * limit('same-vessel-course');
    expect(matched([vessel('A1')], [upright(most)]).matches).toEqual([
      {
        role: 'feeder',
        oldName: 'A1',
        newName: 'X',
        matchedBy: 'geometry',
        neckDistanceMm: 0,
        courseDistanceMm: limit('same-vessel-course'),
      },
    ]);
    expect(matchOf(vessel('A1'), upright(most + 1))).toEqual(['none', undefined]);
    // only the last 10 mm, 3 mm to the side: every point of the short one is 3 mm off
    const short = { ...vessel('A1', { aside: 3 }), course: line([30, 3, 0], [1, 0, 0], 11) };
    expect(matched([vessel('A1')], [short]).matches).toMatchObject([
      { matchedBy: 'name', neckDistanceMm: 3, courseDistanceMm: 3 },
    ]);
  });

  it('is not stated where a position is missing', () => {
    const { neck: _, ...neckless } = vessel('A1');
    const bare = { ...neckless, course: [] };
    for (const [old, now, by, keys] of [
      [bare, bare, 'name', []],
      [bare, vessel('A1'), 'name', []],
      [vessel('A1'), bare, 'name', []],
      [{ ...bare, neck: [0, 0, 0] as Vec3 }, vessel('A1'), 'name', ['neckDistanceMm']],
      // both have a position, but without a neck it is not known whether it is the same
      [neckless, vessel('A1'), 'name-only', ['courseDistanceMm']],
      [vessel('A1'), neckless, 'name-only', ['courseDistanceMm']],
    ] as const) {
      const [match] = matched([old], [now]).matches;
      const { role, oldName, newName, matchedBy, ...distances } = match;
      expect([role, oldName, newName, matchedBy]).toEqual(['feeder', 'A1', 'A1', by]);
      expect(Object.keys(distances)).toEqual(keys);
    }
  });
});

describe('what position does not decide', () => {
  const drain = (name: string): PlacedVessel => ({
    ...vessel(name),
    vessel: { role: 'drain' } as PlacedVessel['vessel'],
  });
  const short = ({ matches }: ReturnType<typeof matched>) =>
    matches.map(({ oldName, newName, matchedBy }) => [oldName, newName, matchedBy]);

  it('goes by the name, within one role', () => {
    const far = vessel('A1', { aside: 100 });
    expect(short(matched([vessel('A1')], [far]))).toEqual([['A1', 'A1', 'name-only']]);
    expect(short(matched([vessel('A1')], [vessel('X', { aside: 100 })]))).toEqual([
      ['A1', undefined, 'none'],
      [undefined, 'X', 'none'],
    ]);
    expect(short(matched([vessel('A1')], [drain('A1')]))).toEqual([
      ['A1', undefined, 'none'],
      [undefined, 'A1', 'none'],
    ]);
    expect(matched([], [drain('V1')]).matches).toEqual([{ role: 'drain', newName: 'V1', matchedBy: 'none' }]);
  });

  it('in one position keeps its name, in whatever order they come', () => {
    const [own, other] = [vessel('A1', { aside: limit('same-vessel-name') / 2 }), vessel('X')];
    for (const now of [
      [own, other],
      [other, own],
    ])
      expect(short(matched([vessel('A1')], now))).toEqual([
        ['A1', 'A1', 'name'],
        [undefined, 'X', 'none'],
      ]);
  });
});

describe('without a pose', () => {
  it('the sac centres are superimposed where both scans have one', () => {
    const shifted = movedLesion({ ...lesion(vessel('X')), sacMm: [1, 2, 3] }, ([x, y, z]) => [
      x + 60,
      y,
      z - 9,
    ]);
    const old = { sacMm: [1, 2, 3] as Vec3 };
    expect(matched([vessel('A1')], shifted.vessels, [old, { sacMm: shifted.sacMm }])).toEqual({
      matchedIn: 'sac',
      matches: [
        {
          role: 'feeder',
          oldName: 'A1',
          newName: 'X',
          matchedBy: 'geometry',
          neckDistanceMm: 0,
          courseDistanceMm: 0,
        },
      ],
    });
    for (const sacs of [
      [{}, { sacMm: shifted.sacMm }],
      [old, {}],
      [{}, {}],
    ]) {
      const { matches, matchedIn } = matched([vessel('A1')], shifted.vessels, sacs);
      expect([matches[0].matchedBy, matchedIn]).toEqual(['none', 'as-given']);
    }
  });

  it('with one, the new vessels are moved by it', () => {
    // a quarter turn about z, and 5 mm along it
    const pose = {
      pose: {
        rotation: [
          [0, -1, 0],
          [1, 0, 0],
          [0, 0, 1],
        ],
        translationMm: [0, 0, 5],
      },
    } as unknown as LesionPose;
    const before = movedLesion(lesion(vessel('A1')), ([x, y, z]) => [-y, x, z + 5]);
    const { matches, matchedIn } = matchVessels(before, lesion(vessel('X')), pose, rules);
    expect([matchedIn, matches[0]]).toMatchObject([
      'pose',
      { newName: 'X', neckDistanceMm: 0, courseDistanceMm: 0 },
    ]);
  });
});

it('calls growth fast above the usual rate, if that is certain', () => {
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
