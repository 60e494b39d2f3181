import { EigenvalueDecomposition, Matrix } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import { distance, type Vec3 } from '../../../src/foundation/vector.js';
import {
  chainedTurns,
  closestPose,
  emptyPairSums,
  inverted,
  posed,
  type RigidPose,
  type Rotation,
  transposed,
  turnDeg,
  turnOf,
  turnOfQuaternion,
} from '../../../src/geometry/register/rigid-pose.js';
import { evenTurns } from '../../../src/geometry/register/start-poses.js';
import { movePoint, seededMotion } from '../../../src/phantoms/rigid.js';
import { seededRandom } from '../../../src/physiology/seeded-random.js';
import { determinantOf } from './make.js';

function sumsOf(from: readonly Vec3[], to: readonly Vec3[]) {
  const sums = emptyPairSums();
  for (const [n, p] of from.entries()) {
    sums.count++;
    for (let i = 0; i < 3; i++) {
      sums.from[i] += p[i];
      sums.to[i] += to[n][i];
      for (let k = 0; k < 3; k++) sums.products[i][k] += to[n][i] * p[k];
    }
  }
  return sums;
}

const cloud = (seed: number, count: number): Vec3[] => {
  const random = seededRandom(seed);
  return Array.from({ length: count }, () => [
    30 * random.normal(),
    20 * random.normal(),
    9 * random.normal(),
  ]);
};

/** The same problem by Horn's quaternions: the eigenvector of the largest eigenvalue of his symmetric 4x4 matrix (from memory). */
function hornTurn(from: readonly Vec3[], to: readonly Vec3[]): Rotation {
  const mean = (points: readonly Vec3[]) =>
    [0, 1, 2].map((k) => points.reduce((sum, p) => sum + p[k], 0) / points.length);
  const [a, b] = [mean(from), mean(to)];
  const s = (i: number, k: number): number =>
    from.reduce((sum, p, n) => sum + (p[i] - a[i]) * (to[n][k] - b[k]), 0);
  const [x, y, z] = [0, 1, 2];
  const n = new Matrix([
    [s(x, x) + s(y, y) + s(z, z), s(y, z) - s(z, y), s(z, x) - s(x, z), s(x, y) - s(y, x)],
    [s(y, z) - s(z, y), s(x, x) - s(y, y) - s(z, z), s(x, y) + s(y, x), s(z, x) + s(x, z)],
    [s(z, x) - s(x, z), s(x, y) + s(y, x), s(y, y) - s(x, x) - s(z, z), s(y, z) + s(z, y)],
    [s(x, y) - s(y, x), s(z, x) + s(x, z), s(y, z) + s(z, y), s(z, z) - s(x, x) - s(y, y)],
  ]);
  const { realEigenvalues, eigenvectorMatrix } = new EigenvalueDecomposition(n, { assumeSymmetric: true });
  const column = realEigenvalues.indexOf(Math.max(...realEigenvalues));
  return turnOfQuaternion(eigenvectorMatrix.getColumn(column) as [number, number, number, number]);
}

describe('the closest pose of paired points', () => {
  it.each([1, 2, 3, 4, 5])('recovers an exact motion, seed %i', (seed) => {
    const from = cloud(seed, 40);
    const motion = seededMotion(seed, 100);
    const to = from.map((p) => movePoint(motion, p));
    const pose = closestPose(sumsOf(from, to));
    for (const [i, p] of from.entries()) expect(distance(posed(pose, p), to[i])).toBeLessThan(1e-10);
    expect(determinantOf(pose.rotation)).toBeCloseTo(1, 12);
    for (const p of from) expect(distance(posed(inverted(pose), posed(pose, p)), p)).toBeLessThan(1e-10);
  });

  it.each([11, 12, 13])('agrees with Horn’s quaternions (1987) on noisy pairs, seed %i', (seed) => {
    const from = cloud(seed, 60);
    const motion = seededMotion(seed, 50);
    const random = seededRandom(seed);
    const to = from.map((p) => movePoint(motion, p).map((c) => c + random.normal()) as Vec3);
    const { rotation } = closestPose(sumsOf(from, to));
    expect(turnDeg(chainedTurns(transposed(rotation), hornTurn(from, to)))).toBeLessThan(1e-6);
  });

  it('rotates, and never reflects, a mirror image', () => {
    const from = cloud(3, 50);
    const { rotation } = closestPose(
      sumsOf(
        from,
        from.map(([x, y, z]): Vec3 => [-x, y, z]),
      ),
    );
    expect(determinantOf(rotation)).toBeCloseTo(1, 12);
  });
});

describe('rotations', () => {
  it.each([1e-7, 0.1, 90, 179.9])('of %f° have that angle', (angle) => {
    const k = ((angle * Math.PI) / 180) * (1 / Math.sqrt(14));
    expect(turnDeg(turnOf([k, 2 * k, -3 * k]))).toBeCloseTo(angle, 8);
  });

  it('evenly spread: no rotation is farther than 30° from one of 600', () => {
    const starts = evenTurns(600);
    let worst = 0;
    for (let seed = 1; seed <= 200; seed++) {
      const one: RigidPose = {
        rotation: turnOfQuaternion(seededMotion(seed, 1).rotation),
        translationMm: [0, 0, 0],
      };
      const nearest = Math.min(
        ...starts.map((start) => turnDeg(chainedTurns(transposed(start), one.rotation))),
      );
      worst = Math.max(worst, nearest);
    }
    expect(worst).toBeLessThan(30);
    expect(worst).toBeGreaterThan(5);
  });
});
