import { describe, expect, it } from 'vitest';
import { distance, lerp, type Vec3 } from '../../src/foundation/vector.js';
import { alongLine, leastDistance } from '../../src/geometry/neighbours.js';
import { Polyline } from '../../src/geometry/polyline.js';
import { Surface } from '../../src/geometry/surface.js';
import { lineCurve } from '../../src/phantoms/curve.js';
import { moveMesh, seededMotion, seededRotation } from '../../src/phantoms/rigid.js';
import { sacMesh } from '../../src/phantoms/sac.js';
import { roundTube, sweptTube } from '../../src/phantoms/tube.js';

const ball = (centre: Vec3, radius: number, frequency = 6): Surface =>
  new Surface(sacMesh({ centreMm: centre, semiAxesMm: [radius, radius, radius] }, frequency), [0, 0, 0]);

/** Least distance between two surfaces over a fine grid of points on every triangle of both: never too small. */
function bruteForce(a: Surface, b: Surface, net = 3): number {
  const points = (s: Surface): Vec3[] => {
    const out: Vec3[] = [];
    for (let t = 0; t < s.triangleCount; t++) {
      const [p, q, r] = [0, 1, 2].map((k) => s.vertex(s.triangles[3 * t + k]));
      for (let i = 0; i <= net; i++)
        for (let j = 0; i + j <= net; j++) {
          const f = net - i === 0 ? 0 : j / (net - i);
          out.push(lerp(lerp(p, r, f), q, i / net));
        }
    }
    return out;
  };
  let least = Number.POSITIVE_INFINITY;
  const others = points(b);
  for (const p of points(a)) for (const q of others) least = Math.min(least, distance(p, q));
  return least;
}

describe('least distance', () => {
  it('two balls: distance between the centres less the radii', () => {
    const found = leastDistance(ball([0, 0, 0], 5, 24), ball([3, 4, 12], 4, 24))!;
    // vertices lie on the balls, chords inside them
    expect(found.distanceMm).toBeGreaterThanOrEqual(13 - 9 - 1e-6);
    expect(found.distanceMm).toBeLessThan(13 - 9 + 0.03);
    expect(distance(...found.points)).toBeCloseTo(found.distanceMm, 5);
  });

  it.each([1, 2, 3, 4, 5, 6])('agrees with brute force, seed %i', (seed) => {
    const body = sacMesh({ centreMm: [0, 0, 0], semiAxesMm: [4, 3, 2.5], rotation: seededRotation(seed) }, 3);
    const motion = seededMotion(seed + 40, 0);
    const a = new Surface(body, [0, 0, 0]);
    const b = new Surface(moveMesh({ ...motion, translationMm: [8, 2 + seed / 3, -3] }, body), [0, 0, 0]);
    const brute = bruteForce(a, b);
    const found = leastDistance(a, b)!.distanceMm;
    // the grid is no finer than a third of an edge, and edges meet edges at vertices only: both are at most that far off
    const edge = a.meanEdgeMm();
    expect(Math.abs(found - brute)).toBeLessThan((edge * edge) / (2 * brute) + 0.05);
    expect(leastDistance(b, a)!.distanceMm).toBeCloseTo(found, 4);
  });

  it('a coarse surface next to a fine one: the vertices of the fine one count too', () => {
    const fine = ball([0, 0, 3.1], 1, 8);
    // two large triangles and what closes them: the nearest point lies in the middle of a face
    const slab = new Surface(
      {
        positions: Float64Array.of(-50, -50, 0, 50, -50, 0, 0, 80, 0, 0, 0, -40),
        triangles: Uint32Array.of(0, 1, 2, 1, 0, 3, 2, 1, 3, 0, 2, 3),
      },
      [0, 0, 0],
    );
    expect(leastDistance(slab, fine)!.distanceMm).toBeCloseTo(2.1, 3);
    expect(leastDistance(fine, slab)!.distanceMm).toBeCloseTo(2.1, 3);
  });

  it('none between bodies that overlap or lie within each other', () => {
    expect(leastDistance(ball([0, 0, 0], 5), ball([6, 0, 0], 5))!.distanceMm).toBe(0);
    expect(leastDistance(ball([0, 0, 0], 5), ball([0, 0, 0], 1))!.distanceMm).toBe(0);
    expect(leastDistance(ball([0, 0, 0], 1), ball([0, 0, 0], 5))!.distanceMm).toBe(0);
  });

  it('counts only the stretch of a vessel asked for', () => {
    const vessel = new Surface(
      sweptTube(
        roundTube(lineCurve([0, 0, 0], [40, 0, 0]), () => 4),
        { around: 48, stepMm: 0.5 },
      ),
      [0, 0, 0],
    );
    const line = new Polyline([
      [0, 0, 0],
      [40, 0, 0],
    ]);
    const other = ball([5, 0, 10], 2, 12);
    const near = leastDistance(vessel, other)!.distanceMm;
    expect(near).toBeCloseTo(6, 1);
    const zone = leastDistance(vessel, other, alongLine(vessel, line, 20, 35, 3))!;
    // from (20, 0, 2) to the ball about (5, 0, 10)
    expect(zone.distanceMm).toBeCloseTo(Math.hypot(15, 8) - 2, 1);
    expect(zone.points[0][0]).toBeCloseTo(20, 6);
    expect(leastDistance(vessel, other, () => false)).toBeUndefined();
  });
});
