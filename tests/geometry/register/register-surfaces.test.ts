import { describe, expect, it } from 'vitest';
import { registerSurfaces } from '../../../src/geometry/register/register-surfaces.js';
import { matchSize, sizeRatio } from '../../../src/geometry/register/size-match.js';
import type { TriangleMesh } from '../../../src/mesh/mesh.js';
import { scaled } from '../../../src/mesh/transform.js';
import { heronLesion, ploverLesion } from '../../../src/phantoms/demo-lesions.js';
import { type LesionPlan, wholeMesh } from '../../../src/phantoms/lesion.js';
import { randomLesion } from '../../../src/phantoms/random-lesion.js';
import { seededMotion } from '../../../src/phantoms/rigid.js';
import { sacMesh } from '../../../src/phantoms/sac.js';
import { IS_LONG } from '../make.js';
import { cutOff, determinantOf, mirrorImage, noisyCopy, poseError, RULES } from './make.js';

const heron = wholeMesh(heronLesion(), 1).mesh;
const heronAgain = wholeMesh(heronLesion(), 1.3).mesh;
const plover = wholeMesh(ploverLesion(), 1).mesh;
/** Far more than it takes on an idle machine. */
const PATIENCE = 240_000;

const register = (fixed: TriangleMesh, moving: TriangleMesh) =>
  registerSurfaces(fixed, moving, RULES) ?? expect.fail('no registration');

/** Both meshes of a lesion, fine enough for its thinnest vessel. */
function twoMeshes(lesion: LesionPlan): [TriangleMesh, TriangleMesh] {
  for (let cell = 1; ; cell *= 0.8) {
    try {
      return [wholeMesh(lesion, cell).mesh, wholeMesh(lesion, cell * 0.85).mesh];
    } catch (error) {
      if (!(error instanceof RangeError)) throw error;
    }
  }
}

describe('a rotated, translated, noisy copy in another triangulation', () => {
  it.each([
    ...(IS_LONG
      ? [
          [1, 0.1],
          [2, 0.15],
        ]
      : []),
    [3, 0.2],
  ])(
    'heron, seed %i, noise %f mm: within 0.1 mm and 0.1°',
    (seed, noiseMm) => {
      const motion = seededMotion(seed, 150);
      const found = register(heron, noisyCopy(heronAgain, motion, noiseMm, seed));
      const { farthestMm, angleDeg } = poseError(found.pose, motion, heron);
      expect(found.verdict).toBe('placed');
      expect(farthestMm).toBeLessThan(0.1);
      expect(angleDeg).toBeLessThan(0.1);
      expect(found.converged).toBe(true);
      expect(determinantOf(found.pose.rotation)).toBeCloseTo(1, 12);
      expect(found.scale?.factor).toBeCloseTo(1, 2);
      expect(found.scale?.interval[0]).toBeLessThan(1);
      expect(found.scale?.interval[1]).toBeGreaterThan(1);
      // noise along the normal is what remains, apart from facets
      expect(found.movingToFixed.rmsMm).toBeLessThan(noiseMm * 1.1);
      expect(Math.abs(found.movingToFixed.biasMm)).toBeLessThan(0.02);
    },
    PATIENCE,
  );

  it.runIf(IS_LONG).each(Array.from({ length: 12 }, (_, i) => i + 1))(
    'random lesion %i',
    (seed) => {
      const [fixed, other] = twoMeshes(randomLesion(13 * seed));
      const motion = seededMotion(seed, 150);
      const found = register(fixed, noisyCopy(other, motion, 0.15, seed));
      const { farthestMm, angleDeg } = poseError(found.pose, motion, fixed);
      expect(found.verdict).toBe('placed');
      expect(farthestMm).toBeLessThan(0.1);
      expect(angleDeg).toBeLessThan(0.1);
    },
    PATIENCE,
  );

  it(
    '10 m from the origin',
    () => {
      const far = {
        rotation: seededMotion(7, 1).rotation,
        translationMm: [1e4, -1e4, 5e3] as [number, number, number],
      };
      const found = register(heron, noisyCopy(heronAgain, far, 0.1, 7));
      expect(found.verdict).toBe('placed');
      expect(poseError(found.pose, far, heron).farthestMm).toBeLessThan(0.1);
    },
    PATIENCE,
  );

  it(
    'the same input gives the same pose to the last bit',
    () => {
      const copy = noisyCopy(heronAgain, seededMotion(4, 50), 0.1, 4);
      expect(register(heron, copy)).toEqual(register(heron, copy));
    },
    PATIENCE,
  );
});

describe('surfaces that contain only a part of each other', () => {
  const xs = [...heron.positions.filter((_, i) => i % 3 === 0)].toSorted((a, b) => a - b);
  const limit = xs[Math.floor(0.3 * xs.length)];

  it(
    'a copy without its last third is placed just as well, and what is missing is reported',
    () => {
      const part = cutOff(heronAgain, (p) => p[0] > limit);
      const motion = seededMotion(5, 80);
      const found = register(heron, noisyCopy(part, motion, 0.15, 5));
      expect(found.verdict).toBe('placed');
      expect(poseError(found.pose, motion, heron).farthestMm).toBeLessThan(0.1);
      expect(found.overlap.moving).toBeGreaterThan(0.99);
      expect(found.overlap.fixed).toBeGreaterThan(0.65);
      expect(found.overlap.fixed).toBeLessThan(0.8);
      // the far side of the missing part lies farthest
      expect(found.fixedToMoving.largestMm).toBeGreaterThan(10);
      expect(found.hausdorffMm).toBe(found.fixedToMoving.largestMm);
    },
    PATIENCE,
  );

  it(
    'the whole on a part just as well',
    () => {
      const motion = seededMotion(6, 80);
      const found = register(
        cutOff(heron, (p) => p[0] > limit),
        noisyCopy(heronAgain, motion, 0.15, 6),
      );
      expect(found.verdict).toBe('placed');
      expect(poseError(found.pose, motion, heron).farthestMm).toBeLessThan(0.1);
    },
    PATIENCE,
  );
});

describe('what is not the same, or fits in more than one pose', () => {
  it(
    'recognises a mirror image',
    () => {
      const found = register(heron, noisyCopy(mirrorImage(heronAgain), seededMotion(8, 60), 0.1, 8));
      expect(found.verdict).toBe('mirrored');
      expect(found.because).toMatch(/its mirror image fits \(misfit 0\.\d\d mm\)/);
      expect(determinantOf(found.pose.rotation)).toBeCloseTo(1, 12);
      expect(found.misfitMm).toBeGreaterThan(5 * found.mirrorMisfitMm);
    },
    PATIENCE,
  );

  it(
    'refuses another lesion, either way round',
    () => {
      for (const [fixed, moving] of [[heron, plover], ...(IS_LONG ? [[plover, heron]] : [])]) {
        const found = register(fixed, moving);
        expect(found.verdict).toBe('not-the-same');
        expect(found.because).toMatch(/in the best pose only \d+ % of it lies within/);
      }
    },
    PATIENCE,
  );

  const body = (x: number, y: number, z: number): TriangleMesh =>
    sacMesh({ centreMm: [5, 6, 7], semiAxesMm: [x, y, z], lobes: [] }, 12);

  it.each([
    ...(IS_LONG ? [['a sphere', body(12, 12, 12)] as [string, TriangleMesh]] : []),
    ['an ellipsoid, which has four equivalent poses', body(14, 11, 9)] as [string, TriangleMesh],
  ])(
    '%s is ambiguous',
    (_, mesh) => {
      const found = register(mesh, noisyCopy(mesh, seededMotion(2, 30), 0.1, 2));
      expect(found.verdict).toBe('ambiguous');
      expect(found.because).toMatch(/a pose turned by \d+° fits as well/);
    },
    PATIENCE,
  );

  it('a mesh without area has no pose', () => {
    const flat = { positions: new Float64Array(9), triangles: Uint32Array.of(0, 1, 2) };
    expect(registerSurfaces(heron, flat, RULES)).toBeUndefined();
    expect(registerSurfaces(flat, heron, RULES)).toBeUndefined();
  });
});

describe('another size', () => {
  it.each(IS_LONG ? [0.98, 1.05] : [0.98])(
    'a copy scaled by %f is placed as it is, and its scale is reported, not applied',
    (factor) => {
      const motion = seededMotion(9, 60);
      const found = register(heron, scaled(noisyCopy(heronAgain, motion, 0.1, 9), factor));
      expect(found.verdict).toBe('placed');
      expect(found.scale?.factor).toBeGreaterThan(factor - 0.003);
      expect(found.scale?.factor).toBeLessThan(factor + 0.003);
      const [low, high] = found.scale!.interval;
      expect(low < factor + 0.002 && high > factor - 0.002).toBe(true);
      expect(determinantOf(found.pose.rotation)).toBeCloseTo(1, 12);
      expect(found.movingToFixed.rmsMm).toBeGreaterThan(0.2);
    },
    PATIENCE,
  );

  it(
    'a uniform layer is an offset, not a scale',
    () => {
      // every vertex moved outwards along the normal of the implicit body: a slightly larger calibre everywhere
      const thick = wholeMesh(thicker(heronLesion(), 0.4), 1.3).mesh;
      const found = register(heron, thick);
      expect(found.verdict).toBe('placed');
      expect(found.scale?.offsetMm).toBeGreaterThan(0.3);
      expect(found.scale?.offsetMm).toBeLessThan(0.5);
      expect(Math.abs(found.scale!.factor - 1)).toBeLessThan(0.01);
      expect(found.movingToFixed.biasMm).toBeGreaterThan(0.3);
      expect(found.fixedToMoving.biasMm).toBeGreaterThan(0.3);
    },
    PATIENCE,
  );

  it(
    'recognises inches taken for mm',
    () => {
      const inches = scaled(noisyCopy(heronAgain, seededMotion(3, 20), 0.1, 3), 1 / 25.4);
      expect(sizeRatio(heron, inches)).toBeCloseTo(1 / 25.4, 3);
      const found = matchSize(heron, inches, [1 / 25.4], RULES);
      expect(found?.factor).toBe(1 / 25.4);
      expect(found?.fitted).toBeCloseTo(1 / 25.4, 4);
    },
    PATIENCE,
  );

  it.skipIf(!IS_LONG)(
    'another lesion in another unit is not mistaken for it',
    () => expect(matchSize(heron, scaled(plover, 0.1), [0.1], RULES)).toBeUndefined(),
    PATIENCE,
  );
});

/** The lesion with every wall moved outwards, mm. */
function thicker(lesion: LesionPlan, byMm: number): LesionPlan {
  return {
    ...lesion,
    sac: {
      ...lesion.sac,
      semiAxesMm: lesion.sac.semiAxesMm.map((a) => a + byMm) as [number, number, number],
    },
    vessels: lesion.vessels.map((v) =>
      v.calibre.kind === 'constant'
        ? { ...v, calibre: { ...v.calibre, calibreMm: v.calibre.calibreMm + 2 * byMm } }
        : v,
    ),
  };
}
