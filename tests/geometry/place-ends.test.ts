import { describe, expect, it } from 'vitest';
import { InputFailure } from '../../src/foundation/failure.js';
import type { Finding } from '../../src/foundation/finding.js';
import { distance, type Vec3 } from '../../src/foundation/vector.js';
import { measureWhole } from '../../src/geometry/measure-whole.js';
import { Surface } from '../../src/geometry/surface.js';
import { doubtOfSac } from '../../src/geometry/whole/doubts.js';
import { type OfferedEnd, placeEnds } from '../../src/geometry/whole/place-ends.js';
import { widestPlace } from '../../src/geometry/whole/widest-place.js';
import { lineCurve } from '../../src/phantoms/curve.js';
import { wholeMesh } from '../../src/phantoms/lesion.js';
import { sacMesh } from '../../src/phantoms/sac.js';
import { roundTube, sweptTube } from '../../src/phantoms/tube.js';
import { numberOf } from '../../src/rules/rule.js';
import { together } from '../mesh/shapes.js';
import { DEFINITIONS, NO_SCAN, RULES } from './make.js';

/** A 6 mm tube along x from 0 to 40, 1000 mm farther along z in the file. */
const tube = sweptTube(
  roundTube(lineCurve([0, 0, 0], [40, 0, 0]), () => 6),
  { around: 48 },
);
const surface = new Surface(
  { ...tube, positions: tube.positions.map((x, i) => (i % 3 === 2 ? x + 1000 : x)) },
  [0, 0, 1000],
);
const offered: OfferedEnd[] = [
  { letter: 'A', centre: [0, 0, 0], calibreMm: 6 },
  { letter: 'B', centre: [40, 0, 0], calibreMm: 5.94 },
];
const place = (point: Vec3): { at: Vec3; findings: Finding[] } => {
  const findings: Finding[] = [];
  const [at] = placeEnds(surface, [{ name: 'A1', point, where: 'case.yaml:9:7' }], offered, findings);
  return { at, findings };
};
const messageOf = (act: () => unknown): string => {
  try {
    act();
  } catch (error) {
    expect(error).toBeInstanceOf(InputFailure);
    expect((error as InputFailure).exitCode).toBe(2);
    return (error as Error).message;
  }
  throw new Error('nothing was thrown');
};

describe('labelled ends', () => {
  it('a point inside the lumen stays', () => {
    const { at, findings } = place([1.5, 2, -1]);
    expect(at).toEqual([1.5, 2, -1]);
    expect(findings).toEqual([]);
  });

  it.each([0.1, 1.5, 2.9])(
    'a point %d mm outside the wall moves to the middle of the lumen, with a note',
    (far) => {
      const { at, findings } = place([10, 3 + far, 0]);
      expect(distance(at, [10, 0, 0])).toBeLessThan(0.3);
      expect(findings).toHaveLength(1);
      expect(findings[0]).toMatchObject({ id: 'end-snapped', level: 'note', where: 'A1' });
      expect(findings[0].text).toContain(`${far.toFixed(1)} mm`);
    },
  );

  it('a point in front of the flat end moves in from there', () => {
    const { at } = place([-1, 0.5, 0]);
    expect(surface.isInside(at)).toBe(true);
  });

  it('farther than 3 mm is an error that says where, and lists the nearest ends in file coordinates', () => {
    const message = messageOf(() => place([30, 6.1, 0]));
    expect(message).toContain('case.yaml:9:7');
    expect(message).toContain('A1');
    expect(message).toContain('more than 3 mm outside');
    expect(message).toMatch(
      /B at \[40\.0, 0\.0, 1000\.0\] \(5\.9 mm\); A at \[0\.0, 0\.0, 1000\.0\] \(6\.0 mm\)/,
    );
  });

  it('all bad points are reported at once', () => {
    const ends = [1, 2].map((n) => ({
      name: `A${n}`,
      point: [50, 20, n] as Vec3,
      where: `case.yaml:${n}:1`,
    }));
    const message = messageOf(() => placeEnds(surface, ends, offered, []));
    expect(message).toContain('case.yaml:1:1');
    expect(message).toContain('case.yaml:2:1');
  });
});

describe('a whole surface', () => {
  const whole = wholeMesh(
    {
      name: 'ball',
      sac: { centreMm: [0, 0, 0], semiAxesMm: [9, 9, 9] },
      blendMm: 0.5,
      neighbours: [],
      vessels: [
        {
          name: 'A1',
          role: 'feeder',
          axisMm: [
            [-40, 0, 0],
            [-7.5, 0, 0],
          ],
          calibre: { kind: 'constant', calibreMm: 5 },
        },
      ],
    },
    0.8,
  );
  const apart = sweptTube(
    roundTube(lineCurve([60, 0, 0], [90, 0, 0]), () => 6),
    { around: 24 },
  );
  const end = { name: 'A1', role: 'feeder' as const, point: whole.ends[0].at, where: 'case.yaml:20:7' };

  it('one 5 mm feeder into an 18 mm ball, by hand', () => {
    const { lesion, findings } = measureWhole(
      { mesh: whole.mesh, capTriangles: [], ends: [end], offeredEnds: [] },
      DEFINITIONS,
      NO_SCAN,
    );
    expect(findings).toEqual([]);
    const [feeder] = lesion.vessels;
    // without rounding the ball is 1.25·5 mm wide at sqrt(81 - 3.125²) from its centre; the rounding extends a few tenths
    // farther
    const neck = 40 - Math.sqrt(81 - 3.125 ** 2);
    expect(feeder.neck!.atMm).toBeLessThan(neck + 0.05);
    expect(feeder.neck!.atMm).toBeGreaterThan(neck - 0.6);
    expect(Math.abs(feeder.landing!.calibreMm - 5)).toBeLessThan(0.1);
    expect(feeder.tortuosity).toBeCloseTo(1, 3);
    const h = feeder.neck!.atMm - 31;
    const ball = (4 / 3) * Math.PI * 729 - (Math.PI * h * h * (27 - h)) / 3;
    expect(Math.abs((lesion.sac!.volumeMl * 1000) / ball - 1)).toBeLessThan(0.01);
  });

  it('the widest place is the centre of the ball', () => {
    const ball = widestPlace(new Surface(whole.mesh, [0, 0, 0]))!;
    expect(Math.abs(ball.radiusMm / 9 - 1)).toBeLessThan(0.02);
    expect(distance(ball.centre, [0, 0, 0])).toBeLessThan(0.3);
    const alone = widestPlace(
      new Surface(sacMesh({ centreMm: [1, 2, 3], semiAxesMm: [5, 5, 5] }, 12), [0, 0, 0]),
    )!;
    expect(Math.abs(alone.radiusMm - 5)).toBeLessThan(0.1);
    expect(distance(alone.centre, [1, 2, 3])).toBeLessThan(0.15);
  });

  it('the widest place serves as the sac only where it is 1.25 times as wide as every vessel', () => {
    const ratio = numberOf(RULES, 'sac-widest-ratio');
    const calibres = new Map([
      ['A1', 6],
      ['V1', 8],
    ]);
    expect(doubtOfSac(10.01, calibres.keys(), calibres, ratio)).toBeUndefined();
    expect(doubtOfSac(9.99, calibres.keys(), calibres, ratio)).toContain('V1 (8.0 mm)');
    expect(doubtOfSac(30, ['A1', 'V2'], calibres, ratio)).toContain('V2');
  });

  it('a sac no wider than its feeder must be named: otherwise nothing is measured', () => {
    const plan = {
      name: 'small',
      sac: { centreMm: [0, 0, 0] as Vec3, semiAxesMm: [3.05, 3.05, 3.05] as Vec3 },
      blendMm: 0.4,
      neighbours: [],
      vessels: [
        {
          name: 'A1',
          role: 'feeder' as const,
          axisMm: [
            [-30, 0, 0],
            [-2, 0, 0],
          ] as Vec3[],
          calibre: { kind: 'constant' as const, calibreMm: 5 },
        },
      ],
    };
    const small = wholeMesh(plan, 0.5);
    const ends = [{ name: 'A1', role: 'feeder' as const, point: small.ends[0].at, where: 'case.yaml:20:7' }];
    const measure = (sac?: { point: Vec3; where: string }) =>
      measureWhole(
        { mesh: small.mesh, capTriangles: [], ends, offeredEnds: [], ...(sac && { sac }) },
        DEFINITIONS,
        NO_SCAN,
      );
    const without = measure();
    expect(without.lesion.vessels).toEqual([]);
    expect(without.lesion.sac).toBeUndefined();
    const found = without.findings.filter((f) => f.id === 'sac-not-found');
    expect(found.map((f) => f.level)).toEqual(['stop']);
    expect(found[0].text).toMatch(/the widest place, [56]\.[0-9] mm .* A1/);
    const told = measure({ point: [0, 0, 0], where: 'case.yaml:22:7' });
    expect(told.findings.map((f) => f.id)).not.toContain('sac-not-found');
  });

  it('the widest place is found in a tree of thin tubes and away from any vertex', () => {
    // a 6 mm rod with a 7 mm bead, finely and coarsely meshed: the bead is 1.17 times as wide
    for (const around of [12, 60]) {
      const bead = sweptTube(
        roundTube(lineCurve([0, 0, 0], [60, 0, 0]), (s) => 6 + Math.exp(-(((s - 41.3) / 2.5) ** 2))),
        { around, stepMm: 0.8 },
      );
      const found = widestPlace(new Surface(bead, [30, 0, 0]))!;
      expect(Math.abs(found.centre[0] + 30 - 41.3)).toBeLessThan(0.7);
      // the ball touches the facets in their middles
      expect(2 * found.radiusMm).toBeGreaterThan(7 * Math.cos(Math.PI / around) * 0.98);
      expect(2 * found.radiusMm).toBeLessThan(7.01);
    }
  });

  it('an end in a part not connected to the sac is an error that lists the nearest ends', () => {
    const lost = { name: 'V1', role: 'drain' as const, point: [62, 0, 0] as Vec3, where: 'case.yaml:21:7' };
    const message = messageOf(() =>
      measureWhole(
        {
          mesh: together(whole.mesh, apart),
          capTriangles: [],
          ends: [end, lost],
          sac: { point: [0, 0, 0], where: 'case.yaml:22:7' },
          offeredEnds: [{ letter: 'C', centre: [60, 0, 0], calibreMm: 6 }],
        },
        DEFINITIONS,
        NO_SCAN,
      ),
    );
    expect(message).toContain('case.yaml:21:7');
    expect(message).toContain('V1');
    expect(message).toContain('not connected to the sac');
    expect(message).toContain('C at [60.0, 0.0, 0.0]');
    expect(message).not.toContain('case.yaml:20:7');
  });

  it('a sac point far outside is an error', () => {
    const message = messageOf(() =>
      measureWhole(
        {
          mesh: whole.mesh,
          capTriangles: [],
          ends: [end],
          sac: { point: [0, 30, 0], where: 'case.yaml:22:7' },
          offeredEnds: [],
        },
        DEFINITIONS,
        NO_SCAN,
      ),
    );
    expect(message).toContain('case.yaml:22:7');
  });
});
