import { describe, expect, it, vi } from 'vitest';
import {
  calibreError,
  lengthIntervalMm,
  meanCalibreIntervalMm,
  sectionResolutionMm,
  volumeIntervalMm3,
} from '../../src/geometry/uncertainty.js';
import { IS_LONG } from './make.js';
import { type ScanKind, sacTrial, tubeTrial, ZONE_MM } from './scan-trials.js';

vi.setConfig({ testTimeout: 600_000 });

/** Counts for a band of sizes, and the errors (mm, volumes %) found in it. */
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
    const error = calibreError(tube.measuredCalibreMm, v, tube.edgeMm, tube.driftMm);
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
