import { describe, expect, it } from 'vitest';
import { InputFailure } from '../../src/foundation/failure.js';
import { add, distance, scale, type Vec3 } from '../../src/foundation/vector.js';
import { measureWhole, type WholeMeasured, type WholeSurface } from '../../src/geometry/measure-whole.js';
import { pairEdges } from '../../src/mesh/edge-pairing.js';
import { measure } from '../../src/mesh/measures.js';
import { type VesselPlan, wholeMesh } from '../../src/phantoms/lesion.js';
import { truthOfWhole } from '../../src/phantoms/truth.js';
import { axes, CALIBRE, tree } from './forked-tree.js';
import { DEFINITIONS, NO_SCAN } from './make.js';

interface Named {
  name: string;
  role: 'feeder' | 'drain' | 'branch';
  of?: string;
  point: Vec3;
}

const PLAN = tree();
const WHOLE = wholeMesh(PLAN, 0.65);
const TRUTH = truthOfWhole(PLAN, 32);

/** A named point on a vessel's axis, this far from its far end. */
const onAxis = (name: string, atMm: number, role: Named['role'], of?: string): Named => ({
  name,
  role,
  ...(of && { of }),
  point: axes.get(name)!.axis.pointAt(atMm),
});

function measured(ends: Named[], sac: Vec3 | null = WHOLE.sac, mesh = WHOLE.mesh): WholeMeasured {
  const whole: WholeSurface = {
    mesh,
    capTriangles: [],
    ends: ends.map((end) => ({ ...end, where: `case.yaml ${end.name}` })),
    ...(sac && { sac: { point: sac, where: 'case.yaml sac' } }),
    offeredEnds: [],
  };
  return measureWhole(whole, DEFINITIONS, NO_SCAN);
}

const A1_AT = 24;
const V1_AT = 20;
const ENDS = [onAxis('A1', A1_AT, 'feeder'), onAxis('V1', V1_AT, 'drain')];

describe('a vascular tree cut at the points named in the case', () => {
  const found = measured(ENDS);
  const [a1, v1] = found.lesion.vessels;

  it('measures each vessel from its point as exactly as one that ends there', () => {
    expect(found.findings.map(({ id, level }) => `${level} ${id}`)).toEqual(['note left-out']);
    for (const [vessel, atMm] of [
      [a1, A1_AT],
      [v1, V1_AT],
    ] as const) {
      const exact = TRUTH.vessels[vessel.name];
      expect(Math.abs(vessel.neck!.atMm - (exact.neckAtMm! - atMm))).toBeLessThan(1);
      expect(Math.abs(vessel.calibreMm.min / exact.calibreAt(30) - 1)).toBeLessThan(0.03);
      const start = axes.get(vessel.name)!.axis.pointAt(atMm);
      expect(distance(vessel.centrelineMm[0], start)).toBeLessThan(0.4);
    }
    expect(a1.landing!.lengthMm).toBeGreaterThan(20);
    expect(found.lesion.sac!.volumeMl / TRUTH.sacVolumeMl).toBeCloseTo(1, 1);
  });

  it('counts what is left out; part and rest are closed and add up to the whole', () => {
    const { leftOut, mesh } = found.bounded!;
    expect(leftOut.past).toEqual(['A1', 'V1']);
    expect(leftOut.pieces).toBe(2);
    const all = measure(WHOLE.mesh).volumeMm3;
    expect((measure(mesh).volumeMm3 + measure(leftOut.mesh).volumeMm3) / all).toBeCloseTo(1, 6);
    for (const one of [mesh, leftOut.mesh]) expect(pairEdges(one).twin.every((t) => t >= 0)).toBe(true);
    // tubes as cylinders; the twigs start on the axis of their parents
    const area = (calibreMm: number): number => (Math.PI / 4) * calibreMm ** 2;
    const twigMl = (parentMm: number): number => (area(CALIBRE.twig) * (16 - parentMm / 2)) / 1000;
    const exactMl =
      (area(CALIBRE.A1) * A1_AT + area(CALIBRE.V1) * V1_AT) / 1000 + 2 * twigMl(4) + twigMl(4.5);
    expect(Math.abs(leftOut.volumeMl / exactMl - 1)).toBeLessThan(0.06);
    expect(found.findings[0].text).toContain('points of A1 and V1');
  });

  it('needs no sac point where all points lie around one part', () => {
    const without = measured(ENDS, null);
    expect(without.bounded!.leftOut.past).toEqual(['A1', 'V1']);
    expect(without.lesion.vessels[0].neck!.atMm).toBeCloseTo(a1.neck!.atMm, 1);
  });

  it('a named branch bounds the part too', () => {
    const branch = measured([onAxis('A1', 3, 'feeder'), onAxis('T1', 6, 'branch', 'A1'), ENDS[1]]);
    expect(branch.bounded!.leftOut.past).toEqual(['V1']);
    expect(branch.lesion.vessels.map(({ name }) => name).sort()).toEqual(['A1', 'T1', 'V1']);
  });

  it('a vessel that ends a little past its point is measured to its end', () => {
    const whole = measured([onAxis('A1', 5, 'feeder'), onAxis('V1', 6, 'drain')]);
    expect(whole.bounded).toBeUndefined();
    const exact = TRUTH.vessels.A1.neckAtMm!;
    expect(Math.abs(whole.lesion.vessels[0].neck!.atMm - exact)).toBeLessThan(1);
  });

  it('refuses a point past another, and one point without a sac', () => {
    const failure = (run: () => unknown): string => {
      try {
        run();
      } catch (error) {
        if (error instanceof InputFailure) return error.problems.join('\n');
      }
      return 'no failure';
    };
    expect(failure(() => measured([...ENDS, onAxis('T1', 8, 'branch', 'A1')]))).toMatch(
      /^case.yaml T1: the point of T1 is past the point of A1.*leave T1 out/,
    );
    expect(failure(() => measured([ENDS[0]], null))).toMatch(/both sides of the point of A1.*sac/);
  });

  it('says where the surface past a point joins the lesion another way', () => {
    const from = axes.get('A1')!.axis.pointAt(9);
    const loop: VesselPlan = {
      name: 'L1',
      role: 'drain',
      axisMm: [from, add(scale(from, 0.8), [0, 16, 0]), [-16, 20, 6], [-3, 9, 1], [0, 6, 0]],
      calibre: { kind: 'constant', calibreMm: 3 },
    };
    const looped = measured(ENDS, WHOLE.sac, wholeMesh(tree([loop]), 0.65).mesh);
    const caution = looped.findings.find(({ id }) => id === 'left-out-not-parted')!;
    expect(caution).toMatchObject({ level: 'caution', where: 'A1' });
    expect(looped.bounded!.leftOut.pieces).toBe(1);
    const again = looped.lesion.vessels.find(({ name }) => name === 'A1')!;
    expect(Math.abs(again.neck!.atMm - a1.neck!.atMm)).toBeLessThan(0.5);
  });
});
