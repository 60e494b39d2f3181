import { describe, expect, it, vi } from 'vitest';
import { straightLine } from '../../src/geometry/statistics.js';
import {
  calibreError,
  lengthIntervalMm,
  meanCalibreIntervalMm,
  rmsMm,
  sectionResolutionMm,
  volumeIntervalMm3,
} from '../../src/geometry/uncertainty.js';
import { IS_LONG } from './make.js';
import { type ScanKind, sacTrial, tubeTrial, ZONE_MM } from './scan-trials.js';

vi.setConfig({ testTimeout: 600_000 });

/** Counts of a band of sizes, and the errors (mm, volumes %) met in it. */
class Tally {
  private inside = 0;
  private readonly errors: number[] = [];
  private width = 0;

  add(interval: [number, number], measured: number, truth: number, unit = 1): void {
    if (interval[0] <= truth && truth <= interval[1]) this.inside++;
    this.errors.push((measured - truth) / unit);
    this.width += (interval[1] - interval[0]) / unit;
  }

  get count(): number {
    return this.errors.length;
  }

  get coverage(): number {
    return this.inside / this.count;
  }

  toString(): string {
    const m = this.errors.reduce((a, e) => a + e, 0) / this.count;
    const sd = Math.sqrt(this.errors.reduce((a, e) => a + (e - m) ** 2, 0) / this.count);
    const half = this.width / this.count / 2;
    return `n ${this.count}, error ${m.toFixed(3)} ± ${sd.toFixed(3)}, interval ± ${half.toFixed(3)}, covers ${(100 * this.coverage).toFixed(1)} %`;
  }
}

const CALIBRE_BANDS = [3, 5, 8, 12];
const SAC_BANDS = [5, 12];
const bandOf = (value: number, limits: readonly number[]): string =>
  `up to ${limits.find((limit) => value <= limit) ?? 'more'} mm`;

/** Runs seeds `from` to `to` of one kind of scan into tallies named by quantity and band. */
function runTrials(kind: ScanKind, from: number, to: number, tallies: Map<string, Tally>): void {
  const add = (name: string, ...rest: Parameters<Tally['add']>): void => {
    const tally = tallies.get(name) ?? new Tally();
    tallies.set(name, tally);
    tally.add(...rest);
  };
  for (let seed = from; seed <= to; seed++) {
    const tube = tubeTrial(seed, kind);
    const v = sectionResolutionMm(tube.scan, tube.direction);
    const error = calibreError(tube.measuredCalibreMm, v, tube.edgeMm);
    const calibre = meanCalibreIntervalMm(tube.measuredCalibresMm, tube.measuredCalibreMm, ZONE_MM, error);
    const length = lengthIntervalMm(tube.measuredLengthMm, v, tube.measuredCalibreMm);
    for (const band of ['', ` ${bandOf(tube.calibreMm, CALIBRE_BANDS)}`]) {
      add(`calibre${band}`, calibre, tube.measuredCalibreMm, tube.calibreMm);
      add(`length${band}`, length, tube.measuredLengthMm, tube.lengthMm);
    }
    const sac = sacTrial(seed, kind);
    const volume = volumeIntervalMm3(
      sac.measuredVolumeMm3,
      sac.measuredSurfaceMm2,
      sectionResolutionMm(sac.scan, undefined),
    );
    const radius = Math.cbrt((3 * sac.volumeMm3) / (4 * Math.PI));
    for (const band of ['', ` radius ${bandOf(radius, SAC_BANDS)}`])
      add(`volume, %${band}`, volume, sac.measuredVolumeMm3, sac.volumeMm3, sac.volumeMm3 / 100);
  }
}

const report = (title: string, tallies: Map<string, Tally>): void =>
  console.log(
    [title, ...[...tallies].sort(([a], [b]) => (a < b ? -1 : 1)).map(([name, t]) => `  ${name}: ${t}`)].join(
      '\n',
    ),
  );

it('the 95 % intervals cover the truth in 90 to 99 % of 200 scanned vessels and sacs', () => {
  const tallies = new Map<string, Tally>();
  runTrials({ from: 'label', thresholdOff: 0.1 }, 1, 100, tallies);
  runTrials({ from: 'grey', thresholdOff: 0.1 }, 101, 200, tallies);
  report('200 trials, labels and grey values, threshold within 10 % of the contrast', tallies);
  for (const name of ['calibre', 'length', 'volume, %']) {
    expect(tallies.get(name)!.count, name).toBe(200);
    expect(tallies.get(name)!.coverage, name).toBeGreaterThanOrEqual(0.9);
    expect(tallies.get(name)!.coverage, name).toBeLessThanOrEqual(0.99);
  }
});

describe.runIf(IS_LONG)('full sweep', () => {
  it.each<ScanKind>([
    { from: 'label', thresholdOff: 0.1 },
    { from: 'label', thresholdOff: 0 },
    { from: 'grey', thresholdOff: 0.1 },
    { from: 'grey', thresholdOff: 0 },
  ])('250 trials from $from, threshold off by $thresholdOff', (kind) => {
    const tallies = new Map<string, Tally>();
    runTrials(kind, 1001, 1250, tallies);
    report(
      `250 trials from ${kind.from}, threshold within ${100 * kind.thresholdOff} % of the contrast`,
      tallies,
    );
    for (const name of ['calibre', 'length', 'volume, %'])
      expect(tallies.get(name)!.coverage, name).toBeGreaterThanOrEqual(0.9);
  });
});

describe('by hand', () => {
  it('a voxel as it lies to the section', () => {
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
    const error = calibreError(5, 0.7, 0);
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
    expect(calibreError(6, undefined, 0)).toEqual({ missingMm: 0, sigmaMm: 0 });
    expect(calibreError(6, undefined, 1.2).sigmaMm).toBeCloseTo((0.04 / 3) * 6 * (2 / Math.sqrt(12)), 12);
    expect(lengthIntervalMm(30, undefined, 5)).toEqual([30, 30]);
    expect(volumeIntervalMm3(1000, 500, undefined)).toEqual([1000, 1000]);
  });

  it('every interval holds what was measured and widens with the voxel', () => {
    for (const calibre of [0.4, 1, 2, 4, 8, 16]) {
      let before = 0;
      for (const v of [0.3, 0.6, 1.2, 2.4]) {
        const [low, high] = meanCalibreIntervalMm([calibre], calibre, 10, calibreError(calibre, v, v));
        expect(low).toBeLessThanOrEqual(calibre);
        expect(low).toBeGreaterThanOrEqual(0);
        expect(high).toBeGreaterThan(calibre);
        expect(high - low).toBeGreaterThan(before);
        before = high - low;
      }
    }
  });

  it('an even taper is no error, scatter about it is', () => {
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
