import manifoldFactory from 'manifold-3d';
import { describe, expect, it } from 'vitest';
import { distance, dot, length, normalize, type Vec3 } from '../../src/foundation/vector.js';
import { principalAxes } from '../../src/geometry/principal-axes.js';
import { measureBody } from '../../src/geometry/sac-measure.js';
import { moveMesh, seededMotion, seededRotation } from '../../src/phantoms/rigid.js';
import { type SacShape, sacMesh, sacVolumeMm3 } from '../../src/phantoms/sac.js';

const SHAPES: Record<string, SacShape> = {
  sphere: { centreMm: [3, -4, 5], semiAxesMm: [10, 10, 10] },
  ellipsoid: { centreMm: [30, 0, 0], semiAxesMm: [14, 9, 6], rotation: seededRotation(4) },
  'one lobe': {
    centreMm: [0, 0, 0],
    semiAxesMm: [9, 8, 8],
    lobes: [{ direction: [1, 0.2, 0], height: 0.3, sharpness: 5 }],
  },
  'four lobes': {
    centreMm: [-5, 2, 8],
    semiAxesMm: [12, 11, 10],
    rotation: seededRotation(9),
    lobes: [
      { direction: [1, 0, 0], height: 0.25, sharpness: 6 },
      { direction: [-0.3, 1, 0], height: 0.2, sharpness: 4 },
      { direction: [0, -0.5, 1], height: 0.3, sharpness: 8 },
      { direction: [0, 0, -1], height: 0.15, sharpness: 3 },
    ],
  },
};

describe.each(Object.entries(SHAPES))('%s', (_, shape) => {
  const exact = sacVolumeMm3(shape);

  it('volume within 1 % of the quadrature, converging as the square of the edge', () => {
    const [coarse, fine] = [12, 24].map((frequency) => {
      const mesh = sacMesh(shape, frequency);
      return measureBody(mesh.positions, mesh.triangles).volumeMm3 / exact - 1;
    });
    expect(Math.abs(coarse)).toBeLessThan(0.01);
    expect(coarse / fine).toBeGreaterThan(3.5);
    expect(coarse / fine).toBeLessThan(4.5);
  });

  it('does not depend on position; scaled by s it has s³ times the volume', () => {
    const mesh = sacMesh(shape, 10);
    const here = measureBody(mesh.positions, mesh.triangles);
    const moved = moveMesh(seededMotion(17, 100), mesh);
    const there = measureBody(moved.positions, moved.triangles);
    expect(there.volumeMm3 / here.volumeMm3).toBeCloseTo(1, 9);
    expect(there.surfaceMm2 / here.surfaceMm2).toBeCloseTo(1, 9);
    expect(there.longestMm).toBeCloseTo(here.longestMm, 6);
    // a body of revolution has no distinct second and third axis
    expect(there.axesMm[0]).toBeCloseTo(here.axesMm[0], shape === SHAPES.sphere ? 0 : 5);
    const large = measureBody(
      mesh.positions.map((x) => 2.5 * x),
      mesh.triangles,
    );
    expect(large.volumeMm3 / here.volumeMm3).toBeCloseTo(2.5 ** 3, 8);
    expect(large.longestMm).toBeCloseTo(2.5 * here.longestMm, 8);
  });

  it('longest distance: no pair of vertices is farther apart', () => {
    const mesh = sacMesh(shape, 8);
    const found = measureBody(mesh.positions, mesh.triangles);
    const points = Array.from({ length: mesh.positions.length / 3 }, (_, i) =>
      Array.from(mesh.positions.slice(3 * i, 3 * i + 3)),
    ) as Vec3[];
    let longest = 0;
    for (const a of points) for (const b of points) longest = Math.max(longest, distance(a, b));
    expect(found.longestMm).toBeCloseTo(longest, 9);
    expect(distance(...found.longestEnds)).toBeCloseTo(longest, 9);
  });

  it('volume and area as the manifold library computes them, within 0.1 %', async () => {
    const library = await manifoldFactory();
    library.setup();
    const mesh = sacMesh(shape, 16);
    const body = new library.Manifold(
      new library.Mesh({
        numProp: 3,
        vertProperties: Float32Array.from(mesh.positions),
        triVerts: mesh.triangles,
      }),
    );
    const ours = measureBody(mesh.positions, mesh.triangles);
    expect(Math.abs(ours.volumeMm3 / body.volume() - 1)).toBeLessThan(1e-3);
    expect(Math.abs(ours.surfaceMm2 / body.surfaceArea() - 1)).toBeLessThan(1e-3);
    body.delete();
  });
});

describe('axes', () => {
  it('of an ellipsoid, and its centre', () => {
    const mesh = sacMesh(SHAPES.ellipsoid, 24);
    const body = measureBody(mesh.positions, mesh.triangles);
    [28, 18, 12].forEach((axis, k) => {
      expect(Math.abs(body.axesMm[k] / axis - 1)).toBeLessThan(0.005);
    });
    expect(body.longestMm / 28).toBeCloseTo(1, 2);
    expect(distance(body.centre, SHAPES.ellipsoid.centreMm)).toBeLessThan(0.02);
    // the surface of an ellipsoid: Thomsen's formula, p = 1.6075, good to 1.1 % (from memory)
    const [a, b, c] = [14, 9, 6].map((x) => x ** 1.6075);
    const area = 4 * Math.PI * ((a * b + a * c + b * c) / 3) ** (1 / 1.6075);
    expect(Math.abs(body.surfaceMm2 / area - 1)).toBeLessThan(0.015);
  });

  it('of a symmetric matrix: unit, orthogonal, and only scaled by it', () => {
    for (const matrix of [
      [
        [2, 0, 0],
        [0, 3, 0],
        [0, 0, 5],
      ],
      [
        [4, 1, -2],
        [1, 3, 0.5],
        [-2, 0.5, 7],
      ],
      [
        [1, 1, 1],
        [1, 1, 1],
        [1, 1, 1],
      ],
      [
        [0, 0, 0],
        [0, 0, 0],
        [0, 0, 0],
      ],
    ]) {
      const axes = principalAxes(matrix);
      axes.forEach((axis, i) => {
        expect(length(axis)).toBeCloseTo(1, 12);
        expect(dot(axis, axes[(i + 1) % 3])).toBeCloseTo(0, 12);
        const image = matrix.map((row) => dot(row as Vec3, axis)) as Vec3;
        const eigenvalue = dot(image, axis);
        image.forEach((x, k) => {
          expect(x).toBeCloseTo(eigenvalue * axis[k], 10);
        });
      });
    }
    expect(normalize([0, 0, 0])).toEqual([0, 0, 0]);
  });
});
