import { describe, expect, it } from 'vitest';
import { straightLine } from '../../src/geometry/statistics.js';
import {
  calibreError,
  lengthIntervalMm,
  meanCalibreIntervalMm,
  rmsMm,
  sectionResolutionMm,
  volumeIntervalMm3,
} from '../../src/geometry/uncertainty.js';
import { central95Of, seededRandom } from '../physiology/independent-formulas.js';

/** A vessel that lies at so many places of the grid that their effect averages out. */
const EVERYWHERE = Number.POSITIVE_INFINITY;

describe('by hand', () => {
  it('the size of a voxel across a section', () => {
    const scan = { inPlaneMm: 0.7, sliceThicknessMm: 1.2 };
    expect(sectionResolutionMm(scan, [0, 0, 1])).toBeCloseTo(0.7, 12);
    expect(sectionResolutionMm(scan, [1, 0, 0])).toBeCloseTo(Math.sqrt(0.84), 12);
    expect(sectionResolutionMm(scan, [0, 0.6, -0.8])).toBeCloseTo(Math.sqrt(0.49 * 0.8 + 0.84 * 0.6), 12);
    expect(sectionResolutionMm(scan, undefined)).toBeCloseTo(Math.sqrt(0.84), 12);
    expect(sectionResolutionMm({ inPlaneMm: 0.7 }, [0, 1, 0])).toBeCloseTo(0.7, 12);
    expect(sectionResolutionMm({ sliceThicknessMm: 1 }, undefined)).toBe(1);
    expect(sectionResolutionMm({}, [0, 0, 1])).toBeUndefined();
  });

  it('a vessel of 5 mm in voxels of 0.7 mm', () => {
    const error = calibreError(5, 0.7, 0, EVERYWHERE);
    // walls drawn in by up to 0.66 v² / d each
    expect(error.missingMm).toBeCloseTo(0.66 * (0.49 / 5), 12);
    const threshold = 2 * (0.1 / 1.959964) * 0.7;
    const shrink = (2 * 0.66 * (0.49 / 5)) / Math.sqrt(12);
    const grid = 2 * 0.11 * (0.49 / 5);
    expect(error.sigmaMm).toBeCloseTo(Math.hypot(threshold, shrink, grid), 12);
    expect(rmsMm(error)).toBeCloseTo(Math.hypot(error.sigmaMm, error.missingMm), 12);
  });

  it('the length of a vessel of 5 mm in voxels of 0.7 mm', () => {
    const end = Math.hypot((0.5 * 0.7) / Math.sqrt(12), 0.6 * (0.49 / 5));
    expect(lengthIntervalMm(30, 0.7, 5)[1] - 30).toBeCloseTo(1.959964 * Math.SQRT2 * end, 9);
  });

  it('without a resolution only the facets of the surface count', () => {
    expect(calibreError(6, undefined, 0, EVERYWHERE)).toEqual({ missingMm: 0, sigmaMm: 0 });
    expect(calibreError(6, undefined, 1.2, EVERYWHERE).sigmaMm).toBeCloseTo(
      (0.04 / 3) * 6 * (2 / Math.sqrt(12)),
      12,
    );
    expect(lengthIntervalMm(30, undefined, 5)).toEqual([30, 30]);
    expect(volumeIntervalMm3(1000, 500, undefined)).toEqual([1000, 1000]);
  });

  it('every interval contains the measured value and widens with the voxel', () => {
    for (const calibre of [0.4, 1, 2, 4, 8, 16]) {
      let before = 0;
      for (const v of [0.3, 0.6, 1.2, 2.4]) {
        const [low, high] = meanCalibreIntervalMm(
          [calibre],
          calibre,
          10,
          calibreError(calibre, v, v, EVERYWHERE),
        );
        expect(low).toBeLessThanOrEqual(calibre);
        expect(low).toBeGreaterThanOrEqual(0);
        expect(high).toBeGreaterThan(calibre);
        expect(high - low).toBeGreaterThan(before);
        before = high - low;
      }
    }
  });

  it('an even taper is not an error, scatter about it is', () => {
    const taper = Array.from({ length: 51 }, (_, i) => 5 + 0.02 * i);
    expect(straightLine(taper, 1).scatter).toBeCloseTo(0, 12);
    expect(straightLine([1, 1], 1).scatter).toBe(0);
    // 0 1 0: level 1/3, no slope, squares 6/9 over one degree of freedom
    expect(straightLine([0, 1, 0], 1).scatter).toBeCloseTo(Math.sqrt(6 / 9), 12);
    const none = { missingMm: 0, sigmaMm: 0 };
    expect(meanCalibreIntervalMm(taper, 5.5, 5, none)[1]).toBeCloseTo(5.5, 9);
    const [low, high] = meanCalibreIntervalMm([4, 6, 4, 6], 5, 20, none);
    expect((high - low) / 2).toBeCloseTo((1.959964 * straightLine([4, 6, 4, 6], 1).scatter) / 2, 9);
  });
});

/** Walls as in the model: drawn in by c v² H with c uniform from 0 to 0.66, moved by a threshold, scattered by the grid. */
function wallsMm(count: number, v: number, curvature: number): number[] {
  const { even, normal } = seededRandom(1926);
  const bulge = v * Math.min(1, v * curvature);
  return Array.from(
    { length: count },
    () => 0.66 * even() * bulge + (0.1 / 1.959964) * v * normal() + 0.11 * bulge * normal(),
  );
}

describe('against an independent Monte Carlo simulation', () => {
  const near = (ours: [number, number], apart: [number, number], part: number): void => {
    const width = apart[1] - apart[0];
    expect(Math.abs(ours[0] - apart[0])).toBeLessThan(part * width);
    expect(Math.abs(ours[1] - apart[1])).toBeLessThan(part * width);
  };

  it.each([
    [5, 0.7],
    [9, 0.5],
    [3, 0.8],
  ])(
    'the volume of a sac of radius %d mm in voxels of %d mm: all of its wall moves together',
    (radius, v) => {
      const volume = (4 / 3) * Math.PI * radius ** 3;
      const area = 4 * Math.PI * radius ** 2;
      // mean curvature of a sphere 1 / r; small shifts, so area times shift
      const volumes = wallsMm(10_000, v, 1 / radius).map((out) => volume + area * out);
      near(volumeIntervalMm3(volume, area, v), central95Of(volumes), 0.04);
    },
  );

  it.each([
    [5, 0.7],
    [10, 0.5],
    [2.5, 0.8],
  ])('the calibre of a vessel of %d mm in voxels of %d mm: two walls', (calibre, v) => {
    const calibres = wallsMm(10_000, v, 1 / calibre).map((out) => calibre + 2 * out);
    near(
      meanCalibreIntervalMm([calibre], calibre, 10, calibreError(calibre, v, 0, EVERYWHERE)),
      central95Of(calibres),
      0.04,
    );
  });

  it('the length of a vessel of 5 mm in voxels of 0.7 mm: two ends, each within half a voxel', () => {
    const { even, normal } = seededRandom(77);
    const end = () => 0.5 * 0.7 * (even() - 0.5) + 0.6 * (0.49 / 5) * normal();
    const lengths = Array.from({ length: 10_000 }, () => 30 + end() + end());
    near(lengthIntervalMm(30, 0.7, 5), central95Of(lengths), 0.04);
  });
});

describe('the ends of an interval', () => {
  const none = { missingMm: 0, sigmaMm: 0 };

  it('are centred on the value plus the missing part, and contain the value', () => {
    const [low, high] = meanCalibreIntervalMm([5], 5, 10, { missingMm: 0.1, sigmaMm: 0.2 });
    expect(low).toBeCloseTo(5 + 0.1 - 1.959964 * 0.2, 6);
    expect(high).toBeCloseTo(5 + 0.1 + 1.959964 * 0.2, 6);
    expect(meanCalibreIntervalMm([5], 5, 10, { missingMm: 0.5, sigmaMm: 0.1 })[0]).toBe(5);
    expect(meanCalibreIntervalMm([5], 5, 10, { missingMm: 0, sigmaMm: 9 })[0]).toBe(0);
  });

  it('sections within one calibre count as one observation: 1, 2 and at most the number of sections', () => {
    const half = (lengthMm: number) => {
      const [low, high] = meanCalibreIntervalMm([4, 6, 4, 6], 5, lengthMm, none);
      return (high - low) / 2;
    };
    // slope 0.4, residuals -0.4, 1.2, -1.2, 0.4: squares 3.2 over two degrees of freedom
    const scatter = 1.959964 * Math.sqrt(3.2 / 2);
    expect(half(2)).toBeCloseTo(scatter, 6);
    expect(half(10)).toBeCloseTo(scatter / Math.SQRT2, 6);
    expect(half(100)).toBeCloseTo(scatter / 2, 6);
  });

  it('nothing narrower than a voxel is known better than to a voxel, and no facet is larger than its vessel', () => {
    expect(calibreError(0.5, 0.7, 0, EVERYWHERE).missingMm).toBeCloseTo(0.66 * 0.7, 12);
    expect(calibreError(1, undefined, 5, EVERYWHERE)).toEqual(calibreError(1, undefined, 1, EVERYWHERE));
    expect(lengthIntervalMm(30, 0.7, 0.1)).toEqual(lengthIntervalMm(30, 0.7, 0.7));
  });
});
