import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import { type LesionPlan, partMeshes, vesselsOf } from '../../src/phantoms/lesion.js';
import { randomLesion } from '../../src/phantoms/random-lesion.js';
import { loadRules } from '../../src/rules/load-rules.js';
import type { GreyVolume } from '../../src/volume/ct/grey-volume.js';
import { type SurfaceInScan, surfaceInScan } from '../../src/witness/surface-in-scan.js';
import { wallPoints } from '../../src/witness/wall-points.js';
import { type SceneOptions, syntheticCt } from './synthetic-ct.js';

const rules = loadRules();

/** A lesion at a position in the chest, so that negating an axis moves it. */
function placed(seed: number, at: Vec3): LesionPlan {
  const lesion = randomLesion(seed);
  const move = (p: Vec3): Vec3 => p.map((x, k) => x + at[k]) as Vec3;
  return {
    ...lesion,
    sac: { ...lesion.sac, centreMm: move(lesion.sac.centreMm) },
    vessels: lesion.vessels.map((v) => ({ ...v, axisMm: v.axisMm.map(move) })),
    neighbours: [],
  };
}

const PLACE: Vec3 = [62, 21, -48];

/** What the witness reports on the lesion's surfaces after a change of each vertex. */
function said(
  lesion: LesionPlan,
  volume: GreyVolume,
  change: (p: Vec3) => Vec3,
  isRas = false,
): SurfaceInScan {
  const mirrored = [0, 1, 2].reduce((sign, k) => {
    const e = [0, 1, 2].map((d) => (d === k ? 1 : 0)) as Vec3;
    const [a, b] = [change(e), change([0, 0, 0])];
    return sign * Math.sign(a[k] - b[k]);
  }, 1);
  const surfaces = partMeshes(lesion).map(({ name, mesh }) => {
    const positions = new Float64Array(mesh.positions.length);
    for (let v = 0; v < positions.length; v += 3)
      positions.set(change([mesh.positions[v], mesh.positions[v + 1], mesh.positions[v + 2]]), v);
    // whoever exports a mirrored surface still has it facing outwards
    const triangles =
      mirrored > 0 ? mesh.triangles : mesh.triangles.map((_, i, all) => all[i - (i % 3) + [0, 2, 1][i % 3]]);
    return { name, mesh: { positions, triangles } };
  });
  const vessels = [...vesselsOf(lesion).values()].map(({ axis, calibreAt }) => {
    const centrelineMm = Array.from({ length: Math.floor(axis.lengthMm) }, (_, s) => change(axis.pointAt(s)));
    const calibre = calibreAt(0);
    return { centrelineMm, calibreMm: { min: calibre, mean: calibre, max: calibre } };
  });
  return surfaceInScan(wallPoints(surfaces, vessels, isRas), volume, rules)!;
}

const SEED = 8;
const lesion = placed(SEED, PLACE);
/** The chest wall cuts 10 mm into what lies farthest left; a vessel passes 16 mm from the sac. */
const CHEST: SceneOptions = {
  chestWallX: 102,
  passing: [{ at: [PLACE[0] - 16, PLACE[1], PLACE[2]], along: [0, 0.4, 1], radiusMm: 2 }],
};
const chest = syntheticCt(lesion, CHEST);
const moved = (shift: Vec3) => (p: Vec3) => p.map((x, k) => x - shift[k]) as Vec3;

describe('a lesion at the chest wall, next to a passing vessel', () => {
  it('fits in place, with hardly a shift and the contrast of its wall', () => {
    const found = said(lesion, chest, (p) => p);
    expect(found.verdict).toBe('fits');
    expect(Math.hypot(...found.shiftMm)).toBeLessThan(0.05);
    expect(found.contrastHu).toBeGreaterThan(1000);
    expect(found.lumenHu).toBeGreaterThan(300);
    expect(found.share).toBeGreaterThan(0.95);
    expect(found.best).toBeUndefined();
  });
  it('fits in RAS where that is stated', () => {
    expect(said(lesion, chest, ([x, y, z]) => [-x, -y, z], true).verdict).toBe('fits');
  });
  it.each([[[3, 0, 0]], [[0, -3, 0]], [[1.2, 1.5, -2.3]], [[-9, 7, 11]]] as [Vec3][])(
    'shifted by %j mm: found',
    (shift) => {
      const found = said(lesion, chest, moved(shift));
      expect(found.verdict).toBe('shifted');
      shift.forEach((x, k) => {
        expect(Math.abs(found.shiftMm[k] - x)).toBeLessThan(0.1);
      });
      expect(found.best).toMatch(/^shift by \(/);
    },
  );
  it('a shift of half a voxel still fits, and is reported', () => {
    const found = said(lesion, chest, moved([0.4, 0, 0]));
    expect(found.verdict).toBe('fits');
    expect(Math.abs(found.shiftMm[0] - 0.4)).toBeLessThan(0.05);
  });
  it.each([
    ['the other of LPS and RAS', ([x, y, z]: Vec3): Vec3 => [-x, -y, z]],
    ['left and right are exchanged', ([x, y, z]: Vec3): Vec3 => [-x, y, z]],
    ['head and feet are exchanged', ([x, y, z]: Vec3): Vec3 => [x, y, -z]],
  ])('flipped: %s', (words, change) => {
    const found = said(lesion, chest, change);
    expect(found.verdict).toBe('flipped');
    expect(found.best).toContain(words);
  });
  it('elsewhere: another lesion, another position, other units', () => {
    expect(said(placed(SEED + 20, PLACE), chest, (p) => p).verdict).toBe('elsewhere');
    const far = said(lesion, chest, ([x, y, z]) => [x + 70, y, z]);
    expect(far.verdict).toBe('elsewhere');
    expect(far.best).toBeUndefined();
    const inches = said(lesion, chest, (p) => p.map((x) => x / 25.4) as Vec3);
    expect(inches).toMatchObject({ verdict: 'elsewhere', best: expect.stringContaining('inches') });
  });
  it('a wall drawn 0.4 mm too wide all round is no shift', () => {
    const wide = {
      ...lesion,
      vessels: lesion.vessels,
      sac: { ...lesion.sac, semiAxesMm: lesion.sac.semiAxesMm.map((r) => r + 0.4) as Vec3 },
    };
    const found = said(wide, chest, (p) => p);
    expect(found.verdict).toBe('fits');
    expect(Math.hypot(...found.shiftMm)).toBeLessThan(0.1);
  });
  it('gives the same result twice, and none for too few points', () => {
    expect(said(lesion, chest, (p) => p)).toEqual(said(lesion, chest, (p) => p));
    expect(surfaceInScan([], chest, rules)).toBeUndefined();
  });
});

it('without contrast agent: fits by its wall against lung, and 3 mm are found', () => {
  // 40 HU in the lumen, 50 in the chest wall, which takes a third of the lesion's width
  const volume = syntheticCt(lesion, { chestWallX: 85, lumenHu: 40 });
  const found = said(lesion, volume, (p) => p);
  expect(found.verdict).toBe('fits');
  expect(Math.hypot(...found.shiftMm)).toBeLessThan(0.2);
  expect(said(lesion, volume, moved([0, 3, 0])).verdict).toBe('shifted');
  expect(said(lesion, volume, moved([0, 0, 30])).verdict).not.toBe('fits');
  expect(said(placed(SEED + 20, PLACE), volume, (p) => p).verdict).not.toBe('fits');
});

it('thick slices, noisy: fits, and 3 mm are found', () => {
  const volume = syntheticCt(lesion, { spacing: [0.7, 0.7, 1.5], blurMm: 1.2, noiseHu: 25 });
  const found = said(lesion, volume, (p) => p);
  expect(found.verdict).toBe('fits');
  expect(Math.hypot(...found.shiftMm)).toBeLessThan(0.1);
  expect(said(lesion, volume, moved([0, 0, 3])).verdict).toBe('shifted');
});

describe.runIf(process.env.PAVM_LONG === '1')('many lesions', { timeout: 1_800_000 }, () => {
  it.each(Array.from({ length: 20 }, (_, i) => i + 1))('seed %i', (seed) => {
    const one = placed(seed, PLACE);
    const volume = syntheticCt(one, { seed, spacing: [0.8, 0.8, 1] });
    expect(said(one, volume, (p) => p).verdict).toBe('fits');
    expect(said(one, volume, moved([3, 0, 0])).verdict).toBe('shifted');
    expect(said(one, volume, moved([0, 2.1, -2.1])).verdict).toBe('shifted');
    expect(said(one, volume, ([x, y, z]) => [-x, -y, z]).verdict).toBe('flipped');
    expect(said(one, volume, ([x, y, z]) => [-x, y, z]).verdict).toBe('flipped');
    expect(said(placed(seed + 50, PLACE), volume, (p) => p).verdict).toBe('elsewhere');
  });
});
