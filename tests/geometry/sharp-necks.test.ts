import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import type { LesionMeasure } from '../../src/geometry/measure.js';
import { measureWhole } from '../../src/geometry/measure-whole.js';
import { axisOfBranch, type LesionPlan, vesselsOf, wholeMesh } from '../../src/phantoms/lesion.js';
import { truthOfWhole } from '../../src/phantoms/truth.js';
import { DEFINITIONS, NO_SCAN } from './make.js';

/** A ball with two vessels that meet it at sharp edges and are not much thinner than the ball. */
const CLOSE: LesionPlan = {
  name: 'close',
  sac: { centreMm: [0, 0, 0], semiAxesMm: [7.3, 7.3, 7.3] },
  vessels: [
    {
      name: 'A1',
      role: 'feeder',
      axisMm: [
        [0, 21, 0],
        [0, 14, 0],
        [0, 4, 0],
      ],
      calibre: { kind: 'constant', calibreMm: 6.2 },
    },
    {
      name: 'V1',
      role: 'drain',
      axisMm: [
        [-4, -13, 16],
        [-2, -8, 10],
        [-0.8, -3.2, 4],
      ],
      calibre: { kind: 'constant', calibreMm: 5.7 },
    },
  ],
  neighbours: [],
  blendMm: 0.05,
};

/** A feeder that widens slowly towards the sac, with a branch one calibre before it. */
function widening(): LesionPlan {
  const axisMm: Vec3[] = [
    [44, 10, 24],
    [36, 17, 18],
    [29, 15, 9],
    [20, 5, 3],
    [12, 0.5, 0],
    [4, 0, 0],
  ];
  const plan: LesionPlan = {
    name: 'widening',
    sac: { centreMm: [0, 0, 0], semiAxesMm: [12.5, 12.5, 12.5] },
    vessels: [
      {
        name: 'A1',
        role: 'feeder',
        axisMm,
        calibre: { kind: 'funnel', calibreMm: 8, mouthMm: 9.9, overMm: 30 },
      },
      {
        name: 'V1',
        role: 'drain',
        axisMm: [
          [-40, -12, 4],
          [-24, -6, 0],
          [-9, 0, 0],
        ],
        calibre: { kind: 'constant', calibreMm: 8.4 },
      },
    ],
    neighbours: [],
    blendMm: 0.05,
  };
  const parent = vesselsOf(plan).get('A1')!.axis;
  const leavesAtMm = parent.lengthMm - 19;
  const branch = axisOfBranch(parent, leavesAtMm, (100 * Math.PI) / 180, 1, 20);
  plan.vessels.push({
    name: 'B1',
    role: 'branch',
    of: 'A1',
    leavesAtMm,
    axisMm: branch,
    calibre: { kind: 'constant', calibreMm: 5 },
  });
  return plan;
}

function measure(plan: LesionPlan, cellMm: number, sac: Vec3 = [0, 0, 0], whole = wholeMesh(plan, cellMm)) {
  const { mesh, ends } = whole;
  const given = ends.map(({ at, ...end }) => ({ ...end, point: at, where: end.name }));
  return measureWhole(
    { mesh, capTriangles: [], ends: given, sac: { point: sac, where: 'sac' }, offeredEnds: [] },
    DEFINITIONS,
    NO_SCAN,
  );
}

const vesselOf = (lesion: LesionMeasure, name: string) => lesion.vessels.find((v) => v.name === name)!;

describe('a small sac between wide vessels', () => {
  const ballMl = (4 / 3) * Math.PI * 0.73 ** 3;
  const whole = wholeMesh(CLOSE, 0.6);
  const measureClose = (sac: Vec3) => measure(CLOSE, 0.6, sac, whole);
  const fromMiddle = measureClose([0, 0, 0]);

  // closer to the mouth of A1 than to the wall of the ball, and so on: the body between the necks is the same
  it.each<[Vec3]>([[[0, 0, 0]], [[0.6, 1.2, 0.8]], [[0, 2.5, 0]], [[-0.5, -2, 2.5]], [[2, 0, 0]]])(
    'has its volume wherever the sac point lies in it: %j',
    (sac) => {
      const { lesion, findings } = Math.hypot(...sac) === 0 ? fromMiddle : measureClose(sac);
      expect(findings).toEqual([]);
      expect(lesion.sac!.volumeMl / ballMl).toBeGreaterThan(0.95);
      expect(lesion.sac!.volumeMl / ballMl).toBeLessThan(1.03);
    },
  );

  it('a sac point out in a vessel is a stop, without a sac', () => {
    const { lesion, findings } = measureClose([0, 13, 0]);
    expect(lesion.sac).toBeUndefined();
    expect(findings.some(({ level }) => level === 'stop')).toBe(true);
  });

  it('its feeder is round all the way to the sac', () => {
    const { landing } = vesselOf(fromMiddle.lesion, 'A1');
    expect(landing!.largestWidthMm).toBeLessThan(1.06 * 6.2);
    expect(landing!.taperPercent).toBeLessThan(4);
  });
});

describe('a feeder that widens slowly past a branch', () => {
  const plan = widening();
  const truth = truthOfWhole(plan, 40);
  const { lesion } = measure(plan, 0.8);

  it('runs along its axis up to its neck', () => {
    const { neck } = vesselOf(lesion, 'A1');
    expect(Math.abs(neck!.atMm - truth.vessels.A1.neckAtMm!)).toBeLessThan(1.5);
  });

  it('has the described calibres before and behind the branch', () => {
    const { profile } = vesselOf(lesion, 'A1');
    const free = profile.filter((s) => !s.atOpening && s.atMm < truth.vessels.A1.neckAtMm! - 1.5);
    expect(free.filter((s) => s.atMm > truth.vessels.A1.branches[0].sacEdgeMm).length).toBeGreaterThan(5);
    for (const s of free)
      expect(Math.abs(s.equivalentMm - truth.vessels.A1.calibreAt(s.atMm)), `at ${s.atMm}`).toBeLessThan(0.2);
  });

  it('does not change the volume of the sac', () => {
    expect(lesion.sac!.volumeMl / truth.sacVolumeMl).toBeGreaterThan(0.97);
    expect(lesion.sac!.volumeMl / truth.sacVolumeMl).toBeLessThan(1.03);
  });
});
