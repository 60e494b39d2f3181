import { describe, expect, it } from 'vitest';
import { distance, length } from '../../src/foundation/vector.js';
import { moveMesh, movePoint, seededMotion, seededRotation } from '../../src/phantoms/rigid.js';
import { type SacShape, sacField, sacMesh, sacReachMm, sacVolumeMm3 } from '../../src/phantoms/sac.js';
import { countEdges, divergenceVolume } from './mesh-checks.js';

const ellipsoid: SacShape = { centreMm: [4, -3, 8], semiAxesMm: [12, 9, 7], rotation: seededRotation(3) };
const lobulated: SacShape = {
  ...ellipsoid,
  lobes: [
    { direction: [1, 0.2, 0], height: 0.3, sharpness: 4 },
    { direction: [-0.4, 1, 0.6], height: 0.22, sharpness: 6 },
    { direction: [0, -0.5, -1], height: -0.12, sharpness: 3 },
  ],
};

describe('sac', () => {
  it('ellipsoid: 4/3 pi a b c', () => {
    expect(sacVolumeMm3(ellipsoid)).toBeCloseTo((4 / 3) * Math.PI * 12 * 9 * 7, 7);
  });

  it('lobulated: the mesh converges on the quadrature with the square of the frequency', () => {
    const exact = sacVolumeMm3(lobulated);
    expect(sacVolumeMm3(lobulated, 48) / exact).toBeCloseTo(1, 9);
    const wrong = [12, 24, 48].map(
      (frequency) => divergenceVolume(sacMesh(lobulated, frequency)) / exact - 1,
    );
    expect(wrong[2]).toBeLessThan(0);
    expect(Math.abs(wrong[2])).toBeLessThan(1.2e-3);
    expect(wrong[0] / wrong[1]).toBeGreaterThan(3.6);
    expect(wrong[1] / wrong[2]).toBeGreaterThan(3.6);
  });

  it('lobulated: counting points in the field gives the same volume', () => {
    const field = sacField(lobulated);
    const reach = sacReachMm(lobulated);
    const n = 120;
    const h = (2 * reach) / n;
    let inside = 0;
    for (let i = 0; i < n ** 3; i++) {
      const at = (k: number, c: number): number => c - reach + h * (k + 0.5);
      const p = [at(i % n, 4), at(Math.floor(i / n) % n, -3), at(Math.floor(i / (n * n)), 8)] as const;
      if (field([p[0], p[1], p[2]]) < 0) inside++;
    }
    expect((inside * h ** 3) / sacVolumeMm3(lobulated)).toBeCloseTo(1, 2.5);
  });

  it('is closed, with every vertex on the field and 20 f^2 triangles', () => {
    const mesh = sacMesh(lobulated, 9);
    expect(mesh.triangles.length / 3).toBe(20 * 81);
    expect(countEdges(mesh)).toEqual({ open: 0, repeated: 0, pinched: 0, euler: 2 });
    const field = sacField(lobulated);
    for (let i = 0; i < mesh.positions.length; i += 3) {
      expect(Math.abs(field([mesh.positions[i], mesh.positions[i + 1], mesh.positions[i + 2]]))).toBeLessThan(
        1e-9,
      );
    }
  });
});

describe('rigid motion', () => {
  it('keeps distances and volume, and differs by seed', () => {
    const motion = seededMotion(11, 50);
    expect(length([...motion.rotation.slice(1)] as [number, number, number])).toBeLessThanOrEqual(1);
    expect(Math.hypot(...motion.rotation)).toBeCloseTo(1, 12);
    expect(distance(movePoint(motion, [1, 2, 3]), movePoint(motion, [5, -2, 9]))).toBeCloseTo(
      Math.hypot(4, 4, 6),
      10,
    );
    const mesh = sacMesh(lobulated, 6);
    expect(divergenceVolume(moveMesh(motion, mesh))).toBeCloseTo(divergenceVolume(mesh), 6);
    expect(seededMotion(12, 50)).not.toEqual(motion);
    expect(seededMotion(11, 50)).toEqual(motion);
  });
});
