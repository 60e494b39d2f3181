import { describe, expect, it } from 'vitest';
import { lesionPose } from '../../src/compare/lesion-pose.js';
import { movedLesion, type PlacedLesion } from '../../src/compare/placed-lesion.js';
import { distance, type Vec3 } from '../../src/foundation/vector.js';
import { Polyline } from '../../src/geometry/polyline.js';
import { posed } from '../../src/geometry/register/rigid-pose.js';
import type { Vessel } from '../../src/result/result.generated.js';
import { loadRules } from '../../src/rules/load-rules.js';

const rules = loadRules();

/** Straight vessels, each from its far end to its neck. */
const lesion = (sacMm: Vec3 | undefined, ...vessels: [Vessel['role'], Vec3, Vec3][]): PlacedLesion => ({
  ...(sacMm && { sacMm }),
  vessels: vessels.map(([role, from, to], i) => ({
    name: `V${i}`,
    vessel: { role } as Vessel,
    course: [from, to],
    neck: to,
    calibreMm: 5,
  })),
});
/** Three orthogonal vessels, of 40, 28 and 20 mm: no rotation gives its mirror image. */
const CHIRAL = lesion(
  [0, 0, 0],
  ['feeder', [46, 0, 0], [6, 0, 0]],
  ['feeder', [0, 34, 0], [0, 6, 0]],
  ['drain', [0, 0, 26], [0, 0, 6]],
);
/** All of it in the plane z = 0: its mirror image coincides with it after half a turn. */
const FLAT = lesion(
  [0, 0, 0],
  ['feeder', [46, 0, 0], [6, 0, 0]],
  ['feeder', [0, 34, 0], [0, 6, 0]],
  ['drain', [-20, -20, 0], [-5, -5, 0]],
);
const turnAbout = (axis: 0 | 1 | 2, degrees: number): ((p: Vec3) => Vec3) => {
  const [c, s] = [Math.cos((degrees * Math.PI) / 180), Math.sin((degrees * Math.PI) / 180)];
  const [i, j] = [(axis + 1) % 3, (axis + 2) % 3];
  return (p) => {
    const turned = [...p] as Vec3;
    turned[i] = c * p[i] - s * p[j];
    turned[j] = s * p[i] + c * p[j];
    return turned;
  };
};
const flip = ([x, y, z]: Vec3): Vec3 => [-x, y, z];
const find = (old: PlacedLesion, now: PlacedLesion, inPatientAxes = true) =>
  lesionPose(old, now, inPatientAxes, rules);
const POINTS: Vec3[] = [
  [0, 0, 0],
  [40, 5, -3],
  [-7, 20, 11],
];
const offMm = (found: ReturnType<typeof find>, move: (p: Vec3) => Vec3): number =>
  Math.max(...POINTS.map((p) => distance(posed(found!.pose, move(p)), p)));

describe('a lesion in the same position as before', () => {
  it('has no rotation and no misfit, and its mirror image is not tried', () => {
    const found = find(CHIRAL, CHIRAL)!;
    expect(found).toMatchObject({ handedness: 'same', turnDeg: 0 });
    expect(found.misfitMm).toBeCloseTo(0, 9);
    expect(found).not.toHaveProperty('mirrorMisfitMm');
    expect(offMm(found, (p) => p)).toBeLessThan(1e-9);
  });

  it.each<[string, PlacedLesion]>([
    ['with a sac', CHIRAL],
    ['without a sac', { vessels: CHIRAL.vessels }],
  ])('is shifted, %s', (_, old) => {
    const move = ([x, y, z]: Vec3): Vec3 => [x + 300, y - 40, z + 7];
    const found = find(old, movedLesion(old, move))!;
    expect(found.handedness).toBe('same');
    expect(offMm(found, move)).toBeLessThan(1e-9);
  });

  it.each([10, 44])('is rotated by %d degrees', (degrees) => {
    const move = turnAbout(2, degrees);
    const found = find(CHIRAL, movedLesion(CHIRAL, move))!;
    expect(found.handedness).toBe('same');
    expect(found.turnDeg).toBeCloseTo(degrees, 1);
    // found by following the unmoved pose to convergence, so no image was tried
    expect(found).not.toHaveProperty('mirrorMisfitMm');
    expect(offMm(found, move)).toBeLessThan(0.1);
  });
});

describe('what a step depends on', () => {
  it('the nearest three quarters of the points: a drain that moved by 2 mm moves nothing else', () => {
    // 21, 15 and 11 points 2 mm apart and the sac, so the drain is 23 % of 48
    const [a, b, drain] = CHIRAL.vessels;
    const moved = drain.course.map(([x, y, z]): Vec3 => [x + 2, y, z]);
    const found = find(CHIRAL, { ...CHIRAL, vessels: [a, b, { ...drain, course: moved }] })!;
    expect(offMm(found, (p) => p)).toBeLessThan(1e-9);
    expect(found.misfitMm).toBeCloseTo(Math.sqrt((11 * 2 ** 2) / 48), 9);
  });

  it.each([60, 120])(
    'of two rotations that fit equally well, 180 degrees apart, the smaller is taken in patient axes (%d)',
    (degrees) => {
      const twofold = lesion(
        [0, 0, 0],
        ['feeder', [46, 0, 0], [6, 0, 0]],
        ['feeder', [-46, 0, 0], [-6, 0, 0]],
        ['drain', [0, 0, 26], [0, 0, 6]],
      );
      expect(find(twofold, movedLesion(twofold, turnAbout(2, degrees)))!.turnDeg).toBeCloseTo(60, 3);
    },
  );
});

describe('a rotated lesion', () => {
  it.each<[string, PlacedLesion, (p: Vec3) => Vec3, boolean, string]>([
    ['chiral, by 90 degrees', CHIRAL, turnAbout(2, 90), false, 'same'],
    ['chiral, by 90 degrees, in patient axes', CHIRAL, turnAbout(2, 90), true, 'same'],
    ['chiral, mirrored', CHIRAL, flip, true, 'mirrored'],
    ['chiral, mirrored and rotated', CHIRAL, (p) => turnAbout(1, 120)(flip(p)), false, 'mirrored'],
    ['flat, by 90 degrees', FLAT, turnAbout(2, 90), false, 'undecided'],
    ['flat, by 180 degrees about an axis in its plane', FLAT, turnAbout(0, 180), true, 'mirrored-or-turned'],
    [
      'flat, by 180 degrees about an axis in its plane, axes unknown',
      FLAT,
      turnAbout(0, 180),
      false,
      'undecided',
    ],
  ])('%s', (_, old, move, inPatientAxes, handedness) => {
    const found = find(old, movedLesion(old, move), inPatientAxes)!;
    expect(found.handedness).toBe(handedness);
    // the pose found undoes the rotation, or is that of the image; either way the image was tried
    const [own, image] = [found.misfitMm, found.mirrorMisfitMm!];
    expect(Math.min(own, image)).toBeLessThan(1.3);
    if (handedness === 'same') expect(offMm(found, move)).toBeLessThan(3);
    else if (handedness === 'mirrored') expect(own).toBeGreaterThan(2 * image);
    else expect(Math.max(own, image)).toBeLessThan(1e-9);
  });

  const large = (one: PlacedLesion): PlacedLesion =>
    movedLesion(one, ([x, y, z]) => [2.5 * x, 2.5 * y, 2.5 * z]);
  const finely = (one: PlacedLesion): PlacedLesion => ({
    ...one,
    vessels: one.vessels.map((vessel) => ({
      ...vessel,
      course: [...new Polyline(vessel.course).resampled(2).points],
    })),
  });
  it.each<[string, string, PlacedLesion]>([
    ['chiral', 'same', CHIRAL],
    ['flat', 'undecided', FLAT],
  ])('%s, with a course that winds by 5 mm to either side: %s, and not rotated', (_, handedness, one) => {
    const old = finely(large(one));
    const found = find(
      old,
      movedLesion(old, ([x, y, z]) => [x, y + 5 * Math.sin(x / 12), z]),
    )!;
    expect(found.handedness).toBe(handedness);
    expect(found.turnDeg).toBeLessThan(10);
    if (handedness === 'undecided') expect(found.mirrorMisfitMm).toBeCloseTo(found.misfitMm, 3);
    else expect(found.mirrorMisfitMm).toBeGreaterThan(1.25 * found.misfitMm);
  });

  it('is another lesion where nothing fits', () => {
    const other = lesion([0, 0, 0], ['feeder', [90, 0, 0], [6, 0, 0]], ['drain', [60, 30, 0], [5, 3, 0]]);
    expect(find(CHIRAL, other)!.handedness).toBe('unlike');
  });
});

describe('how well courses coincide', () => {
  const FEEDER: [Vessel['role'], Vec3, Vec3] = ['feeder', [40, 0, 0], [0, 0, 0]];
  const with10 = lesion([0, 0, 0], FEEDER, ['branch', [0, 10, 0], [0, 0, 0]]);
  const with8 = lesion([0, 0, 0], FEEDER, ['branch', [0, 8, 0], [0, 0, 0]]);
  const drained = lesion([0, 0, 0], FEEDER, ['drain', [0, 0, 20], [0, 0, 0]]);

  it.each<[string, PlacedLesion, PlacedLesion, string, number]>([
    // points every 2 mm: 21 on the feeder, 11 on the drain, 6 or 5 on the branch. What has no vessel of its role is 10 mm
    // off, and the scan that is covered better counts: 5 of 27 points with the sac, and 22 of 27 are 81 %
    ['a branch of 8 mm', drained, with8, 'undecided', Math.sqrt((5 * 100) / 27)],
    ['a branch of 8 mm, old and new swapped', with8, drained, 'undecided', Math.sqrt((5 * 100) / 27)],
    // 6 of 28, and 22 of 28 are 79 %
    ['a branch of 10 mm', drained, with10, 'unlike', Math.sqrt((6 * 100) / 28)],
    ['a branch of 10 mm, old and new swapped', with10, drained, 'unlike', Math.sqrt((6 * 100) / 28)],
  ])('a feeder and %s', (_, old, now, handedness, misfitMm) => {
    const found = find(old, now, false)!;
    expect(found.handedness).toBe(handedness);
    expect(found.misfitMm).toBeCloseTo(misfitMm, 9);
    expect(found.mirrorMisfitMm).toBeCloseTo(misfitMm, 9);
  });

  it('a long course is represented by 140 points: 440 mm by one every 3.1 mm', () => {
    // 128 pieces and 13: 129 points and 14, and the sac
    const long: [Vessel['role'], Vec3, Vec3] = ['feeder', [400, 0, 0], [0, 0, 0]];
    const branched = lesion([0, 0, 0], long, ['branch', [0, 40, 0], [0, 0, 0]]);
    const found = find(lesion([0, 0, 0], long, ['drain', [0, 0, 40], [0, 0, 0]]), branched, false)!;
    expect(found.misfitMm).toBeCloseTo(Math.sqrt((14 * 100) / 144), 6);
  });

  it('a vessel that is gone is no misfit: the scan with fewer vessels decides', () => {
    const { sacMm, vessels } = CHIRAL;
    const found = find(CHIRAL, { sacMm, vessels: vessels.slice(0, 2) })!;
    expect(found).toMatchObject({ handedness: 'same' });
    expect(found.misfitMm).toBeCloseTo(0, 9);
  });

  it.each<[string, PlacedLesion]>([
    ['a feeder', lesion([0, 0, 0], FEEDER)],
    ['a feeder and a drain on opposite sides', lesion([0, 0, 0], FEEDER, ['drain', [-30, 0, 0], [-5, 0, 0]])],
  ])(
    '%s on one line with the sac is in the same position: a rotation about that line does not count',
    (_, one) => {
      for (const now of [one, movedLesion(one, ([x, y, z]) => [x + 0.3 * Math.sin(x), y + 50, z])]) {
        const found = find(one, now)!;
        expect(found.handedness).toBe('same');
        expect(found.turnDeg).toBeLessThan(45);
        expect(found.misfitMm).toBeLessThan(1);
      }
    },
  );

  it('without a course, or a vessel of the same role, there is no pose', () => {
    const point = lesion([0, 0, 0]);
    point.vessels.push({ ...CHIRAL.vessels[0], course: [[0, 0, 0]] });
    expect(find(point, CHIRAL)).toBeUndefined();
    expect(find(CHIRAL, point)).toBeUndefined();
    const drain = lesion([0, 0, 0], ['drain', [0, 0, 20], [0, 0, 0]]);
    expect(find(lesion([0, 0, 0], FEEDER), drain)).toBeUndefined();
  });
});
