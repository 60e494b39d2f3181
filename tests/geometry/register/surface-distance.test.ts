import { describe, expect, it } from 'vitest';
import {
  cross,
  distance,
  dot,
  normalize,
  scale,
  subtract,
  type Vec3,
} from '../../../src/foundation/vector.js';
import { distanceStatistics, signedDistanceTo } from '../../../src/geometry/register/surface-distance.js';
import { sampleSurface } from '../../../src/geometry/register/surface-samples.js';
import { Surface } from '../../../src/geometry/surface.js';
import type { TriangleMesh } from '../../../src/mesh/mesh.js';
import { splineCurve } from '../../../src/phantoms/curve.js';
import { sacMesh } from '../../../src/phantoms/sac.js';
import { roundTube, sweptTube } from '../../../src/phantoms/tube.js';
import { seededRandom } from '../../../src/physiology/seeded-random.js';

const ball = (radiusMm: number, frequency: number): TriangleMesh =>
  sacMesh({ centreMm: [0, 0, 0], semiAxesMm: [radiusMm, radiusMm, radiusMm], lobes: [] }, frequency);

function statistics(from: TriangleMesh, to: TriangleMesh) {
  const samples = sampleSurface(from, 4000)!;
  const surface = new Surface(to, [0, 0, 0]);
  const signed = Float64Array.from({ length: samples.count }, (_, i) =>
    signedDistanceTo(surface, [0, 1, 2].map((k) => samples.points[3 * i + k] + samples.centreMm[k]) as Vec3),
  );
  return distanceStatistics(signed);
}

/** Nearest point of a triangle, by trying its interior, its edges and its corners: no code in common with the tree. */
function toTriangle(p: Vec3, a: Vec3, b: Vec3, c: Vec3): number {
  const n = normalize(cross(subtract(b, a), subtract(c, a)));
  const height = dot(subtract(p, a), n);
  const foot = subtract(p, scale(n, height));
  const side = (u: Vec3, v: Vec3): number => dot(cross(subtract(v, u), subtract(foot, u)), n);
  if (side(a, b) >= 0 && side(b, c) >= 0 && side(c, a) >= 0) return Math.abs(height);
  const toEdge = (u: Vec3, v: Vec3): number => {
    const e = subtract(v, u);
    const t = Math.min(1, Math.max(0, dot(subtract(p, u), e) / dot(e, e)));
    return distance(p, [u[0] + t * e[0], u[1] + t * e[1], u[2] + t * e[2]]);
  };
  return Math.min(toEdge(a, b), toEdge(b, c), toEdge(c, a));
}

describe('samples of a surface', () => {
  it('represent equal areas: mean and spread of a sphere', () => {
    const samples = sampleSurface(ball(10, 20), 4000)!;
    expect(samples.areaMm2 / (4 * Math.PI * 100)).toBeCloseTo(1, 2);
    expect(Math.hypot(...samples.centreMm)).toBeLessThan(0.1);
    // all points lie at the radius, with a third of its square along each axis
    for (let k = 0; k < 3; k++) {
      let squares = 0;
      for (let i = 0; i < samples.count; i++) squares += samples.points[3 * i + k] ** 2 / samples.count;
      expect(squares / (100 / 3)).toBeCloseTo(1, 1);
    }
  });

  it('do not follow the triangulation: a half sphere with fine triangles gets no more points', () => {
    const fine = ball(10, 30);
    const coarse = ball(10, 8);
    const half = (mesh: TriangleMesh, up: boolean): number[] => {
      const out: number[] = [];
      for (let t = 0; t < mesh.triangles.length; t += 3) {
        const z = [0, 1, 2].reduce((sum, k) => sum + mesh.positions[3 * mesh.triangles[t + k] + 2], 0);
        if (z > 0 === up) out.push(...mesh.triangles.subarray(t, t + 3));
      }
      return out;
    };
    const shift = fine.positions.length / 3;
    const mixed: TriangleMesh = {
      positions: Float64Array.from([...fine.positions, ...coarse.positions]),
      triangles: Uint32Array.from([...half(fine, true), ...half(coarse, false).map((v) => v + shift)]),
    };
    const samples = sampleSurface(mixed, 3000)!;
    let up = 0;
    for (let i = 0; i < samples.count; i++) up += samples.points[3 * i + 2] + samples.centreMm[2] > 0 ? 1 : 0;
    expect(up / samples.count).toBeCloseTo(0.5, 1);
  });
});

describe('distances between surfaces', () => {
  it('two spheres of 10 and 11 mm: 1 mm everywhere, outside positive, both ways', () => {
    const there = statistics(ball(11, 32), ball(10, 32));
    // a chord of length e lies e²/8r below the sphere: under 0.02 mm here
    for (const value of [there.meanMm, there.rmsMm, there.p95Mm, there.largestMm, there.biasMm]) {
      expect(value).toBeGreaterThan(0.97);
      expect(value).toBeLessThan(1.03);
    }
    const back = statistics(ball(10, 32), ball(11, 32));
    expect(back.biasMm).toBeGreaterThan(-1.03);
    expect(back.biasMm).toBeLessThan(-0.97);
  });

  it('a sphere shifted by d: signed mean d²/3R, d at most, by the cosine rule', () => {
    const [radius, off] = [10, 2];
    const moved = ball(radius, 32);
    const there = statistics(
      { positions: moved.positions.map((c, i) => (i % 3 === 2 ? c + off : c)), triangles: moved.triangles },
      ball(radius, 32),
    );
    // mean over the sphere of sqrt(R² + d² + 2·R·d·u) - R, u uniform from -1 to 1
    const mean = ((radius + off) ** 3 - (radius - off) ** 3) / (6 * radius * off) - radius;
    expect(mean).toBeCloseTo(off ** 2 / (3 * radius), 3);
    expect(there.biasMm).toBeCloseTo(mean, 1);
    expect(there.largestMm).toBeGreaterThan(off - 0.05);
    expect(there.largestMm).toBeLessThan(off + 0.02);
    // |cos| is uniform from 0 to 1: 95 % lie below 0.95·d, and the root mean square is d/sqrt(3)
    expect(there.p95Mm).toBeCloseTo(0.95 * off, 1);
    expect(there.rmsMm).toBeCloseTo(off / Math.sqrt(3), 1);
  });

  it('a tube within a tube: half the difference in calibre along the wall', () => {
    const axis = splineCurve([
      [0, 0, 0],
      [15, 8, 0],
      [30, 0, 5],
      [45, 4, 0],
    ]);
    const tube = (calibreMm: number): TriangleMesh =>
      sweptTube(
        roundTube(axis, () => calibreMm),
        { around: 48, stepMm: 0.5, areaTrue: true },
      );
    const there = statistics(tube(6), tube(5));
    expect(there.biasMm).toBeGreaterThan(0.45);
    expect(there.biasMm).toBeLessThan(0.51);
    expect(there.p95Mm).toBeLessThan(0.53);
  });

  it('agree with brute force over all triangles of a small mesh, closed or not', () => {
    const mesh = sacMesh({ centreMm: [1, 2, 3], semiAxesMm: [9, 7, 5], lobes: [] }, 4);
    const open: TriangleMesh = { positions: mesh.positions, triangles: mesh.triangles.slice(0, -9) };
    const corner = (v: number): Vec3 => [
      mesh.positions[3 * v],
      mesh.positions[3 * v + 1],
      mesh.positions[3 * v + 2],
    ];
    const random = seededRandom(5);
    for (const [one, count] of [
      [mesh, 300],
      [open, 300],
    ] as const) {
      const surface = new Surface(one, [0, 0, 0]);
      for (let i = 0; i < count; i++) {
        const p: Vec3 = [1 + 12 * random.normal(), 2 + 12 * random.normal(), 3 + 12 * random.normal()];
        let least = Infinity;
        for (let t = 0; t < one.triangles.length; t += 3)
          least = Math.min(
            least,
            toTriangle(
              p,
              corner(one.triangles[t]),
              corner(one.triangles[t + 1]),
              corner(one.triangles[t + 2]),
            ),
          );
        const signed = signedDistanceTo(surface, p);
        expect(Math.abs(signed)).toBeCloseTo(least, 4);
        const inside = ((p[0] - 1) / 9) ** 2 + ((p[1] - 2) / 7) ** 2 + ((p[2] - 3) / 5) ** 2;
        // away from the wall the ellipsoid's equation tells the side; over the hole of the open one nothing does
        if (one === mesh && Math.abs(inside - 1) > 0.3) expect(signed < 0).toBe(inside < 1);
      }
    }
  });
});
