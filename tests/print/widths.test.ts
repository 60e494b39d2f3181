import { describe, expect, it } from 'vitest';
import { cross, dot, length, normalize, scale, subtract, type Vec3 } from '../../src/foundation/vector.js';
import { PointSet } from '../../src/mesh/point-set.js';
import { randomStream } from '../../src/phantoms/random.js';
import { extremeWidths, extremeWidthsAbout, widthAlong } from '../../src/print/gauges/widths.js';

/** Three orthogonal axes, rotated from those of the points' coordinates. */
const X = normalize([2, 1, -0.5]);
const Y = normalize(cross(X, [0.3, -1, 2]));
const Z = cross(X, Y);
const turned = (points: readonly Vec3[]): Float64Array =>
  Float64Array.from(points.flatMap(([x, y, z]) => [0, 1, 2].map((k) => x * X[k] + y * Y[k] + z * Z[k] + 7)));
const widths = (points: Float64Array, which: 'largest' | 'smallest'): number[] =>
  extremeWidths(new PointSet(points), which).map((w) => w.widthMm);
/** An ellipsoid by its semi-axes; the ends of all axes are among the points. */
const ellipsoid = (a: number, b: number, c: number): Vec3[] =>
  Array.from({ length: 41 * 80 }, (_, i): Vec3 => {
    const [t, p] = [(Math.PI * Math.floor(i / 80)) / 40, (Math.PI * (i % 80)) / 40];
    return [a * Math.sin(t) * Math.cos(p), b * Math.sin(t) * Math.sin(p), c * Math.cos(t)];
  });

describe('the widths that a rocked caliper finds', () => {
  it('of a cube: three of an edge, four of a diagonal', () => {
    const corners = [0, 1, 2, 3, 4, 5, 6, 7].map(
      (i): Vec3 => [i & 1, (i >> 1) & 1, i >> 2].map((c) => 10 * c) as Vec3,
    );
    const smallest = widths(turned(corners), 'smallest');
    expect(smallest).toHaveLength(3);
    for (const w of smallest) expect(w).toBeCloseTo(10, 9);
    const largest = widths(turned(corners), 'largest');
    expect(largest).toHaveLength(4);
    for (const w of largest) expect(w).toBeCloseTo(10 * Math.sqrt(3), 6);
  });

  it('of a regular tetrahedron: its edge; between two opposite edges, its edge over √2; and its height', () => {
    const corners: Vec3[] = [
      [1, 1, 1],
      [1, -1, -1],
      [-1, 1, -1],
      [-1, -1, 1],
    ];
    const edge = 2 * Math.SQRT2;
    const smallest = widths(turned(corners), 'smallest');
    expect(smallest).toHaveLength(3 + 4);
    for (const w of smallest.slice(0, 3)) expect(w).toBeCloseTo(edge / Math.SQRT2, 9);
    for (const w of smallest.slice(3)) expect(w).toBeCloseTo(edge * Math.sqrt(2 / 3), 9);
    const largest = widths(turned(corners), 'largest');
    expect(largest).toHaveLength(6);
    for (const w of largest) expect(w).toBeCloseTo(edge, 6);
  });

  it('of an ellipsoid: its axes, the middle one perpendicular to the other two', () => {
    const corners = turned(ellipsoid(13, 11, 9.5));
    const points = new PointSet(corners);
    expect(widths(corners, 'largest')[0]).toBeCloseTo(26, 6);
    // Jaws lie on the facets, a hundredth inside the ellipsoid.
    expect(Math.abs(widths(corners, 'smallest')[0] - 18.99)).toBeLessThan(0.01);
    expect(extremeWidthsAbout(points, X, 'largest')[0].widthMm).toBeCloseTo(22, 3);
    expect(Math.abs(extremeWidthsAbout(points, Z, 'smallest')[0].widthMm - 21.99)).toBeLessThan(0.01);
  });

  it('of random points: every pair, and every plane spanned by two edges, tried', () => {
    const random = randomStream(5);
    for (let n = 0; n < 20; n++) {
      const points = Array.from(
        { length: 14 },
        (): Vec3 => [20 * random.next(), 14 * random.next(), 9 * random.next()],
      );
      const flat = Float64Array.from(points.flat());
      const edges = points.flatMap((a, i) => points.slice(i + 1).map((b) => subtract(b, a)));
      expect(widths(flat, 'largest')[0]).toBeCloseTo(Math.max(...edges.map(length)), 9);
      // The smallest width of a polyhedron is perpendicular to two of its edges.
      let least = Number.POSITIVE_INFINITY;
      for (let i = 0; i < edges.length; i++)
        for (let j = i + 1; j < edges.length; j++) {
          const normal = cross(edges[i], edges[j]);
          if (length(normal) < 1e-9) continue;
          const d = normalize(normal);
          const heights = points.map((p) => dot(p, d));
          least = Math.min(least, Math.max(...heights) - Math.min(...heights));
        }
      expect(widths(flat, 'smallest')[0]).toBeCloseTo(least, 9);
    }
  });

  it('a width is that of the planes through its two points', () => {
    const w = widthAlong(new PointSet(turned(ellipsoid(3, 2, 1))), Y);
    expect(w.widthMm).toBeCloseTo(4, 6);
    expect(dot(subtract(w.high, w.low), Y)).toBeCloseTo(w.widthMm, 9);
    expect(length(subtract(w.high, scale(w.low, 1)))).toBeGreaterThanOrEqual(w.widthMm - 1e-9);
  });
});
