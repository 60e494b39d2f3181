import { describe, expect, it } from 'vitest';
import { findSelfIntersections } from '../../src/mesh/self-intersection.js';
import { weld } from '../../src/mesh/weld.js';
import { box, cylinder, gridSphere, meshOf, moved, together, tube } from './shapes.js';

describe('self-intersection', () => {
  it.each([
    ['box', box(1, 2, 3)],
    ['prism with fans', cylinder(64, 3, 10)],
    ['open tube', tube(12, 1, 5)],
    ['sphere', gridSphere(60, 10)],
    ['sphere 10 m from the origin', moved(gridSphere(60, 10), [10_000, -10_000, 10_000])],
    ['pair of boxes side by side', together(box(1, 1, 1), box(1, 1, 1, [1.001, 0, 0]))],
    ['box inside a box', together(box(10, 10, 10), box(2, 2, 2, [4, 4, 4]))],
    ['pair of boxes that touch at one corner', weld(together(box(1, 1, 1), box(1, 1, 1, [1, 1, 1]))).mesh],
  ])('finds none in a clean %s', (_, mesh) => {
    expect(findSelfIntersections(mesh)).toMatchObject({ count: 0, isComplete: true });
  });

  it('finds a box pushed through a face, with a point on that face', () => {
    const mesh = together(box(10, 10, 10), box(2, 2, 2, [4.2, 4.3, 9.1]));
    const found = findSelfIntersections(mesh);
    expect(found.count).toBeGreaterThanOrEqual(8);
    for (const [, , z] of found.points) expect(z).toBeCloseTo(10, 9);
  });

  it('finds boxes whose edges run exactly through diagonals and corners', () => {
    expect(findSelfIntersections(together(box(2, 2, 2), box(2, 2, 2, [1, 1, 1]))).count).toBeGreaterThan(0);
  });

  it('finds a triangle that cuts through the neighbour it shares a vertex with', () => {
    const mesh = meshOf(
      [
        [0, 0, 0],
        [4, 0, 0],
        [0, 4, 0],
        [2, 2, -1],
        [1.2, 1.2, 3],
      ],
      [
        [0, 1, 2],
        [0, 3, 4],
      ],
    );
    const found = findSelfIntersections(mesh);
    expect(found.count).toBe(1);
    expect(found.points[0][2]).toBeCloseTo(0, 12);
  });

  it('finds two triangles folded onto each other at their edge, but not two that lie flat or at a sharp angle', () => {
    const edge = [
      [0, 0, 0],
      [1, 0, 0],
      [0.5, 1, 0],
    ];
    const pair = (apex: number[]) =>
      findSelfIntersections(
        meshOf(
          [...edge, apex],
          [
            [0, 1, 2],
            [1, 0, 3],
          ],
        ),
      ).count;
    expect(pair([0.4, 0.8, 0])).toBe(1);
    expect(pair([0.4, -0.8, 0])).toBe(0);
    expect(pair([0.4, 0.8, 1e-4])).toBe(0);
  });

  it('finds coplanar faces that overlap, and ignores faces that only touch', () => {
    expect(findSelfIntersections(together(box(1, 1, 1), box(1, 1, 1, [1, 0.3, 0.2]))).count).toBeGreaterThan(
      0,
    );
    const flat = (dx: number) =>
      findSelfIntersections(
        meshOf(
          [
            [0, 0, 0],
            [1, 0, 0],
            [0, 1, 0],
            [dx, 0, 0],
            [dx + 1, 0, 0],
            [dx, 1, 0],
          ],
          [
            [0, 1, 2],
            [3, 4, 5],
          ],
        ),
      ).count;
    expect(flat(0.5)).toBe(1);
    expect(flat(1)).toBe(0);
  });

  it('finds the crossing of two spheres on the plane circle of known radius', () => {
    const mesh = together(gridSphere(80, 5), moved(gridSphere(80, 5), [6, 0, 0]));
    const found = findSelfIntersections(mesh, { most: 100_000 });
    expect(found.isCapped).toBe(false);
    expect(found.count).toBeGreaterThan(80);
    // circle at x = 3 with radius 4, less the sagitta of the facets
    for (const [x, y, z] of found.points) {
      expect(Math.abs(x - 3)).toBeLessThan(0.05);
      expect(Math.abs(Math.hypot(y, z) - 4)).toBeLessThan(0.05);
    }
  });

  it('stops at the requested number and says so', () => {
    const mesh = together(gridSphere(40, 5), moved(gridSphere(40, 5), [1, 0, 0]));
    expect(findSelfIntersections(mesh, { most: 3 })).toMatchObject({ count: 3, isCapped: true });
  });

  it('agrees with testing every pair on a crumpled sphere', () => {
    const crumpled = gridSphere(24, 5);
    let state = 12345;
    const random = (): number => {
      state = (Math.imul(state, 1103515245) + 12345) >>> 0;
      return state / 2 ** 32;
    };
    const mesh = { ...crumpled, positions: crumpled.positions.map((x) => x + 1.5 * (random() - 0.5)) };
    const found = findSelfIntersections(mesh, { most: 1e6 });
    expect(found.count).toBeGreaterThan(20);
    const alone = new Set<string>();
    const n = mesh.triangles.length / 3;
    for (let s = 0; s < n; s++) {
      for (let t = s + 1; t < n; t++) {
        if (pairCrosses(mesh, s, t)) alone.add(`${s},${t}`);
      }
    }
    const tree = new Set(found.pairs.flatMap((s, i) => (i % 2 === 0 ? [`${s},${found.pairs[i + 1]}`] : [])));
    expect([...tree].sort()).toEqual([...alone].sort());
  }, 30_000);

  it('handles a million triangles', () => {
    const mesh = gridSphere(1000, 20);
    expect(findSelfIntersections(mesh).count).toBe(0);
  }, 90_000);
});

/** Independent of the tested code: clips the edges of one triangle against the other in barycentric coordinates. */
function pairCrosses(
  mesh: { positions: Float64Array; triangles: Uint32Array },
  s: number,
  t: number,
): boolean {
  const corner = (f: number, k: number): number[] => {
    const p = 3 * mesh.triangles[3 * f + (k % 3)];
    return [...mesh.positions.slice(p, p + 3)];
  };
  const number = (f: number, k: number): number => mesh.triangles[3 * f + (k % 3)];
  const shares = (f: number, k: number, g: number): boolean =>
    [0, 1, 2].some((m) => number(g, m) === number(f, k));
  if ([0, 1, 2].filter((k) => shares(s, k, t)).length >= 2) return false;
  for (const [f, g] of [
    [s, t],
    [t, s],
  ]) {
    for (let k = 0; k < 3; k++) {
      if (shares(f, k, g) || shares(f, k + 1, g)) continue;
      const o = corner(f, k);
      const d = corner(f, k + 1).map((x, i) => x - o[i]);
      const a = corner(g, 0);
      const e = corner(g, 1).map((x, i) => x - a[i]);
      const h = corner(g, 2).map((x, i) => x - a[i]);
      const r = o.map((x, i) => x - a[i]);
      const det = (u: number[], v: number[], w: number[]): number =>
        u[0] * (v[1] * w[2] - v[2] * w[1]) -
        u[1] * (v[0] * w[2] - v[2] * w[0]) +
        u[2] * (v[0] * w[1] - v[1] * w[0]);
      // r + x·d = y·e + z·h by Cramer's rule
      const m = det(
        d.map((q) => -q),
        e,
        h,
      );
      const x = det(r, e, h) / m;
      const y =
        det(
          d.map((q) => -q),
          r,
          h,
        ) / m;
      const z =
        det(
          d.map((q) => -q),
          e,
          r,
        ) / m;
      if (x > 0 && x < 1 && y >= 0 && z >= 0 && y + z <= 1) return true;
    }
  }
  return false;
}
