import { describe, expect, it, vi } from 'vitest';
import { add, distance, dot, scale, subtract, type Vec3 } from '../../src/foundation/vector.js';
import { surfaceDistances } from '../../src/geometry/geodesic.js';
import type { ProfileSample } from '../../src/geometry/measure.js';
import { calibreProfile } from '../../src/geometry/profile.js';
import { Surface } from '../../src/geometry/surface.js';
import { type VesselLine, vesselCentreline } from '../../src/geometry/vessel-centreline.js';
import { boundaryLoops } from '../../src/mesh/boundary-loops.js';
import { CAP_PLANARITY_FRACTION, capPlanarLoops } from '../../src/mesh/cap.js';
import { pairEdges } from '../../src/mesh/edge-pairing.js';
import { prepareSurface } from '../../src/mesh/load-surface.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { readMesh } from '../../src/mesh/read/read-mesh.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { arcCurve, helixCurve, lineCurve } from '../../src/phantoms/curve.js';
import { calibreFunction } from '../../src/phantoms/radius.js';
import { moveMesh, movePoint, type RigidMotion, seededMotion } from '../../src/phantoms/rigid.js';
import { roundTube, sweptTube, type TubeEnd, type TubeShape } from '../../src/phantoms/tube.js';
import { readCheckValues, worked } from '../check-values/read-check-values.js';
import { IS_LONG } from './make.js';

vi.setConfig({ testTimeout: 120_000 });

const line = lineCurve([0, 0, 0], [0, 0, 40]);
const SHAPES: Record<string, TubeShape> = {
  cylinder: roundTube(line, () => 6),
  cone: roundTube(line, calibreFunction({ kind: 'cone', fromMm: 8, toMm: 3 }, 40)),
  torus: roundTube(arcCurve([0, 0, 0], [0, 0, 1], [1, 0, 0], 20, Math.PI / 2), () => 5),
  helix: roundTube(helixCurve([0, 0, 0], [0, 0.2, 1], 12, 18, 1.2), () => 4),
  ellipse: { curve: line, semiAxisA: () => 4, semiAxisB: () => 2.25 },
  stenosis: roundTube(
    line,
    calibreFunction({ kind: 'stenosis', calibreMm: 6, narrowestMm: 3, atMm: 20, widthMm: 16 }, 40),
  ),
  funnel: roundTube(line, calibreFunction({ kind: 'funnel', calibreMm: 5, mouthMm: 7, overMm: 12 }, 40)),
};

interface Measured {
  line: VesselLine;
  profile: ProfileSample[];
  at(mm: number): ProfileSample;
}

/** Measures a tube; `near` is a point on its axis at the end that would meet the sac. */
function measured(mesh: TriangleMesh, near: Vec3, direction: Vec3, capTriangles: number[] = []): Measured {
  const surface = new Surface(mesh, near, capTriangles);
  const ends: number[] = [];
  for (let v = 0; v < surface.vertexCount; v++) {
    const p = surface.vertex(v);
    if (dot(p, direction) > -0.05 && distance(p, [0, 0, 0]) < 12) ends.push(v);
  }
  const found = vesselCentreline(surface, surfaceDistances(surface, ends));
  if (!found) throw new Error('no centreline');
  const profile = calibreProfile(surface, found.line, found.calibreMm, {
    fromMm: 0,
    toMm: found.line.lengthMm,
    stepMm: 0.5,
  });
  return {
    line: found,
    profile,
    at: (mm) => profile.reduce((a, b) => (Math.abs(b.atMm - mm) < Math.abs(a.atMm - mm) ? b : a)),
  };
}

function measuredShape(
  name: string,
  around: number,
  motion: RigidMotion,
  ends: { start: TubeEnd; end: TubeEnd } = { start: 'flat', end: 'flat' },
): Measured {
  const shape = SHAPES[name];
  const { lengthMm } = shape.curve;
  const mesh = moveMesh(motion, sweptTube(shape, { around, stepMm: 0.5, ...ends }));
  const tangent = shape.curve.tangentAt(lengthMm);
  const near = movePoint(motion, shape.curve.pointAt(lengthMm));
  const direction = subtract(movePoint(motion, add(shape.curve.pointAt(lengthMm), tangent)), near);
  if (ends.start !== 'open' && ends.end !== 'open') return measured(mesh, near, direction);
  const capped = capPlanarLoops(mesh, boundaryLoops(mesh, pairEdges(mesh).twin), {
    planarityFraction: CAP_PLANARITY_FRACTION,
  });
  const caps = capped.caps.flatMap((c) => Array.from({ length: c.to - c.from }, (_, i) => c.from + i));
  return measured(capped.mesh, near, direction, caps);
}

/** 10 m from the origin along a slant. */
const FAR: Vec3 = scale([0.6, -0.64, 0.48], 10_000);

describe('closed forms', () => {
  const known = new Map<string, Measured>();
  const of = (shape: string, around: number): Measured => {
    const key = `${shape} ${around}`;
    const there = known.get(key) ?? measuredShape(shape, around, seededMotion(around, 400));
    known.set(key, there);
    return there;
  };

  it.each(readCheckValues('geometry').map((row) => [`${row.id}, ${row.source}`, row] as const))(
    '%s',
    (_, row) => {
      const m = of(row.word('shape'), row.need('around'));
      const value = worked(row, {
        calibre: () => m.at(row.need('at_mm')).equivalentMm,
        widest: () => m.at(row.need('at_mm')).maxMm,
        narrowest: () => m.at(row.need('at_mm')).minMm,
        length: () => m.line.line.lengthMm,
      });
      expect(Math.abs(value - row.expected)).toBeLessThanOrEqual(row.tolerance);
    },
  );
});

/** Calibre of an n-gon as a share of the calibre of its smooth section. */
const polygon = (n: number): number => Math.sqrt((n * Math.sin((2 * Math.PI) / n)) / (2 * Math.PI));

function expectShape(name: string, around: number, m: Measured, start = 0): void {
  const shape = SHAPES[name];
  const { lengthMm } = shape.curve;
  expect(m.profile.length, name).toBeGreaterThan(lengthMm / 0.5 - 10);
  for (const s of m.profile) {
    const at = s.atMm - start;
    if (at < 0.5 || at > lengthMm - 0.5) continue;
    const smooth = 2 * Math.sqrt(shape.semiAxisA(at) * shape.semiAxisB(at));
    const expected = smooth * polygon(around);
    const within = Math.max(0.02 * expected, 0.05);
    expect(Math.abs(s.equivalentMm - expected), `${name} at ${s.atMm}: ${s.equivalentMm}`).toBeLessThan(
      within,
    );
    expect(s.areaMm2).toBeCloseTo((Math.PI / 4) * s.equivalentMm ** 2, 9);
    expect(s.minMm).toBeLessThanOrEqual(s.maxMm);
  }
}

describe.each(Object.keys(SHAPES))('%s', (name) => {
  it.each([16, 24, 48])('along its whole length, %i corners around, rotated and translated', (around) => {
    for (const seed of IS_LONG ? [1, 2, 3, 4, 5, 6, 7, 8] : [around]) {
      const m = measuredShape(name, around, seededMotion(seed, 300));
      expectShape(name, around, m);
      expect(Math.abs(m.line.line.lengthMm / SHAPES[name].curve.lengthMm - 1)).toBeLessThan(0.01);
    }
  });

  it('open at both ends and capped flat', () => {
    const m = measuredShape(name, 32, seededMotion(5, 100), { start: 'open', end: 'open' });
    expectShape(name, 32, m);
    expect(Math.abs(m.line.line.lengthMm / SHAPES[name].curve.lengthMm - 1)).toBeLessThan(0.01);
  });

  it('with a rounded far end: the line starts at its tip', () => {
    const shape = SHAPES[name];
    const m = measuredShape(name, 32, seededMotion(6, 100), { start: 'hemisphere', end: 'flat' });
    const tip = Math.sqrt(shape.semiAxisA(0) * shape.semiAxisB(0));
    expect(Math.abs(m.line.line.lengthMm / (shape.curve.lengthMm + tip) - 1)).toBeLessThan(0.01);
    const first = m.profile[0].atMm;
    expect(first).toBeGreaterThan(0.5 * tip);
    expect(first).toBeLessThan(tip + 1.5);
    expectShape(name, 32, m, tip);
  });

  it('10 m from the origin, also as 32-bit numbers of a binary STL', async () => {
    const motion = { ...seededMotion(8, 0), translationMm: FAR };
    const shape = SHAPES[name];
    const { lengthMm } = shape.curve;
    const exact = measuredShape(name, 32, motion);
    expectShape(name, 32, exact);
    const near = movePoint(motion, shape.curve.pointAt(lengthMm));
    const direction = subtract(
      movePoint(motion, add(shape.curve.pointAt(lengthMm), shape.curve.tangentAt(lengthMm))),
      near,
    );
    const bytes = writeStl(moveMesh(motion, sweptTube(shape, { around: 32, stepMm: 0.5 })));
    const file = await readMesh(bytes, 'tube.stl');
    const rounded = prepareSurface(file, { unitMm: 1, label: name, shown: 'tube.stl' }).mesh;
    const again = measured(rounded, near, direction);
    expectShape(name, 32, again);
    expect(Math.abs(again.line.line.lengthMm / lengthMm - 1)).toBeLessThan(0.01);
  });
});

it('a finer polygon approaches the smooth calibre as the square of its corner count', () => {
  const missing = [16, 32, 64].map(
    (n) => 6 - measuredShape('cylinder', n, seededMotion(n, 50)).at(20).equivalentMm,
  );
  expect(missing[0] / missing[1]).toBeGreaterThan(3.8);
  expect(missing[0] / missing[1]).toBeLessThan(4.2);
  expect(missing[1] / missing[2]).toBeGreaterThan(3.8);
  expect(missing[1] / missing[2]).toBeLessThan(4.2);
});
