import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it, vi } from 'vitest';
import { parse } from 'yaml';
import type { Vec3 } from '../../src/foundation/vector.js';
import { faultOfVessel } from '../../src/geometry/check-vessel.js';
import type { FollowedVessel } from '../../src/geometry/describe-vessel.js';
import type { LesionMeasure, ProfileSample } from '../../src/geometry/measure.js';
import { measureWhole } from '../../src/geometry/measure-whole.js';
import { Polyline } from '../../src/geometry/polyline.js';
import { Surface } from '../../src/geometry/surface.js';
import { prepareSurface } from '../../src/mesh/load-surface.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { readMesh } from '../../src/mesh/read/read-mesh.js';
import { lineCurve } from '../../src/phantoms/curve.js';
import type { LesionPlan } from '../../src/phantoms/lesion.js';
import { seededMotion } from '../../src/phantoms/rigid.js';
import { roundTube, sweptTube } from '../../src/phantoms/tube.js';
import { DEFINITIONS, NO_SCAN, profileOf, Worst } from './make.js';
import { planeCut, solidAngleWinding } from './plane-cut.js';
import { expectTruth, measuredWhole, surfaceOf, truthOf } from './whole-truth.js';

vi.setConfig({ testTimeout: 600_000 });

/**
 * Checks every vessel without the program's own search, walk or fit: points of its line inside by solid angles, its length
 * that of its polyline, its calibres those of planes cut through all triangles.
 */
function holdIndependently(mesh: TriangleMesh, { vessels }: LesionMeasure, cuts: number): string {
  const errors: number[] = [];
  let points = 0;
  for (const vessel of vessels) {
    const line = new Polyline(vessel.centrelineMm);
    expect.soft(Math.abs(line.lengthMm / vessel.lengthMm - 1), vessel.name).toBeLessThan(0.01);
    expect.soft(vessel.lengthMm).toBeGreaterThanOrEqual(0);
    // the first point lies on the cap
    line.points.slice(1, -1).forEach((p, i) => {
      points++;
      expect.soft(solidAngleWinding(mesh, p), `${vessel.name}, point ${i + 1}`).toBeGreaterThan(0.5);
    });
    const bare = vessel.profile.filter((s) => !s.atOpening && s.atMm > 1 && s.atMm < line.lengthMm - 0.6);
    const stride = Math.max(1, Math.floor(bare.length / cuts));
    for (let i = 0; i < bare.length; i += stride) {
      const { atMm, equivalentMm } = bare[i];
      const normal = line.directionAt(atMm, 0.6 * equivalentMm);
      const cut = planeCut(mesh, line.pointAt(atMm), normal);
      errors.push(cut ? Math.abs(equivalentMm / cut.equivalentMm - 1) : 1);
    }
  }
  errors.sort((a, b) => a - b);
  const [middle, most] = [errors[errors.length >> 1], errors[Math.floor(0.95 * errors.length)]];
  if (errors.length > 0) {
    expect.soft(middle).toBeLessThan(0.01);
    expect.soft(most).toBeLessThan(0.05);
  }
  return `${points} points inside, ${errors.length} sections off by ${(100 * (middle ?? 0)).toFixed(2)} % (median), ${(100 * (most ?? 0)).toFixed(2)} % (95th percentile)`;
}

const feeder = (
  name: string,
  axisMm: Vec3[],
  calibre: LesionPlan['vessels'][number]['calibre'],
): LesionPlan['vessels'][number] => ({ name, role: 'feeder', axisMm, calibre });

describe('paths through the lumen of one surface', () => {
  it('a bulge wider than the limit before the sac is not the neck; an independent cutter agrees', () => {
    const lesion: LesionPlan = {
      name: 'bulge',
      sac: { centreMm: [0, 0, 0], semiAxesMm: [9, 8, 8.5] },
      blendMm: 0.6,
      neighbours: [],
      vessels: [
        feeder(
          'A1',
          [
            [-44, 4, 0],
            [-30, 0, 2],
            [-18, 1, 0],
            [-7, 0, 0],
          ],
          // a stenosis that is wider than its vessel: 1.6 times
          { kind: 'stenosis', calibreMm: 4, narrowestMm: 6.4, atMm: 26, widthMm: 9 },
        ),
      ],
    };
    const whole = surfaceOf(lesion);
    const { lesion: found, findings } = measuredWhole(whole, seededMotion(3, 0));
    expect(findings).toEqual([]);
    const worst = new Worst();
    expectTruth(lesion, truthOf(lesion), found, worst);
    const still = measureWhole(
      {
        mesh: whole.mesh,
        capTriangles: [],
        ends: whole.ends.map(({ at, ...end }) => ({ ...end, point: at, where: end.name })),
        sac: { point: whole.sac, where: 'sac' },
        offeredEnds: [],
      },
      DEFINITIONS,
      NO_SCAN,
    );
    console.log(`bulge: ${holdIndependently(whole.mesh, still.lesion, 40)}; worst: ${worst}`);
  });

  it('two vessels that touch are measured along themselves or stopped, never along each other', () => {
    const lesion: LesionPlan = {
      name: 'touching',
      sac: { centreMm: [0, 0, 0], semiAxesMm: [9, 9, 9] },
      blendMm: 0.4,
      neighbours: [],
      vessels: [
        feeder(
          'A1',
          [
            [-44, 0, 0],
            [-26, 0, 0],
            [-7, 0, 0],
          ],
          { kind: 'constant', calibreMm: 4 },
        ),
        // its wall dips 0.25 mm into that of A1 halfway
        feeder(
          'A2',
          [
            [-44, 14, 0],
            [-34, 6.4, 0],
            [-26, 3.75, 0],
            [-18, 6.4, 0],
            [-9, 11, 0],
            [-4, 6, 0],
          ],
          { kind: 'constant', calibreMm: 4 },
        ),
      ],
    };
    const whole = surfaceOf(lesion);
    const { lesion: found, findings } = measureWhole(
      {
        mesh: whole.mesh,
        capTriangles: [],
        ends: whole.ends.map(({ at, ...end }) => ({ ...end, point: at, where: end.name })),
        sac: { point: whole.sac, where: 'sac' },
        offeredEnds: [],
      },
      DEFINITIONS,
      NO_SCAN,
    );
    const stopped = new Set(findings.filter((f) => f.level === 'stop').map((f) => f.where));
    const fused = new Set(findings.filter((f) => f.id === 'neighbour-fused').map((f) => f.where));
    const truth = truthOf(lesion);
    for (const { name } of lesion.vessels) {
      const vessel = found.vessels.find((v) => v.name === name);
      if (stopped.has(name)) expect(vessel).toBeUndefined();
      else {
        expect(fused, name).toContain(name);
        const exact = truth.vessels[name];
        expect(Math.abs(vessel!.neck!.atMm - exact.neckAtMm!), name).toBeLessThan(1);
        expect(Math.abs(vessel!.lengthMm - exact.lengthMm), name).toBeLessThan(1);
      }
    }
    if (stopped.size > 0) expect(found.sac).toBeUndefined();
    console.log(
      `touching, stopped: ${[...stopped].join(', ') || 'none'}, said: ${[...fused].join(', ')}; ${holdIndependently(whole.mesh, found, 20)}`,
    );
  });
});

describe('what stops a vessel', () => {
  const tube = (calibreAt: (s: number) => number): Surface =>
    new Surface(sweptTube(roundTube(lineCurve([0, 0, 0], [40, 0, 0]), calibreAt), { around: 40 }), [0, 0, 0]);
  const straight = tube(() => 5);
  const followed = (points: Vec3[], profile: ProfileSample[]): FollowedVessel => ({
    name: 'A1',
    role: 'feeder',
    line: new Polyline(points),
    profile,
    endMm: new Polyline(points).lengthMm,
    meetsSac: true,
    branches: [],
    edgeMm: 0.5,
  });
  const even = profileOf(
    Array.from({ length: 81 }, () => 5),
    0.5,
  );
  const axis: Vec3[] = [
    [0, 0, 0],
    [40, 0, 0],
  ];
  const faultOf = (vessel: FollowedVessel, surface = straight): string | undefined =>
    faultOfVessel(vessel, [surface], 5, DEFINITIONS);

  it('nothing, in the middle of a tube', () => {
    expect(faultOf(followed(axis, even))).toBeUndefined();
  });

  it('a line outside the lumen, with the place', () => {
    const bent: Vec3[] = [
      [0, 0, 0],
      [20, 2.6, 0],
      [40, 0, 0],
    ];
    expect(faultOf(followed(bent, even))).toMatch(
      /leaves the lumen 1[89]\.\d mm .* near \[1\d\.\d, 2\.\d, 0\.0\]/,
    );
    bent[1] = [20, 2.3, 0];
    expect(faultOf(followed(bent, even))).not.toMatch(/leaves/);
  });

  it('a line that doubles back, but not the tightest bend that a lumen can make', () => {
    const swings: Vec3[] = [
      [0, 0, 0],
      [22, 1, 0],
      [19, -1, 0],
      [40, 0, 0],
    ];
    expect(faultOf(followed(swings, even))).toMatch(/doubles back 1\d\.\d mm/);
    // half a turn around a point of the wall, calibre 5
    const bend = Array.from({ length: 33 }, (_, i): Vec3 => {
      const a = (Math.PI * i) / 32;
      return [20 + 2.5 * Math.sin(a), 2.5 * (1 - Math.cos(a)), 0];
    });
    const hairpin: Vec3[] = [[0, 0, 0], ...bend, [0, 5, 0]];
    expect(faultOf(followed(hairpin, even))).not.toMatch(/swings/);
  });

  it('a gap of more than two calibres, unless a branch opens there', () => {
    const without = (from: number, to: number): FollowedVessel =>
      followed(
        axis,
        even.filter((s) => s.atMm <= from || s.atMm >= to),
      );
    // profile-longest-gap, two calibres of 5 mm
    expect(DEFINITIONS.gapCalibres * 5).toBe(10);
    expect(faultOf(without(10, 20))).toBeUndefined();
    expect(faultOf(without(10, 20.5))).toMatch(/no section could be cut over 10\.5 mm, 10\.0 mm/);
    const open = { ...without(10, 20.5), branches: [{ name: 'B1', atMm: 15, fromMm: 13, toMm: 17 }] };
    expect(faultOf(open)).toBeUndefined();
  });

  it('a bottleneck with less than half the depth of either side, but not a vessel that only tapers', () => {
    const necked = (part: number) => tube((s) => 5 * (1 - (1 - part) * Math.exp(-(((s - 20) / 1) ** 2))));
    expect(faultOf(followed(axis, even), necked(0.4))).toMatch(/bottleneck (19|20)\.\d mm/);
    expect(faultOf(followed(axis, even), necked(0.6))).toBeUndefined();
    expect(
      faultOf(
        followed(axis, even),
        tube((s) => 2 + 0.1 * s),
      ),
    ).toBeUndefined();
  });
});

/** A folder of practice surfaces, each with `m.stl` and `case.yaml`; not part of this project. */
const PRACTICE = process.env.PAVM_PRACTICE_SURFACES;
const practice = PRACTICE && existsSync(PRACTICE) ? readdirSync(PRACTICE, { withFileTypes: true }) : [];
const names = practice.filter((d) => d.isDirectory() && existsSync(join(PRACTICE!, d.name, 'm.stl')));
if (names.length === 0)
  console.log('practice surfaces: skipped, PAVM_PRACTICE_SURFACES names no folder of them');

describe.skipIf(names.length === 0)('practice surfaces', () => {
  it.each(names.map((d) => d.name))(
    '%s: measured and confirmed by an independent cutter, or stopped',
    async (name) => {
      const folder = join(PRACTICE!, name);
      const file = await readMesh(readFileSync(join(folder, 'm.stl')), 'm.stl');
      const { mesh } = prepareSurface(file, { unitMm: 1, label: 'whole', shown: 'm.stl' });
      const { ends, sac } = parse(readFileSync(join(folder, 'case.yaml'), 'utf8')).surfaces.whole as {
        ends: { name: string; role: 'feeder' | 'drain' | 'branch'; of?: string; at: Vec3 }[];
        sac?: Vec3;
      };
      const { lesion, findings } = measureWhole(
        {
          mesh,
          capTriangles: [],
          ends: ends.map(({ at, ...end }) => ({ ...end, point: at, where: end.name })),
          ...(sac && { sac: { point: sac, where: 'sac' } }),
          offeredEnds: [],
        },
        DEFINITIONS,
        NO_SCAN,
      );
      const stopped = new Set(findings.filter((f) => f.level === 'stop').map((f) => f.where));
      for (const end of ends)
        expect(
          lesion.vessels.some((v) => v.name === end.name) !== (stopped.has(end.name) || stopped.has('sac')) ||
            stopped.has('sac'),
          end.name,
        ).toBe(true);
      for (const vessel of lesion.vessels) expect(stopped.has(vessel.name), vessel.name).toBe(false);
      if (lesion.sac) expect(lesion.sac.volumeMl).toBeGreaterThan(0);
      console.log(
        `${name}: ${lesion.vessels.length} of ${ends.length} vessels; ${holdIndependently(mesh, lesion, 60)}`,
      );
    },
  );
});
