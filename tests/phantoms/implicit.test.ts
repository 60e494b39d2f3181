import { describe, expect, it, vi } from 'vitest';
import {
  add,
  distance,
  dot,
  length,
  perpendicular,
  scale,
  subtract,
  type Vec3,
} from '../../src/foundation/vector.js';
import { findSelfIntersections } from '../../src/mesh/self-intersection.js';
import { arcCurve, lineCurve, splineCurve } from '../../src/phantoms/curve.js';
import { closestOnCurve, sacBody, tubeBody, unionOf } from '../../src/phantoms/field.js';
import { CELLS_PAST_RIM } from '../../src/phantoms/flat-end.js';
import { polygonise } from '../../src/phantoms/implicit.js';
import { randomStream } from '../../src/phantoms/random.js';
import { rotateVector, seededRotation } from '../../src/phantoms/rigid.js';
import { type SacShape, sacPoint, sacVolumeMm3 } from '../../src/phantoms/sac.js';
import { countEdges, divergenceVolume } from './mesh-checks.js';

// shaping implicit bodies takes seconds on a busy machine
vi.setConfig({ testTimeout: 180_000 });

const vertexList = (positions: Float64Array): Vec3[] =>
  Array.from({ length: positions.length / 3 }, (_, i) => [
    positions[3 * i],
    positions[3 * i + 1],
    positions[3 * i + 2],
  ]);

const sacShape: SacShape = {
  centreMm: [0, 0, 0],
  semiAxesMm: [11, 9, 8],
  rotation: seededRotation(5),
  lobes: [{ direction: [0.3, 1, 0.2], height: 0.25, sharpness: 5 }],
};

describe('closest point on a curve', () => {
  it('agrees with the closed form on an arc', () => {
    const arc = arcCurve([20, 0, 0], [0, 1, 0], [-1, 0, 0], 20, Math.PI / 2);
    const closest = closestOnCurve(arc, 0, arc.lengthMm);
    for (let i = 1; i < 30; i++) {
      const angle = (i / 30) * (Math.PI / 2);
      const away = 14 + (i % 9);
      const p: Vec3 = [away * Math.cos(angle), away * Math.sin(angle), (i % 5) - 2];
      const found = closest(p);
      expect(found.s).toBeCloseTo(20 * angle, 5);
      expect(found.distanceMm).toBeCloseTo(Math.hypot(away - 20, p[2]), 6);
    }
  });
});

describe('polygonised bodies', () => {
  const curve = splineCurve([
    [-40, 10, -12],
    [-28, 2, -8],
    [-16, -3, -2],
    [-6, 0, 0],
  ]);
  const calibre = (s: number): number => 6 + 0.05 * s;
  const tube = tubeBody(curve, calibre, 2);
  const bodies = [tube, sacBody(sacShape)];
  const longBodies = (cellMm: number) => [tube.past(CELLS_PAST_RIM * cellMm), sacBody(sacShape)];
  const seeds = [sacPoint(sacShape, [1, 0, 0]), tube.rim.centre];

  it.each([0, 1.2])('fused lesion, blend %f mm: closed, on the surface, flat at its end', (blendMm) => {
    const field = unionOf(bodies, blendMm);
    const mesh = polygonise(unionOf(longBodies(0.8), blendMm), {
      cellMm: 0.8,
      seeds,
      rims: [tube.rim],
      openEnds: false,
      relaxations: 2,
    });
    expect(countEdges(mesh)).toEqual({ open: 0, repeated: 0, pinched: 0, euler: 2 });
    const vertices = vertexList(mesh.positions);
    const worst = Math.max(...vertices.map((p) => Math.abs(field(p))));
    expect(worst).toBeLessThan(1e-3);
    const onRim = vertices.filter((p) => {
      const offset = subtract(p, tube.rim.centre);
      return Math.abs(dot(offset, tube.rim.inwards)) < 1e-9 && Math.abs(length(offset) - 3) < 1e-9;
    });
    expect(onRim.length).toBeGreaterThan(12);
  });

  it('volume by the divergence theorem equals the count of points inside the field', () => {
    const field = unionOf(bodies, 1);
    const mesh = polygonise(unionOf(longBodies(0.5), 1), {
      cellMm: 0.5,
      seeds,
      rims: [tube.rim],
      openEnds: false,
      relaxations: 1,
    });
    const h = 0.55;
    let inside = 0;
    for (let x = -45; x < 16; x += h) {
      for (let y = -16; y < 20; y += h) {
        for (let z = -20; z < 16; z += h) if (field([x, y, z]) < 0) inside++;
      }
    }
    expect((inside * h ** 3) / divergenceVolume(mesh)).toBeCloseTo(1, 2.5);
  });

  it('a lone sac and a lone cylinder converge on their closed forms', () => {
    const sacExact = sacVolumeMm3(sacShape);
    const cylinder = tubeBody(lineCurve([0, 0, 0], [4, 6, 20]), () => 7, 0);
    const cylinderExact = Math.PI * 3.5 ** 2 * Math.hypot(4, 6, 20) + (2 / 3) * Math.PI * 3.5 ** 3;
    const wrong = [1.2, 0.6].map((cellMm) => {
      const common = { cellMm, openEnds: false, relaxations: 2 };
      const sac = polygonise(sacBody(sacShape).value, {
        ...common,
        seeds: [sacPoint(sacShape, [0, 0, 1])],
        rims: [],
      });
      const tubeMesh = polygonise(cylinder.past(CELLS_PAST_RIM * cellMm).value, {
        ...common,
        seeds: [scale(perpendicular(cylinder.rim.inwards), 3.5)],
        rims: [cylinder.rim],
      });
      return [divergenceVolume(sac) / sacExact - 1, divergenceVolume(tubeMesh) / cylinderExact - 1];
    });
    expect(wrong[0][0] / wrong[1][0]).toBeGreaterThan(3);
    expect(wrong[0][1] / wrong[1][1]).toBeGreaterThan(2.5);
    expect(Math.abs(wrong[1][0])).toBeLessThan(3e-3);
    expect(Math.abs(wrong[1][1])).toBeLessThan(1e-2);
  });

  it('open ends leave one round rim of boundary edges', () => {
    const mesh = polygonise(unionOf(longBodies(0.8), 1), {
      cellMm: 0.8,
      seeds,
      rims: [tube.rim],
      openEnds: true,
      relaxations: 1,
    });
    const edges = countEdges(mesh);
    expect(edges.euler).toBe(1);
    expect(edges.open).toBeGreaterThan(12);
    expect(edges.repeated).toBe(0);
    expect(edges.pinched).toBe(0);
    const rimVertices = vertexList(mesh.positions).filter(
      (p) => Math.abs(distance(p, tube.rim.centre) - 3) < 1e-9,
    );
    expect(rimVertices.length).toBe(edges.open);
  });

  it('stays a manifold where two vessels leave a hard crease at a narrow angle', () => {
    for (let turn = 0; turn < 12; turn++) {
      const angle = 0.12 + 0.05 * turn;
      const one = tubeBody(lineCurve([30, 0, 0], [0, 0, 0]), () => 5, 0);
      const two = tubeBody(
        lineCurve([30 * Math.cos(angle), 30 * Math.sin(angle), 3 * Math.sin(turn)], [0, 0, 0]),
        () => 4,
        0,
      );
      const mesh = polygonise(
        unionOf(
          [one, two].map((tube) => tube.past(CELLS_PAST_RIM * 0.9)),
          0,
        ),
        {
          cellMm: 0.9,
          seeds: [[30, 0, 0]],
          rims: [one.rim, two.rim],
          openEnds: false,
          relaxations: 0,
        },
      );
      const { open, repeated, pinched } = countEdges(mesh);
      expect({ open, repeated, pinched }).toEqual({ open: 0, repeated: 0, pinched: 0 });
    }
  });

  it.each([false, true])(
    'no flat end folds over itself, however it lies in the lattice; open: %s',
    (openEnds) => {
      for (let trial = 0; trial < 60; trial++) {
        const random = randomStream(trial);
        const cellMm = random.between(0.3, 1.2);
        const calibreMm = cellMm * random.between(2.5, 12);
        const start: Vec3 = [random.next(), random.next(), random.next()];
        const along = rotateVector(seededRotation(trial), [0, 0, calibreMm + 4 * cellMm]);
        const { rim, past } = tubeBody(lineCurve(start, add(start, along)), () => calibreMm, 0);
        const mesh = polygonise(past(CELLS_PAST_RIM * cellMm).value, {
          cellMm,
          seeds: [add(start, scale(perpendicular(rim.inwards), rim.radiusMm))],
          rims: [rim],
          openEnds,
          relaxations: 2,
        });
        const said = `trial ${trial}: cells of ${cellMm} mm, calibre ${calibreMm} mm`;
        expect(countEdges(mesh), said).toMatchObject({ repeated: 0, pinched: 0, euler: openEnds ? 1 : 2 });
        expect(findSelfIntersections(mesh).count, said).toBe(0);
        const stored = { ...mesh, positions: Float64Array.from(Float32Array.from(mesh.positions)) };
        expect(findSelfIntersections(stored).count, `${said}, 32-bit`).toBe(0);
      }
    },
  );
});
