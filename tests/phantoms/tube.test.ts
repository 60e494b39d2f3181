import { describe, expect, it } from 'vitest';
import { distance, dot, length, subtract } from '../../src/foundation/vector.js';
import {
  arcCurve,
  type Curve,
  helixCurve,
  lineCurve,
  rotationMinimisingFrames,
  splineCurve,
} from '../../src/phantoms/curve.js';
import { calibreFunction } from '../../src/phantoms/radius.js';
import { areaTrueFactor, roundTube, sweptTube, type TubeEnd, tubeTruth } from '../../src/phantoms/tube.js';
import { countEdges, divergenceVolume } from './mesh-checks.js';

const line = lineCurve([3, -2, 5], [3 + 12, -2 + 16, 5 + 15]);
const arc = arcCurve([0, 0, 0], [0, 0, 1], [1, 0, 0], 20, Math.PI / 2);
const helix = helixCurve([1, 2, 3], [0.2, 0.3, 1], 12, 18, 1.5);
const spline = splineCurve([
  [0, 0, 0],
  [8, 6, 4],
  [18, 4, 12],
  [24, -6, 20],
  [30, -4, 34],
]);

describe('curves', () => {
  it('have the length of their closed forms', () => {
    expect(line.lengthMm).toBeCloseTo(25, 12);
    expect(arc.lengthMm).toBeCloseTo(10 * Math.PI, 12);
    expect(helix.lengthMm).toBeCloseTo(1.5 * Math.hypot(2 * Math.PI * 12, 18), 10);
  });

  it.each<[string, Curve]>([
    ['line', line],
    ['arc', arc],
    ['helix', helix],
    ['spline', spline],
  ])('%s runs at unit speed along its tangent', (_, curve) => {
    for (let s = 0.5; s < curve.lengthMm - 0.5; s += 1.7) {
      const h = 1e-4;
      const moved = distance(curve.pointAt(s + h), curve.pointAt(s - h)) / (2 * h);
      expect(moved).toBeCloseTo(1, 6);
      expect(length(curve.tangentAt(s))).toBeCloseTo(1, 12);
    }
  });

  it('spline passes through its points and gives the length that chords converge to', () => {
    let chords = 0;
    const n = 20000;
    for (let i = 0; i < n; i++) {
      chords += distance(
        spline.pointAt((spline.lengthMm * i) / n),
        spline.pointAt((spline.lengthMm * (i + 1)) / n),
      );
    }
    expect(chords).toBeCloseTo(spline.lengthMm, 6);
    expect(distance(spline.pointAt(spline.lengthMm), [30, -4, 34])).toBeLessThan(1e-9);
  });

  it('frames rotate against the normal of a helix by its total torsion, and not at all on a plane arc', () => {
    const twist = (curve: Curve): number => {
      const n = 800;
      const frames = rotationMinimisingFrames(
        curve,
        Array.from({ length: n + 1 }, (_, i) => (curve.lengthMm * i) / n),
      );
      let total = 0;
      let before = 0;
      frames.forEach((f, i) => {
        expect(Math.abs(dot(f.u, f.tangent))).toBeLessThan(1e-12);
        expect(Math.abs(dot(f.u, f.v))).toBeLessThan(1e-12);
        const h = 1e-3;
        const middle = Math.min(Math.max(f.s, h), curve.lengthMm - h);
        const normal = subtract(curve.tangentAt(middle + h), curve.tangentAt(middle - h));
        const angle = Math.atan2(dot(normal, f.v), dot(normal, f.u));
        if (i > 0) total += Math.atan2(Math.sin(angle - before), Math.cos(angle - before));
        before = angle;
      });
      return total;
    };
    const rise = 18 / (2 * Math.PI);
    const torsion = rise / (12 * 12 + rise * rise);
    expect(twist(helix)).toBeCloseTo(torsion * helix.lengthMm, 3);
    expect(twist(arc)).toBeCloseTo(0, 6);
  });
});

describe('swept tube', () => {
  const ngon = (n: number): number => (n * Math.sin((2 * Math.PI) / n)) / (2 * Math.PI);

  it('cylinder: the volume of the n-gon prism, and of the cylinder when area-preserving', () => {
    const shape = roundTube(line, () => 6);
    const exact = Math.PI * 9 * 25;
    expect(tubeTruth(shape).volumeMm3).toBeCloseTo(exact, 8);
    for (const around of [8, 16, 32]) {
      expect(divergenceVolume(sweptTube(shape, { around }))).toBeCloseTo(exact * ngon(around), 8);
      expect(divergenceVolume(sweptTube(shape, { around, areaTrue: true }))).toBeCloseTo(exact, 8);
    }
    expect(areaTrueFactor(32) ** 2 * ngon(32)).toBeCloseTo(1, 14);
  });

  it('cone frustum: pi h (R2 + Rr + r2) / 3', () => {
    const shape = roundTube(line, calibreFunction({ kind: 'cone', fromMm: 8, toMm: 3 }, 25));
    const exact = (Math.PI * 25 * (16 + 6 + 2.25)) / 3;
    expect(tubeTruth(shape).volumeMm3).toBeCloseTo(exact, 9);
    expect(divergenceVolume(sweptTube(shape, { around: 48 }))).toBeCloseTo(exact * ngon(48), 8);
  });

  it('quarter torus: Pappus, converging as the square of the step', () => {
    const shape = roundTube(arc, () => 8);
    const exact = Math.PI * 16 * 20 * (Math.PI / 2);
    expect(tubeTruth(shape).volumeMm3).toBeCloseTo(exact, 8);
    const wrong = [2, 1, 0.5].map(
      (stepMm) => divergenceVolume(sweptTube(shape, { around: 64, areaTrue: true, stepMm })) / exact - 1,
    );
    expect(Math.abs(wrong[2])).toBeLessThan(2e-4);
    expect(wrong[0] / wrong[1]).toBeGreaterThan(3.5);
    expect(wrong[1] / wrong[2]).toBeGreaterThan(3.5);
  });

  it('capsule and elliptical tube', () => {
    const capsule = roundTube(line, () => 6);
    const ends = { start: 'hemisphere', end: 'hemisphere' } as const;
    const exact = Math.PI * 9 * 25 + (4 / 3) * Math.PI * 27;
    expect(tubeTruth(capsule, ends).volumeMm3).toBeCloseTo(exact, 8);
    expect(divergenceVolume(sweptTube(capsule, { ...ends, around: 256 })) / exact).toBeCloseTo(1, 3);
    const flat = { curve: helix, semiAxisA: () => 4, semiAxisB: () => 2.25 };
    expect(tubeTruth(flat).calibreAt(3)).toBeCloseTo(6, 12);
    expect(divergenceVolume(sweptTube(flat, { around: 64, stepMm: 0.25, areaTrue: true }))).toBeCloseTo(
      Math.PI * 9 * helix.lengthMm,
      -1,
    );
  });

  it.each<[TubeEnd, TubeEnd, number]>([
    ['flat', 'flat', 0],
    ['hemisphere', 'flat', 0],
    ['hemisphere', 'hemisphere', 0],
    ['open', 'flat', 24],
    ['open', 'open', 48],
  ])('%s and %s ends leave %i open edges', (start, end, open) => {
    const mesh = sweptTube(
      roundTube(spline, () => 5),
      { around: 24, start, end },
    );
    const edges = countEdges(mesh);
    expect(edges.open).toBe(open);
    expect(edges.repeated).toBe(0);
    expect(edges.pinched).toBe(0);
    expect(edges.euler).toBe(2 - open / 24);
  });

  it('stenosis and funnel reach the stated calibres', () => {
    const stenosis = calibreFunction(
      { kind: 'stenosis', calibreMm: 6, narrowestMm: 3, atMm: 20, widthMm: 10 },
      40,
    );
    expect([stenosis(0), stenosis(15), stenosis(20), stenosis(25), stenosis(17.5)]).toEqual([
      6, 6, 3, 6, 4.5,
    ]);
    const funnel = calibreFunction({ kind: 'funnel', calibreMm: 5, mouthMm: 9, overMm: 8 }, 40);
    expect([funnel(0), funnel(32), funnel(36), funnel(40)]).toEqual([5, 5, 7, 9]);
  });

  it('same input, same bytes', () => {
    const once = sweptTube(roundTube(spline, () => 5));
    const twice = sweptTube(roundTube(spline, () => 5));
    expect(Buffer.from(once.positions.buffer).equals(Buffer.from(twice.positions.buffer))).toBe(true);
    expect(Buffer.from(once.triangles.buffer).equals(Buffer.from(twice.triangles.buffer))).toBe(true);
  });
});
