import { describe, expect, it, vi } from 'vitest';
import { distance, type Vec3 } from '../../src/foundation/vector.js';
import { findSelfIntersections } from '../../src/mesh/self-intersection.js';
import { lineCurve } from '../../src/phantoms/curve.js';
import { heronLesion, ploverLesion, wrenLesion } from '../../src/phantoms/demo-lesions.js';
import { landingTruth } from '../../src/phantoms/landing-truth.js';
import { fuseLesion, type LesionPlan, partMeshes, vesselsOf, wholeMesh } from '../../src/phantoms/lesion.js';
import { randomLesion } from '../../src/phantoms/random-lesion.js';
import { sacField } from '../../src/phantoms/sac.js';
import { sectionOf } from '../../src/phantoms/section.js';
import { branchOpening, parentWallMm, truthOfParts, truthOfWhole } from '../../src/phantoms/truth.js';
import { roundTube, tubeTruth } from '../../src/phantoms/tube.js';
import { countEdges, divergenceVolume } from './mesh-checks.js';

// shaping and probing implicit bodies takes seconds on a busy machine
vi.setConfig({ testTimeout: 180_000 });

const closed = { open: 0, repeated: 0, pinched: 0, euler: 2 };

/** One straight feeder and one drain on opposite sides of a ball of 10 mm radius. */
const dumbbell: LesionPlan = {
  name: 'dumbbell',
  sac: { centreMm: [0, 0, 0], semiAxesMm: [10, 10, 10] },
  blendMm: 0,
  neighbours: [],
  vessels: [
    {
      name: 'A1',
      role: 'feeder',
      axisMm: [
        [-40, 0, 0],
        [-8.5, 0, 0],
      ],
      calibre: { kind: 'constant', calibreMm: 6 },
    },
    {
      name: 'V1',
      role: 'drain',
      axisMm: [
        [40, 0, 0],
        [8.5, 0, 0],
      ],
      calibre: { kind: 'constant', calibreMm: 8 },
    },
  ],
};

describe('ground truth of a dumbbell, by hand', () => {
  it('parts: necks at the ball, volume of the ball', () => {
    const truth = truthOfParts(dumbbell);
    expect(truth.vessels.A1.lengthMm).toBeCloseTo(30, 9);
    expect(truth.vessels.V1.neckAtMm).toBeCloseTo(30, 9);
    expect(truth.sacVolumeMl).toBeCloseTo((4 / 3) * Math.PI, 9);
    expect(truth.vessels.A1.landing).toMatchObject({ fromMm: 0, toSacMm: 0 });
    expect(truth.vessels.A1.landing?.calibreMm).toBeCloseTo(6, 12);
    expect(truth.vessels.V1.landing).toBeUndefined();
  });

  it('whole: the neck where the ball is 1.25 calibres wide, the volume between the necks', () => {
    const truth = truthOfWhole(dumbbell, 70);
    const neckOf = (calibre: number): number => 40 - Math.sqrt(100 - (0.625 * calibre) ** 2);
    expect(Math.abs(truth.vessels.A1.lengthMm - neckOf(6))).toBeLessThan(0.05);
    expect(Math.abs(truth.vessels.V1.lengthMm - neckOf(8))).toBeLessThan(0.05);
    // ball less the two caps beyond the necks: pi h^2 (3 R - h) / 3
    const cap = (calibre: number): number => {
      const h = neckOf(calibre) - 30;
      return (Math.PI * h * h * (30 - h)) / 3;
    };
    const exact = (4000 / 3) * Math.PI - cap(6) - cap(8);
    expect(Math.abs((truth.sacVolumeMl * 1000) / exact - 1)).toBeLessThan(3e-3);
  });
});

it('a wall across the sac removes a disc with a hole from the fused surface, which stays in one piece', () => {
  const wall = {
    openingMm: [0, 0, 0] as Vec3,
    openingRadiusMm: 4,
    normal: [1, 0, 0] as Vec3,
    thicknessMm: 2,
  };
  const [plain, divided] = [dumbbell, { ...dumbbell, septa: [wall] }].map(
    (plan) => wholeMesh(plan, 0.5).mesh,
  );
  // integral of pi (R^2 - r^2 - x^2) over the thickness
  const taken = 2 * Math.PI * (100 - 16 - 1 / 3);
  expect(Math.abs((divergenceVolume(plain) - divergenceVolume(divided)) / taken - 1)).toBeLessThan(0.02);
  // two chambers joined by one opening still count as one ball
  expect(countEdges(divided)).toEqual(closed);
});

describe('sections and branch openings', () => {
  it('a filled section has the area of the circle', () => {
    const ball = (p: Vec3): number => Math.hypot(...p) - 5;
    const section = sectionOf(ball, [0, 0, 3], [0, 0, 1], 0.1, 1000);
    expect(section.areaMm2 / (Math.PI * 16)).toBeCloseTo(1, 2.7);
    expect(Math.abs(section.reachMm - 4)).toBeLessThan(0.15);
  });

  it('a branch at a right angle opens over its own calibre', () => {
    const round = (name: string, from: Vec3, to: Vec3, calibreMm: number, leavesAtMm?: number) => ({
      plan: {
        name,
        role: 'branch' as const,
        axisMm: [from, to],
        calibre: { kind: 'constant', calibreMm } as const,
        leavesAtMm,
      },
      axis: lineCurve(from, to),
      calibreAt: () => calibreMm,
    });
    const parent = round('A1', [0, 0, 0], [40, 0, 0], 7);
    const branch = round('B1', [22, 0, 18], [22, 0, 0], 3, 22);
    const opening = branchOpening(parent, branch);
    expect(parentWallMm(parent, branch)).toBeCloseTo(18 - 3.5, 9);
    expect(opening.atMm).toBe(22);
    expect(Math.abs(opening.farEdgeMm - 20.5)).toBeLessThan(0.03);
    expect(Math.abs(opening.sacEdgeMm - 23.5)).toBeLessThan(0.03);
  });
});

describe('landing zone by definition', () => {
  it('an even feeder: from the branch edge to the neck', () => {
    const zone = landingTruth(() => 6, 40, 22);
    expect(zone?.lengthMm).toBeCloseTo(18, 9);
    expect(zone).toMatchObject({ toSacMm: 0, toBranchMm: 0, fromMm: 22 });
  });

  it('needs five millimetres and one calibre', () => {
    expect(landingTruth(() => 3, 40, 35.2)).toBeUndefined();
    expect(landingTruth(() => 3, 40, 34.9)?.lengthMm).toBeCloseTo(5.1, 9);
    expect(landingTruth(() => 8, 40, 32.2)).toBeUndefined();
    expect(landingTruth(() => 8, 40, 31.9)?.lengthMm).toBeCloseTo(8.1, 9);
  });

  it('a steep cone: as far as max - min stays within 20 % of the mean', () => {
    // just less steep than a flare
    const calibre = (s: number): number => 11.4 - 0.09 * s;
    const zone = landingTruth(calibre, 60, undefined, 0.01);
    // from 6 mm at the neck: (x - 6) = 0.2 (x + 6) / 2, so x = 6.6 / 0.9
    expect(zone?.lengthMm).toBeCloseTo((6.6 / 0.9 - 6) / 0.09, 1);
    expect(zone?.toSacMm).toBe(0);
  });

  it('moves away from a neck that widens too fast', () => {
    const zone = landingTruth((s) => (s > 36 ? 5 + (s - 36) * 2 : 5), 40, undefined, 0.01);
    expect(zone?.toSacMm).toBeGreaterThan(3);
    expect(zone?.calibreMm).toBeCloseTo(5, 1);
  });
});

describe.each([1, 4, 7, 9])('random lesion of seed %i', (seed) => {
  const lesion = randomLesion(seed);
  const truth = truthOfParts(lesion);

  it('is the same each time, with every vessel reaching the sac', () => {
    expect(randomLesion(seed)).toEqual(lesion);
    const field = sacField(lesion.sac);
    for (const { plan, axis, calibreAt } of vesselsOf(lesion).values()) {
      if (plan.role === 'branch') {
        const parent = vesselsOf(lesion).get(plan.of as string);
        const joint = parent?.axis.pointAt(plan.leavesAtMm as number) as Vec3;
        expect(distance(axis.pointAt(axis.lengthMm), joint)).toBeLessThan(1e-9);
        continue;
      }
      expect(field(axis.pointAt(axis.lengthMm))).toBeLessThan(0);
      expect(axis.lengthMm - (truth.vessels[plan.name].neckAtMm as number)).toBeCloseTo(1.5, 1);
      expect(calibreAt(axis.lengthMm)).toBeGreaterThanOrEqual(1.2);
      expect(calibreAt(0)).toBeLessThanOrEqual(16);
    }
  });

  it('gives closed parts with the volume of the smooth shapes', () => {
    const parts = partMeshes(lesion, { around: 24, stepMm: 1, sacFrequency: 12 });
    expect(parts.length).toBe(lesion.vessels.length + 1);
    for (const { name, mesh } of parts) expect(countEdges(mesh), name).toEqual(closed);
    for (const { name, role, mesh } of parts) {
      const vessel = vesselsOf(lesion).get(name);
      const exact = vessel
        ? tubeTruth(roundTube(vessel.axis, vessel.calibreAt)).volumeMm3
        : 1000 * truth.sacVolumeMl;
      // tubes have the exact area, the sac's triangles are chords
      const share = divergenceVolume(mesh) / exact;
      expect(Math.abs(share - 1), name).toBeLessThan(role === 'sac' ? 0.015 : 0.003);
    }
  });

  it('gives one closed fused surface on the field', () => {
    const thinnest = Math.min(...[...vesselsOf(lesion).values()].map(({ calibreAt }) => calibreAt(0)));
    const { mesh, ends } = wholeMesh(lesion, Math.min(thinnest / 2.6, lesion.sac.semiAxesMm[0] / 8));
    expect(countEdges(mesh)).toEqual(closed);
    expect(findSelfIntersections(mesh).count).toBe(0);
    const { field } = fuseLesion(lesion);
    let worst = 0;
    for (let i = 0; i < mesh.positions.length; i += 3) {
      worst = Math.max(
        worst,
        Math.abs(field([mesh.positions[i], mesh.positions[i + 1], mesh.positions[i + 2]])),
      );
    }
    expect(worst).toBeLessThan(1e-3);
    for (const { at } of ends) expect(field(at)).toBeLessThan(0);
  });
});

describe.each([heronLesion(), ploverLesion(), wrenLesion()])('fused surface of $name', (lesion) => {
  it.each([0.8, 1.2])('cells of %f mm: closed, without self-intersection', (cellMm) => {
    const { mesh } = wholeMesh(lesion, cellMm);
    expect(countEdges(mesh)).toEqual(closed);
    expect(findSelfIntersections(mesh).count).toBe(0);
  });
});

it('refuses cells too coarse for the thinnest vessel', () => {
  expect(() => wholeMesh(dumbbell, 3)).toThrow(/A1: a calibre of 6 mm needs cells smaller than 3 mm/);
});
