import { describe, expect, it } from 'vitest';
import { type Course, feederChanges } from '../../src/compare/feeders.js';
import { type LesionPose, lesionPose } from '../../src/compare/lesion-pose.js';
import { movedLesion, type PlacedLesion } from '../../src/compare/placed-lesion.js';
import { placementRemarks } from '../../src/compare/placement.js';
import type { Vec3 } from '../../src/foundation/vector.js';
import type { Result } from '../../src/result/result.generated.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { numberOf } from '../../src/rules/rule.js';
import { withNumber } from '../rules/with-number.js';

const rules = loadRules();
const limit = (id: string): number => numberOf(rules, id);

/** A straight vessel every millimetre. */
const straight = (name: string, role: string, from: Vec3, to: Vec3): PlacedLesion['vessels'][number] => {
  const steps = Math.round(Math.hypot(...from.map((c, k) => to[k] - c)));
  const course = Array.from(
    { length: steps + 1 },
    (_, i) => from.map((c, k) => c + (i * (to[k] - c)) / steps) as Vec3,
  );
  return { name, vessel: { role } as Result['vessels'][string], course, neck: to, calibreMm: 5 };
};
/** Three vessels into a sac at the origin, none coplanar with the other two. */
const first: PlacedLesion = {
  sacMm: [0, 0, 0],
  vessels: [
    straight('A1', 'feeder', [32, 4, 0], [6, 0, 0]),
    straight('A2', 'feeder', [6, 26, 10], [0, 6, 0]),
    straight('V1', 'drain', [-9, 0, 22], [0, 0, 6]),
  ],
};
const turnedBy = (deg: number): ((p: Vec3) => Vec3) => {
  const [c, s] = [Math.cos((deg * Math.PI) / 180), Math.sin((deg * Math.PI) / 180)];
  return ([x, y, z]) => [c * x - s * y, s * x + c * y, z];
};
const mirrored = ([x, y, z]: Vec3): Vec3 => [-x, y, z];
const poseOf = (move: (p: Vec3) => Vec3, inForce = rules, inPatientAxes = false): LesionPose =>
  lesionPose(first, movedLesion(first, move), inPatientAxes, inForce)!;

describe('the limits of a pose from courses', () => {
  it('overlay-largest-turn: a rotation beyond it is doubted in patient axes, and only there', () => {
    const most = limit('overlay-largest-turn');
    const remarks = (turnDeg: number, inPatientAxes: boolean): string[] => {
      const pose = {
        rotation: [
          [1, 0, 0],
          [0, 1, 0],
          [0, 0, 1],
        ],
        translationMm: [0, 0, 0],
      } as const;
      const found = { pose, turnDeg, misfitMm: 0.2, handedness: 'same' } as unknown as LesionPose;
      return placementRemarks(found, inPatientAxes, [], rules).cautions;
    };
    expect(remarks(most, true)).toEqual([]);
    expect(remarks(most + 0.01, true)).toEqual([expect.stringContaining(`turned by ${most}°`)]);
    expect(remarks(most + 0.01, false)).toEqual([]);
  });

  // a rotation beyond the largest one keeps the lesion from being compared in place; its mirror image misfits by far
  const turn = turnedBy(limit('overlay-largest-turn') + 30);
  const asFound = poseOf(turn);
  const imageMm = asFound.mirrorMisfitMm!;

  it('same-course-error: two misfits below it are equal, so handedness cannot be determined', () => {
    expect(asFound.handedness).toBe('same');
    expect(asFound.misfitMm).toBeLessThan(limit('same-course-error'));
    expect(imageMm).toBeGreaterThan(limit('register-as-good') * limit('same-course-error'));
    // both misfits are then the error of the lines
    expect(poseOf(turn, withNumber('same-course-error', imageMm * 1.01)).handedness).toBe('undecided');
  });

  it.each([
    [0.99, 'same'],
    [1.01, 'undecided'],
  ])('register-as-good at %d of the misfit of the mirror image: %s', (part, hand) => {
    const ratio = imageMm / limit('same-course-error');
    expect(poseOf(turn, withNumber('register-as-good', ratio * part)).handedness).toBe(hand);
  });

  it('register-mirror: a mirror image is one where its misfit is below this fraction of the lesion’s own', () => {
    const found = poseOf(mirrored);
    expect(found.handedness).toBe('mirrored');
    const ratio = limit('same-course-error') / found.misfitMm;
    expect(poseOf(mirrored, withNumber('register-mirror', ratio * 1.01)).handedness).toBe('mirrored');
    expect(poseOf(mirrored, withNumber('register-mirror', ratio * 0.99)).handedness).not.toBe('mirrored');
  });

  it('register-least-overlap: a lesion that overlaps less of the other is unlike', () => {
    // courses stretched and compressed, so that part of them is out of reach in every pose
    const longer = movedLesion(first, ([x, y, z]) => [1.6 * x, 1.6 * y, 1.6 * z]);
    const other = movedLesion(longer, ([x, y, z]) => [2.5 * x, 0.2 * y, 1.5 * z]);
    const handOf = (inForce: typeof rules) => lesionPose(longer, other, false, inForce)!.handedness;
    expect(handOf(rules)).toBe('unlike');
    expect(handOf(withNumber('register-least-overlap', 0.05))).not.toBe('unlike');
  });
});

describe('how persistent lesions were fed (Woodward et al., Radiology 2013)', () => {
  const result = { vessels: { A1: { calibre_mm: { mean: 5 } } } } as unknown as Result;
  const stillOpen = [{ role: 'feeder', oldName: 'A1', newName: 'A1', matchedBy: 'name' }] as const;
  const textOf = (inForce: typeof rules, course: Course = 'treated-between'): string | undefined =>
    feederChanges(result, result, stillOpen, course, inForce)[0]?.text;

  it('is included with a feeder that stayed open, and omitted without a treatment', () => {
    expect(textOf(rules)).toContain('91 % were recanalised and 24 % reperfused from neighbours');
    expect(textOf(rules, 'untreated')).toBeUndefined();
  });

  it.each([
    ['persistence-recanalised', '37 % were recanalised and 24 % reperfused'],
    ['persistence-reperfused', '91 % were recanalised and 37 % reperfused'],
  ])('%s is what is printed', (id, words) => expect(textOf(withNumber(id, 37))).toContain(words));
});
