import { describe, expect, it, vi } from 'vitest';
import { distance, type Vec3 } from '../../src/foundation/vector.js';
import { measureParts, type PartSurface } from '../../src/geometry/measure-parts.js';
import { type LesionPlan, partMeshes, vesselsOf } from '../../src/phantoms/lesion.js';
import { randomLesion } from '../../src/phantoms/random-lesion.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { lesionInScan } from '../../src/witness/lesion-in-scan.js';
import { DEFINITIONS, IS_LONG } from '../geometry/make.js';
import { crowdedScene } from './crowded-scene.js';
import { normalTree } from './normal-tree.js';
import { type SceneOptions, syntheticCt } from './synthetic-ct.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 900_000 });

const rules = loadRules();
const SPACING: Vec3 = [0.75, 0.75, 0.8];
const SEEDS = IS_LONG ? [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20] : [2];

/** The lesion with one feeder of 3 mm, the hidden one, and its name. */
function withFeeder(seed: number): { truth: LesionPlan; hidden: string } {
  const plan: LesionPlan = { ...randomLesion(seed), neighbours: [] };
  const feeders = plan.vessels.filter(({ role }) => role === 'feeder');
  const hidden = feeders[feeders.length - 1].name;
  const vessels = plan.vessels
    .filter(({ of }) => of !== hidden)
    .map((v): LesionPlan['vessels'][number] =>
      v.name === hidden ? { ...v, calibre: { kind: 'constant', calibreMm: 3 } } : v,
    );
  return { truth: { ...plan, vessels }, hidden };
}

/** What is found where the surfaces contain the lesion without some vessels. */
function seen(
  truth: LesionPlan,
  without: readonly string[],
  scene: SceneOptions,
  unmeasured: readonly string[] = [],
) {
  const volume = syntheticCt(truth, { spacing: SPACING, blurMm: 0.9, noiseHu: 20, marginMm: 10, ...scene });
  const surfaces = partMeshes({
    ...truth,
    vessels: truth.vessels.filter(({ name }) => !without.includes(name)),
  });
  const parts = surfaces.map((part): PartSurface => ({ ...part, capTriangles: [], spare: false }));
  const frame = { scan: { sliceThicknessMm: SPACING[2], inPlaneMm: SPACING[0] }, hasAxes: true };
  const { lesion } = measureParts(parts, DEFINITIONS, frame);
  const vessels = lesion.vessels.filter(({ name }) => !unmeasured.includes(name));
  return lesionInScan({ surfaces, vessels, frame: 'LPS' }, volume, rules);
}

describe.each(SEEDS)('lesion %i, next to chest wall, rib, airway and a passing vessel', (seed) => {
  const { truth, hidden } = withFeeder(seed);
  const lone = truth.vessels.filter(({ role }) => role === 'feeder').length < 2;

  it.skipIf(lone)(
    'a feeder of 3 mm outside all surfaces is found, as a stop, with its position and calibre',
    () => {
      const found = seen(truth, [hidden], crowdedScene(truth, hidden));
      expect(found.frame.verdict).toBe('fits');
      const candidates = found.missed!.filter(({ kind }) => kind === 'feeder-candidate');
      expect(candidates).toHaveLength(1);
      const { axis } = vesselsOf(truth).get(hidden)!;
      const off = Math.min(
        ...Array.from({ length: Math.floor(4 * axis.lengthMm) }, (_, s) =>
          distance(axis.pointAt(s / 4), candidates[0].pointMm),
        ),
      );
      expect(off).toBeLessThan(0.75);
      // less in the chest wall than in lung
      expect(Math.abs(candidates[0].calibreMm - 3)).toBeLessThan(0.35);
      expect(candidates[0].joins).toBe('sac');
      expect(candidates[0].lengthMm).toBeGreaterThan(5);
      expect(found.findings).toContainEqual(
        expect.objectContaining({ id: 'feeder-not-segmented', level: 'stop' }),
      );
    },
  );

  it.runIf(IS_LONG)(
    'nothing is missed where the surfaces contain everything but side branches, which are named as such',
    () => {
      const branches = truth.vessels.filter(({ role }) => role === 'branch');
      const found = seen(
        truth,
        branches.map(({ name }) => name),
        crowdedScene(truth),
      );
      expect(found.missed!.filter(({ kind }) => kind === 'feeder-candidate')).toEqual([]);
      const parents = new Set(branches.map(({ of }) => of));
      for (const { joins, kind } of found.missed!) {
        expect(kind).not.toBe('feeder-candidate');
        expect(parents).toContain(joins);
      }
      const wide = branches.filter(({ name }) => vesselsOf(truth).get(name)!.calibreAt(5) > 2.2);
      expect(found.missed!.length).toBeGreaterThanOrEqual(wide.length - 1);
      expect(found.uncontrasted).toEqual([]);
    },
  );
});

describe.each(IS_LONG ? [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12] : [3])(
  'normal vessels of the lung around lesion %i',
  (seed) => {
    const drawn: LesionPlan = { ...randomLesion(seed), neighbours: [] };
    const tree = normalTree(drawn);

    it('that leave its vessels are side branches of them, not feeders', () => {
      const truth = { ...drawn, vessels: [...drawn.vessels, ...tree] };
      const { missed } = seen(
        truth,
        tree.map(({ name }) => name),
        { ...crowdedScene(drawn), marginMm: 4 },
      );
      const stems = tree.filter(({ of }) => drawn.vessels.some(({ name }) => name === of));
      expect(stems.length).toBeGreaterThan(0);
      expect(missed!.filter(({ kind }) => kind === 'feeder-candidate')).toEqual([]);
      const wide = stems.filter(({ calibre }) => calibre.kind === 'constant' && calibre.calibreMm > 2.2);
      const found = missed!.filter(({ kind }) => kind === 'side-branch').map(({ joins }) => joins);
      for (const { of } of wide) expect(found).toContain(of);
    });
  },
);

it('thrombus of 0.5 mL in a sac is found with its place; the dim rim of a lumen is none', () => {
  const truth: LesionPlan = {
    name: 'clot',
    sac: { centreMm: [0, 0, 0], semiAxesMm: [11, 11, 11] },
    vessels: randomLesion(4).vessels.slice(0, 0),
    neighbours: [],
    blendMm: 0.5,
  };
  const radiusMm = Math.cbrt((3 * 500) / (4 * Math.PI));
  const at: Vec3 = [0, 5, 0];
  const { uncontrasted, findings } = seen(truth, [], { thrombus: [{ at, radiusMm }] });
  expect(uncontrasted).toHaveLength(1);
  expect(uncontrasted![0].where).toBe('sac');
  expect(uncontrasted![0].volumeMl).toBeGreaterThan(0.35);
  expect(uncontrasted![0].volumeMl).toBeLessThan(0.65);
  expect(distance(uncontrasted![0].pointMm, at)).toBeLessThan(2.5);
  expect(findings).toContainEqual(
    expect.objectContaining({ id: 'uncontrasted', level: 'caution', where: 'sac' }),
  );
  expect(seen(truth, [], {}).uncontrasted).toEqual([]);
});

describe('a lesion with two feeders side by side', () => {
  const round = (calibreMm: number): LesionPlan['vessels'][number]['calibre'] => ({
    kind: 'constant',
    calibreMm,
  });
  const pair = (branchAtMm?: number): LesionPlan => ({
    name: 'pair',
    sac: { centreMm: [0, 0, 0], semiAxesMm: [10, 10, 10] },
    vessels: [
      {
        name: 'A1',
        role: 'feeder',
        axisMm: [
          [45, 0, 0],
          [25, 0, 0],
          [7, 0, 0],
        ],
        calibre: round(5),
      },
      // a millimetre of lung between the two walls
      {
        name: 'A2',
        role: 'feeder',
        axisMm: [
          [45, 14, 0],
          [22, 5, 0],
          [14, 5, 0],
          [6, 4.5, 0],
        ],
        calibre: round(3),
      },
      {
        name: 'V1',
        role: 'drain',
        axisMm: [
          [-45, 0, 0],
          [-25, 0, 0],
          [-7, 0, 0],
        ],
        calibre: round(6),
      },
      ...(branchAtMm === undefined
        ? []
        : [
            {
              name: 'B1',
              role: 'branch' as const,
              of: 'A1',
              leavesAtMm: branchAtMm,
              axisMm: [
                [20, -20, 0],
                [23, -10, 0],
                [25, 0, 0],
              ] as Vec3[],
              calibre: round(3),
            },
          ]),
    ],
    neighbours: [],
    blendMm: 0.5,
  });

  it('one outside all surfaces joins the sac, although it emerges next to the neck of the other', () => {
    const { missed } = seen(pair(), ['A2'], {});
    expect(missed!.map(({ kind, joins }) => ({ kind, joins }))).toEqual([
      { kind: 'feeder-candidate', joins: 'sac' },
    ]);
  });

  it('a vessel that leaves a part without values is unclear, and not a feeder of the sac', () => {
    const { missed } = seen(pair(20), ['B1'], {}, ['A1']);
    expect(missed!.length).toBeGreaterThan(0);
    for (const one of missed!) expect(one).toMatchObject({ kind: 'unclear', joins: 'A1' });
  });

  it('says where it joins its vessel and where it leads', () => {
    const [branch] = seen(pair(20), ['B1'], {}).missed!;
    expect(branch).toMatchObject({ kind: 'side-branch', joins: 'A1' });
    // it leaves 20 mm from the far end of A1; its own far end lies at (20, -20, 0), as wide as the vessel plus a voxel
    expect(Math.abs(branch.joinsAtMm! - 20)).toBeLessThan(2);
    expect(distance(branch.leadsToMm, [20, -20, 0])).toBeLessThan(3 + 0.8);
    // where an end may be named: within its lumen, and past the wall of A1
    const { axis } = vesselsOf(pair(20)).get('B1')!;
    const off = Math.min(
      ...Array.from({ length: Math.floor(4 * axis.lengthMm) }, (_, s) =>
        distance(axis.pointAt(s / 4), branch.endMm),
      ),
    );
    expect(off).toBeLessThan(1);
    expect(branch.endMm[1]).toBeLessThan(-5);
  });
});
