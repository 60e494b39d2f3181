import { describe, expect, it } from 'vitest';
import { normalize, type Vec3 } from '../../src/foundation/vector.js';
import { markFlatCaps, markRoundTip } from '../../src/geometry/caps.js';
import { Surface } from '../../src/geometry/surface.js';
import { endAtCap, extendToEnd } from '../../src/geometry/vessel-end.js';
import { lineCurve } from '../../src/phantoms/curve.js';
import { roundTube, sweptTube, type TubeOptions } from '../../src/phantoms/tube.js';

const tube = (
  options: Partial<TubeOptions>,
  lengthMm = 30,
  calibre: (s: number) => number = () => 6,
): Surface =>
  new Surface(
    sweptTube(roundTube(lineCurve([0, 0, 0], [0, 0, lengthMm]), calibre), { around: 24, ...options }),
    [0, 0, 0],
  );

/** Height z of the centre of each marked triangle. */
const marked = (surface: Surface): number[] =>
  [...surface.isCap].flatMap((cap, t) =>
    cap ? [[0, 1, 2].reduce((sum, k) => sum + surface.vertex(surface.triangles[3 * t + k])[2] / 3, 0)] : [],
  );

describe('caps', () => {
  it('a flat end: only its fan', () => {
    const surface = tube({});
    markFlatCaps(surface, () => true, [0, 0, 6], 6);
    const heights = marked(surface);
    expect(heights).toHaveLength(48);
    expect(heights.every((z) => z === 0 || z === 30)).toBe(true);
  });

  it('only at the end asked for', () => {
    const surface = tube({});
    markFlatCaps(surface, (t) => surface.vertex(surface.triangles[3 * t])[2] < 6, [0, 0, 6], 6);
    expect(marked(surface).every((z) => z === 0)).toBe(true);
    expect(marked(surface)).toHaveLength(24);
  });

  it('long facets of a coarse tube count as wall', () => {
    const surface = tube({ around: 8, stepMm: 30 });
    markFlatCaps(surface, () => true, [0, 0, 6], 6);
    expect(marked(surface)).toHaveLength(16);
    expect(marked(surface).every((z) => z === 0 || z === 30)).toBe(true);
  });

  it('a rounded tip: what faces along the vessel, within its hemisphere', () => {
    const surface = tube({ end: 'hemisphere' });
    const hit = surface.raycast([0.01, 0.02, 20], [0, 0, 1])!;
    markRoundTip(surface, hit.triangle, [0, 0, 1], [0, 0, 30], 6);
    const heights = marked(surface);
    expect(heights.length).toBeGreaterThan(48);
    expect(Math.min(...heights)).toBeGreaterThan(30);
    expect(Math.max(...heights)).toBeGreaterThan(32.8);
    // a ray to the wall marks nothing
    const wall = tube({});
    const side = wall.raycast([0, 0, 15], [1, 0.01, 0])!;
    markRoundTip(wall, side.triangle, [0, 0, 1], [0, 0, 15], 6);
    expect(marked(wall)).toEqual([]);
  });

  it('the line is followed to the end, flat or round, and stops where it leaves the lumen', () => {
    for (const end of ['flat', 'hemisphere'] as const) {
      const surface = tube({ end });
      const points = extendToEnd(surface, [0, 0, 10], [0, 0, 1], 6);
      expect(points.length).toBeGreaterThan(10);
      for (const [i, p] of points.entries()) {
        expect(Math.hypot(p[0], p[1])).toBeLessThan(0.02);
        if (i > 0) expect(p[2]).toBeGreaterThan(points[i - 1][2]);
      }
      const last = points[points.length - 1];
      expect(last[2]).toBeGreaterThan(29);
      expect(last[2]).toBeLessThan(31.2);
      const cap = endAtCap(surface, last, [0, 0, 1], 6)!;
      expect(cap[2]).toBeCloseTo(end === 'flat' ? 30 : 33, 1);
    }
  });

  it('a narrowing vessel is followed too; starting just before the end takes no step back', () => {
    const cone = tube({}, 30, (s) => 6 - 0.12 * s);
    const points = extendToEnd(cone, [0, 0, 5], [0, 0, 1], 5.4);
    expect(points[points.length - 1][2]).toBeGreaterThan(28.5);
    const near = extendToEnd(tube({}), [0, 0, 28], [0, 0, 1], 6);
    for (const p of near) {
      expect(p[2]).toBeGreaterThan(28);
      expect(p[2]).toBeLessThan(30);
    }
  });

  it('a cap farther away than two calibres is not found', () => {
    expect(endAtCap(tube({}), [0, 0, 10], [0, 0, 1], 6)).toBeUndefined();
    const slant: Vec3 = normalize([0, 0.05, 1]);
    expect(endAtCap(tube({}), [0, 0, 20], slant, 6)![2]).toBeCloseTo(30, 4);
  });
});
