import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import { branchOpening, branchPlace } from '../../src/geometry/branch-opening.js';
import { measureParts, type PartSurface } from '../../src/geometry/measure-parts.js';
import { neckOnSac } from '../../src/geometry/neck.js';
import { Polyline } from '../../src/geometry/polyline.js';
import { Surface } from '../../src/geometry/surface.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { lineCurve } from '../../src/phantoms/curve.js';
import { sacMesh } from '../../src/phantoms/sac.js';
import { roundTube, sweptTube } from '../../src/phantoms/tube.js';
import { numberOf } from '../../src/rules/rule.js';
import { DEFINITIONS, NO_SCAN, RULES } from './make.js';

const tubeMesh = (from: Vec3, to: Vec3, calibreMm: number): TriangleMesh =>
  sweptTube(
    roundTube(lineCurve(from, to), () => calibreMm),
    { around: 96, stepMm: 0.25, areaTrue: true },
  );
const tube = (from: Vec3, to: Vec3, calibreMm: number): Surface =>
  new Surface(tubeMesh(from, to, calibreMm), [0, 0, 0]);
const straight = (from: Vec3, to: Vec3): Polyline => new Polyline([from, to]).resampled(0.5);
const ballMesh = sacMesh({ centreMm: [0, 0, 0], semiAxesMm: [10, 10, 10] }, 48);
const ball = new Surface(ballMesh, [0, 0, 0]);

describe('neck where a centreline enters the sac', () => {
  it('of a line that enters: at the wall', () => {
    const neck = neckOnSac(straight([-40, 0, 0], [-8, 0, 0]), ball, 6, 3)!;
    expect(neck.atMm).toBeCloseTo(30, 2);
    expect(neck.gapMm).toBe(0);
  });

  it('off centre: at sqrt(R² - y²)', () => {
    const neck = neckOnSac(straight([-40, 6, 0], [-5, 6, 0]), ball, 6, 3)!;
    expect(neck.atMm).toBeCloseTo(40 - 8, 1);
  });

  const mostMm = numberOf(RULES, 'largest-neck-gap');
  it.each([
    [1, true],
    [mostMm - 0.1, true],
    [mostMm + 0.1, false],
  ])('of a line that stops %d mm short: %s', (gap, isJoined) => {
    const neck = neckOnSac(straight([-40, 0, 0], [-10 - gap, 0, 0]), ball, 6, mostMm);
    expect(neck !== undefined).toBe(isJoined);
    if (!neck) return;
    expect(neck.gapMm).toBeCloseTo(gap, 1);
    expect(neck.atMm).toBeCloseTo(30, 1);
    expect(neck.line.lengthMm).toBeCloseTo(30, 1);
  });

  it('is extended along the course of its last calibre, not along its last step', () => {
    // points 0.5 mm apart, alternately 0.05 mm to either side: the parabola through those of the last 4 mm ends 2 degrees off
    // the axis, one through the last three 22 degrees
    const points = Array.from({ length: 57 }, (_, i): Vec3 => [0.5 * i - 40, i % 2 === 0 ? 0.05 : -0.05, 0]);
    const neck = neckOnSac(new Polyline(points), ball, 5, 3)!;
    expect(neck.gapMm).toBeCloseTo(2, 1);
    expect(Math.abs(neck.line.points.at(-1)![1])).toBeLessThan(0.2);
  });

  it('of a vessel that runs up between two lobes of a sac: on the lobe ahead, not the one behind', () => {
    const behind = sacMesh({ centreMm: [-34, 0, 0], semiAxesMm: [5, 5, 5] }, 48);
    const lobes = new Surface(
      {
        positions: Float64Array.from([...ballMesh.positions, ...behind.positions]),
        triangles: Uint32Array.from([
          ...ballMesh.triangles,
          ...behind.triangles.map((vertex) => vertex + ballMesh.positions.length / 3),
        ]),
      },
      [0, 0, 0],
    );
    // 70 mm along y, then 8 mm towards the ball; 2 mm are missing
    const line = new Polyline([
      [-20, -70, 0],
      [-20, 0, 0],
      [-12, 0, 0],
    ]).resampled(0.5);
    const neck = neckOnSac(line, lobes, 5, 3)!;
    expect(neck.gapMm).toBeCloseTo(2, 1);
    expect(neck.atMm).toBeCloseTo(80, 1);
  });

  it('of a line that passes by: none', () => {
    expect(neckOnSac(straight([-40, 12, 0], [40, 12, 0]), ball, 6, 3)).toBeUndefined();
  });
});

describe('a branch on its parent', () => {
  const parent = tube([0, 0, 0], [40, 0, 0], 7);
  const parentLine = straight([0, 0, 0], [40, 0, 0]);

  it('at a right angle its opening is as wide as its calibre', () => {
    const opening = branchOpening(tube([22, 0, 18], [22, 0, 0], 3), parent, parentLine, 0.25)!;
    expect(Math.abs(opening.fromMm - 20.5)).toBeLessThan(0.02);
    expect(Math.abs(opening.toMm - 23.5)).toBeLessThan(0.02);
    const place = branchPlace(straight([22, 0, 18], [22, 0, 3.5]), parentLine, 3);
    expect(place.atMm).toBeCloseTo(22, 6);
    expect(Math.hypot(place.point[1], place.point[2])).toBeLessThan(1e-6);
  });

  it('at 45 degrees its opening is its calibre divided by the sine, along the wall', () => {
    // axis through (20, 0, 0) along (1, 0, 1); where it meets z = 3.5 the cut runs from 23.5 - 1.5·√2 to 23.5 + 1.5·√2
    const opening = branchOpening(tube([38, 0, 18], [20, 0, 0], 3), parent, parentLine, 0.25)!;
    expect(Math.abs(opening.toMm - (23.5 + 1.5 * Math.SQRT2))).toBeLessThan(0.05);
    // towards the sides the wall falls away, and the sleeve reaches slightly farther back there
    expect(opening.fromMm).toBeLessThan(23.5 - 1.5 * Math.SQRT2 + 0.05);
    expect(opening.fromMm).toBeGreaterThan(23.5 - 1.5 * Math.SQRT2 - 0.6);
  });

  it('that stops short of the wall: its end serves as the opening', () => {
    const opening = branchOpening(tube([22, 0, 18], [22, 0, 3.8], 3), parent, parentLine, 0.25)!;
    expect(opening.fromMm).toBeGreaterThan(20.4);
    expect(opening.toMm).toBeLessThan(23.6);
    expect(opening.toMm - opening.fromMm).toBeGreaterThan(1);
  });
});

describe('parts that do not fit together', () => {
  const part = (name: string, role: PartSurface['role'], mesh: TriangleMesh, of?: string): PartSurface => ({
    name,
    role,
    mesh,
    of,
    capTriangles: [],
    spare: false,
  });
  const sac = part('sac', 'sac', ballMesh);

  it('a feeder that stops 2 mm short is joined, with a note; one that stops 5 mm short is not', () => {
    const near = measureParts(
      [part('A1', 'feeder', tubeMesh([-45, 0, 0], [-12, 0, 0], 5)), sac],
      DEFINITIONS,
      NO_SCAN,
    );
    expect(near.findings.map((f) => f.id)).toEqual(['neck-gap']);
    expect(near.lesion.vessels[0].neck!.atMm).toBeCloseTo(35, 1);
    expect(near.lesion.vessels[0].landing!.lengthMm).toBeGreaterThan(30);
    const far = measureParts(
      [part('A1', 'feeder', tubeMesh([-45, 0, 0], [-15, 0, 0], 5)), sac],
      DEFINITIONS,
      NO_SCAN,
    );
    expect(far.findings.map((f) => [f.id, f.level])).toEqual([['neck-not-found', 'stop']]);
    // a stop with values next to it would be no stop
    expect(far.lesion.vessels).toEqual([]);
  });

  it('a feeder with a branch near the sac has no landing zone, and says why', () => {
    const { lesion, findings } = measureParts(
      [
        part('A1', 'feeder', tubeMesh([-45, 0, 0], [-8, 0, 0], 5)),
        part('B1', 'branch', tubeMesh([-15, 0, 14], [-15, 0, 0], 3), 'A1'),
        sac,
      ],
      DEFINITIONS,
      NO_SCAN,
    );
    expect(findings).toEqual([]);
    const feeder = lesion.vessels[0];
    expect(feeder.branches[0]).toMatchObject({ name: 'B1' });
    expect(Math.abs(feeder.branches[0].toMm - 31.5)).toBeLessThan(0.05);
    expect(feeder.landing).toBeUndefined();
    expect(feeder.landingAbsentBecause).toContain('3.5 mm');
    expect(feeder.landingAbsentBecause).toContain('last branch');
  });

  it('without a sac there are lengths and calibres, and no neck', () => {
    const { lesion } = measureParts(
      [part('A1', 'feeder', tubeMesh([0, 0, 0], [30, 0, 0], 5))],
      DEFINITIONS,
      NO_SCAN,
    );
    expect(lesion.sac).toBeUndefined();
    expect(lesion.vessels[0].lengthMm).toBeCloseTo(30, 1);
    expect(lesion.vessels[0].calibreMm.mean).toBeCloseTo(5, 2);
    expect(lesion.vessels[0].neck).toBeUndefined();
  });
});

describe('a polyline', () => {
  const bent = new Polyline([
    [0, 0, 0],
    [3, 0, 0],
    [3, 4, 0],
  ]);

  it('gives its length, points on it and parts of it', () => {
    expect(bent.lengthMm).toBe(7);
    expect(bent.pointAt(5)).toEqual([3, 2, 0]);
    expect(bent.project([4, 3, 0])).toEqual({ at: 6, distanceMm: 1, point: [3, 3, 0] });
    expect(bent.between(1, 5).points).toEqual([
      [1, 0, 0],
      [3, 0, 0],
      [3, 2, 0],
    ]);
    const even = bent.resampled(1);
    expect(even.points).toHaveLength(8);
    expect(even.points[7]).toEqual([3, 4, 0]);
  });

  it('keeps the direction and radius of a bend', () => {
    const arc = new Polyline(
      Array.from({ length: 41 }, (_, i): Vec3 => {
        const a = (Math.PI / 2) * (i / 40);
        return [20 * Math.sin(a), 20 * (1 - Math.cos(a)), 0];
      }),
    );
    for (const at of [0, 5, 15, 25, arc.lengthMm]) {
      const [x, y] = arc.directionAt(at, 3);
      expect(Math.atan2(y, x)).toBeCloseTo(at / 20, 2);
    }
  });
});
