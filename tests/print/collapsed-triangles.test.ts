import { describe, expect, it } from 'vitest';
import { measure } from '../../src/mesh/measures.js';
import { checkMesh, isClean, withoutLost } from '../../src/print/check-solid.js';

/**
 * A 10 mm cube whose top has two points, `apartMm` from each other, in its middle: 10 triangles on five faces, 6 on the top.
 */
function cube(apartMm: number) {
  const corners = [0, 1, 2, 3, 4, 5, 6, 7].flatMap((c) => [10 * (c & 1), 5 * (c & 2), 2.5 * (c & 4)]);
  const top = [5, 5, 10, 5 + apartMm, 5, 10];
  const quads = [
    [0, 2, 3, 1],
    [0, 1, 5, 4],
    [1, 3, 7, 5],
    [3, 2, 6, 7],
    [2, 0, 4, 6],
  ];
  const [p, q] = [8, 9];
  const roof = [
    [4, p, 6],
    [5, 7, q],
    [4, 5, q],
    [4, q, p],
    [7, 6, p],
    [7, p, q],
  ];
  return {
    positions: Float64Array.from([...corners, ...top]),
    triangles: Uint32Array.from([...quads.flatMap(([a, b, c, d]) => [a, b, c, a, c, d]), ...roof.flat()]),
  };
}

describe('triangles that 32-bit coordinates collapse into lines', () => {
  it('are left out; the body stays closed, with the same volume', () => {
    const mesh = cube(1e-9);
    expect(checkMesh(mesh)).toMatchObject({ isWatertight: false, degenerate: 2 });
    const kept = withoutLost(mesh);
    expect(kept.triangles.length / 3).toBe(14);
    expect(isClean(checkMesh(kept))).toBe(true);
    expect(measure(kept).volumeMm3).toBeCloseTo(1000, 9);
  });

  it('a mesh without any is returned unchanged', () => {
    const mesh = cube(1);
    expect(isClean(checkMesh(mesh))).toBe(true);
    expect(withoutLost(mesh)).toBe(mesh);
  });
});
