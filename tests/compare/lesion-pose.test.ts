import { describe, expect, it } from 'vitest';
import { lesionPose } from '../../src/compare/lesion-pose.js';
import { matchVessels } from '../../src/compare/match-vessels.js';
import { movedLesion, type PlacedLesion } from '../../src/compare/placed-lesion.js';
import { distance, type Vec3 } from '../../src/foundation/vector.js';
import { Polyline } from '../../src/geometry/polyline.js';
import { posed } from '../../src/geometry/register/rigid-pose.js';
import { mulberry32 } from '../../src/foundation/mulberry32.js';
import { movePoint, seededMotion } from '../../src/phantoms/rigid.js';
import type { Vessel } from '../../src/result/result.generated.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { type LesionState, lesionOf } from './make-case.js';

const rules = loadRules();

/** The courses of the synthetic lesion, each cut short at its far end by a fraction of its length. */
function placed(state: LesionState = {}, cutShare = 0): PlacedLesion {
  const { sac, vessels } = lesionOf(state);
  return {
    sacMm: sac.centreMm,
    vessels: vessels.map(({ name, role, axisMm }) => {
      const line = new Polyline(axisMm).resampled(1);
      const course = line.between(cutShare * line.lengthMm, line.lengthMm).points as Vec3[];
      return { name, vessel: { role } as Vessel, course, neck: course.at(-1)!, calibreMm: 5 };
    }),
  };
}

const first = placed();
const MIRRORS: [string, (p: Vec3) => Vec3][] = [
  ['left and right', ([x, y, z]) => [-x, y, z]],
  ['front and back', ([x, y, z]) => [x, -y, z]],
  ['head and foot', ([x, y, z]) => [x, y, -z]],
];
const noise = (seed: number, mm: number): ((p: Vec3) => Vec3) => {
  const next = mulberry32(seed);
  return (p) => p.map((c) => c + mm * (2 * next() - 1)) as Vec3;
};
const changed: [string, PlacedLesion][] = [
  ['unchanged', placed()],
  ['with noisy lines', movedLesion(placed(), noise(3, 1))],
  ['with a sac that grew by a quarter', placed({ sac: 1.25 })],
  ['with vessels cut to two thirds', placed({}, 1 / 3)],
  ['without one feeder and with half the sac', placed({ A1: 0, sac: 0.5 })],
];

describe('the pose of one lesion on another from its courses', () => {
  it.each(changed)('%s: the same, with its pose, even after a rotation', (_, now) => {
    expect(lesionPose(first, now, true, rules)?.handedness).toBe('same');
    const motion = seededMotion(5, 40);
    const turned = lesionPose(
      first,
      movedLesion(now, (p) => movePoint(motion, p)),
      false,
      rules,
    )!;
    expect(['same', 'undecided']).toContain(turned.handedness);
    for (const p of [
      [28, 10, 36],
      [46, -32, 76],
    ] as Vec3[])
      expect(distance(posed(turned.pose, movePoint(motion, p)), p)).toBeLessThan(6);
  });

  it.each(MIRRORS.flatMap(([axes, flip]) => changed.map(([what, now]) => [axes, what, flip, now] as const)))(
    'with %s swapped, %s: a mirror image',
    (_, __, flip, now) => {
      const found = lesionPose(first, movedLesion(now, flip), true, rules)!;
      expect(found.handedness).toMatch(/^mirrored/);
      expect(found.mirrorMisfitMm).toBeLessThan(found.misfitMm);
    },
  );

  it('is none where the scans share no vessel role, and unlike where they are two lesions', () => {
    const only = (role: string): PlacedLesion => ({
      ...first,
      vessels: first.vessels.filter(({ vessel }) => vessel.role === role),
    });
    expect(lesionPose(only('feeder'), only('drain'), true, rules)).toBeUndefined();
    const other = movedLesion(first, ([x, y, z]) => [2.5 * x, 0.2 * y, z * 1.5]);
    expect(lesionPose(first, other, true, rules)?.handedness).toBe('unlike');
  });
});

describe('vessels matched in a pose', () => {
  const renamed = (lesion: PlacedLesion, names: Record<string, string>): PlacedLesion => ({
    ...lesion,
    vessels: lesion.vessels.map((one) => ({ ...one, name: names[one.name] ?? one.name })),
  });
  const pairs = (now: PlacedLesion) =>
    matchVessels(first, now, lesionPose(first, now, true, rules), rules).matches.map(
      ({ oldName, newName, matchedBy }) => [oldName, newName, matchedBy],
    );

  it('go by their place where names were swapped, even in a rotated scan', () => {
    const now = renamed(
      movedLesion(placed({ sac: 0.5 }), (p) => movePoint(seededMotion(2, 20), p)),
      {
        A1: 'A2',
        A2: 'A1',
      },
    );
    expect(pairs(now)).toEqual([
      ['A1', 'A2', 'geometry'],
      ['A2', 'A1', 'geometry'],
      ['V1', 'V1', 'name'],
    ]);
  });

  it('keep their names where two are close together', () => {
    // 3 mm is less than the 5 mm by which another name must be closer
    const near = { ...first.vessels[0], name: 'A3' };
    const old = { ...first, vessels: [...first.vessels, near] };
    const now = movedLesion(old, noise(4, 0.5));
    const { matches } = matchVessels(old, now, lesionPose(old, now, true, rules), rules);
    for (const { oldName, newName, matchedBy } of matches)
      expect([newName, matchedBy]).toEqual([oldName, 'name']);
  });
});
