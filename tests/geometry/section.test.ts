import { describe, expect, it } from 'vitest';
import { add, cross, dot, normalize, perpendicular, scale, type Vec3 } from '../../src/foundation/vector.js';
import { cutsCap, type Section, sectionAt } from '../../src/geometry/section.js';
import { Surface } from '../../src/geometry/surface.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { lineCurve } from '../../src/phantoms/curve.js';
import { randomStream } from '../../src/phantoms/random.js';
import { moveMesh, movePoint, rotateVector, seededMotion } from '../../src/phantoms/rigid.js';
import { sacMesh } from '../../src/phantoms/sac.js';
import { sweptTube } from '../../src/phantoms/tube.js';

const mesh = sweptTube(
  { curve: lineCurve([0, 0, 0], [0, 0, 30]), semiAxisA: (s) => 3 + 0.03 * s, semiAxisB: () => 2 },
  { around: 40, stepMm: 0.7 },
);
const NORMAL: Vec3 = normalize([0.2, -0.1, 1]);
const cut = (m: TriangleMesh, point: Vec3, normal: Vec3): Section => {
  const section = sectionAt(new Surface(m, [0, 0, 0]), point, normal);
  if (!section) throw new Error('no section');
  return section;
};
const POINT: Vec3 = [0.3, -0.2, 12.34];
const base = cut(mesh, POINT, NORMAL);

function expectSame(section: Section, factor = 1): void {
  expect(section.areaMm2 / base.areaMm2).toBeCloseTo(factor ** 2, 6);
  expect(section.equivalentMm / base.equivalentMm).toBeCloseTo(factor, 6);
  expect(section.minMm / base.minMm).toBeCloseTo(factor, 6);
  expect(section.maxMm / base.maxMm).toBeCloseTo(factor, 6);
}

/** The same surface with vertices renumbered, triangles shuffled and their corners rotated. */
function renumbered(m: TriangleMesh, seed: number): TriangleMesh {
  const random = randomStream(seed);
  const shuffled = (n: number): number[] => {
    const order = Array.from({ length: n }, (_, i) => i);
    for (let i = n - 1; i > 0; i--) {
      const j = random.whole(0, i);
      [order[i], order[j]] = [order[j], order[i]];
    }
    return order;
  };
  const place = shuffled(m.positions.length / 3);
  const positions = new Float64Array(m.positions.length);
  place.forEach((to, from) => {
    positions.set(m.positions.subarray(3 * from, 3 * from + 3), 3 * to);
  });
  const triangles = shuffled(m.triangles.length / 3).flatMap((t) => {
    const turn = random.whole(0, 2);
    return [0, 1, 2].map((k) => place[m.triangles[3 * t + ((k + turn) % 3)]]);
  });
  return { positions, triangles: Uint32Array.from(triangles) };
}

describe('a section', () => {
  it.each([1, 2, 3, 4, 5])('does not depend on the numbering of the mesh, seed %i', (seed) => {
    const section = cut(renumbered(mesh, seed), POINT, NORMAL);
    expectSame(section);
    expect(section.outline.length).toBe(base.outline.length);
    section.centre.forEach((x, k) => {
      expect(x).toBeCloseTo(base.centre[k], 6);
    });
  });

  it.each([1, 2, 3])('moves with the mesh, seed %i', (seed) => {
    const motion = seededMotion(seed, 50);
    const section = cut(
      moveMesh(motion, mesh),
      movePoint(motion, POINT),
      rotateVector(motion.rotation, NORMAL),
    );
    expect(section.areaMm2 / base.areaMm2).toBeCloseTo(1, 4);
    movePoint(motion, base.centre).forEach((x, k) => {
      expect(section.centre[k]).toBeCloseTo(x, 4);
    });
  });

  it.each([0.1, 2.5, 40])('scales with the mesh, times %d', (factor) => {
    const grown = { positions: mesh.positions.map((x) => factor * x), triangles: mesh.triangles };
    expectSame(cut(grown, scale(POINT, factor), NORMAL), factor);
  });

  it('is the same in a mirror image', () => {
    const positions = mesh.positions.map((x, i) => (i % 3 === 0 ? -x : x));
    const triangles = mesh.triangles.slice();
    for (let t = 0; t < triangles.length; t += 3)
      [triangles[t + 1], triangles[t + 2]] = [triangles[t + 2], triangles[t + 1]];
    expectSame(
      cut({ positions, triangles }, [-POINT[0], POINT[1], POINT[2]], [-NORMAL[0], NORMAL[1], NORMAL[2]]),
    );
  });

  it('is the same from either side of the plane', () => expectSame(cut(mesh, POINT, scale(NORMAL, -1))));

  it('is the same from any point inside the outline', () => {
    const u = perpendicular(NORMAL);
    const v = cross(NORMAL, u);
    for (let i = 0; i < 12; i++) {
      const a = (2 * Math.PI * i) / 12;
      const point = add(POINT, add(scale(u, 1.2 * Math.cos(a)), scale(v, 1.2 * Math.sin(a))));
      expectSame(cut(mesh, point, NORMAL));
    }
  });

  it('goes through a ring of vertices, where the plane meets corners exactly', () => {
    const stations = Math.ceil(30 / 0.7);
    const ring = cut(mesh, [0, 0, (30 * 14) / stations], [0, 0, 1]);
    const a = 3 + 0.03 * ((30 * 14) / stations);
    const polygon = (40 * Math.sin((2 * Math.PI) / 40)) / 2;
    expect(ring.areaMm2).toBeCloseTo(polygon * a * 2, 6);
  });

  it('of a sphere is the circle at that height', () => {
    const ball = sacMesh({ centreMm: [0, 0, 0], semiAxesMm: [10, 10, 10] }, 40);
    const n = normalize([1, 2, -1]);
    const section = cut(ball, scale(n, 6), n);
    expect(section.equivalentMm / 16).toBeCloseTo(1, 2.5);
    expect(dot(section.centre, n)).toBeCloseTo(6, 6);
  });

  it('is none outside, and none where the outline is open', () => {
    const surface = new Surface(mesh, [0, 0, 0]);
    expect(sectionAt(surface, [20, 0, 10], [0, 0, 1])).toBeUndefined();
    const open = sweptTube(
      { curve: lineCurve([0, 0, 0], [0, 0, 30]), semiAxisA: () => 3, semiAxisB: () => 3 },
      { start: 'open', end: 'open' },
    );
    const steep = normalize([0, 1, 0.05] as Vec3);
    expect(sectionAt(new Surface(open, [0, 0, 0]), [0, 0, 15], steep)).toBeUndefined();
  });

  it('says when it cuts a cap', () => {
    const caps = Array.from({ length: 80 }, (_, i) => mesh.triangles.length / 3 - 80 + i);
    const surface = new Surface(mesh, [0, 0, 0], caps);
    const middle = sectionAt(surface, [0, 0, 15], [0, 0, 1])!;
    const slanted = sectionAt(surface, [0, 0, 29.5], normalize([1, 0, 1]))!;
    expect(cutsCap(surface, middle)).toBe(false);
    expect(cutsCap(surface, slanted)).toBe(true);
  });
});

describe('where the plane meets a ring of vertices', () => {
  const rings = sweptTube(
    { curve: lineCurve([0, 0, 0], [0, 0, 30]), semiAxisA: () => 4, semiAxisB: () => 2.5 },
    { around: 60, stepMm: 1 },
  );

  it.each([undefined, 1, 2, 3])(
    'an elliptic tube of 8 by 5 mm has its widths at every ring, motion %s',
    (seed) => {
      const motion = seed === undefined ? undefined : seededMotion(seed, 0);
      const surface = new Surface(motion ? moveMesh(motion, rings) : rings, [0, 0, 0]);
      const normal = motion ? rotateVector(motion.rotation, [0, 0, 1]) : ([0, 0, 1] as Vec3);
      for (let z = 1; z <= 29; z += 0.5) {
        const point: Vec3 = motion ? movePoint(motion, [0.2, 0.1, z]) : [0.2, 0.1, z];
        const section = sectionAt(surface, point, normal);
        expect(section, `at ${z}`).toBeDefined();
        // a chord between two of sixty corners lies within 4·(1 - cos 3 deg) of the curve
        expect(Math.abs(section!.maxMm - 8), `largest width at ${z}`).toBeLessThan(0.012);
        expect(Math.abs(section!.minMm - 5), `least width at ${z}`).toBeLessThan(0.012);
        expect(section!.equivalentMm).toBeCloseTo(
          2 * Math.sqrt(10 * ((60 * Math.sin(Math.PI / 30)) / (2 * Math.PI))),
          4,
        );
      }
    },
  );
});
