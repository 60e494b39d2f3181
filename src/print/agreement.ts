import { cube } from '../foundation/power.js';
import { student95, student99, Z95, Z99 } from '../foundation/student-t.js';
import { mean } from '../geometry/statistics.js';

/** Agreement of two ways of measuring, from one difference for each thing measured, mm. */
export interface Agreement {
  count: number;
  /** Mean of the differences. */
  biasMm: number;
  sdMm: number;
  /** 95 % and 99 % interval of the bias. */
  interval95Mm: [number, number];
  interval99Mm: [number, number];
  /** Bias minus and plus 1.96 standard deviations of single readings. */
  limitsMm: [number, number];
  /** 95 % interval of each limit; absent from fewer than two differences. */
  limitIntervalsMm?: [[number, number], [number, number]];
}

/** Prior knowledge of the error of the differences. */
export interface KnownError {
  /** Standard deviation of one reading, mm: a conservative value, and one for careful readers. */
  sigmaMm: number;
  leastMm: number;
  /** Readings in each difference, on average. */
  readingsEach: number;
  /** Standard deviation between repeated readings of one thing, mm; absent without repeats. */
  withinMm?: number;
}

/** Ratio of scatter to its true value that is exceeded once in twenty times: chi squared by Wilson and Hilferty (1931), from memory. */
function largestRatio(freedom: number): number {
  const v = 2 / (9 * freedom);
  return Math.sqrt(cube(1 - v + 1.645 * Math.sqrt(v)));
}

/**
 * Half widths of a 95 % and a 99 % interval, in units of 1/sqrt(n), from the scatter of n differences.
 *
 * t times the scatter and the normal quantile times the known error are both such half widths if the known error bounds the true one; the
 * smaller is used, but never less than careful readers allow. Scatter that contradicts the known error (5 % level) uses t alone.
 */
function halfWidths(scatterMm: number, freedom: number, known: KnownError): [number, number] {
  const each = Math.sqrt(known.readingsEach);
  const [sigma, least] = [known.sigmaMm / each, known.leastMm / each];
  const half = (z: number, t: number): number => {
    if (freedom < 1) return z * sigma;
    if (scatterMm > sigma * largestRatio(freedom)) return t * scatterMm;
    return Math.min(Math.max(z * least, t * scatterMm), z * sigma);
  };
  return [half(Z95, student95(freedom)), half(Z99, student99(freedom))];
}

/**
 * Bias and limits of agreement.
 *
 * Formula   bias = mean d; limits = bias ± 1.96·s; se(bias) = s/sqrt(n); se(limit) = sqrt(3 s²/n); intervals with t(n-1)
 *           means of m readings: s² = sd²(d) + (1 - 1/m)·sw², which refers the limits to single readings
 * Source    Bland and Altman, Lancet 1986;327:307, and Stat Methods Med Res 1999;8:135 (repeated readings)
 * Assumes   `halfWidths` defines how the known error of a reading is combined with the scatter
 * @example  agreement([0.1, -0.1, 0], { sigmaMm: 0, leastMm: 0, readingsEach: 1 }).biasMm   // 0
 */
export function agreement(differences: readonly number[], known: KnownError): Agreement {
  const count = differences.length;
  const biasMm = mean(differences);
  const squares = differences.reduce((sum, d) => sum + (d - biasMm) ** 2, 0);
  const scatterMm = count > 1 ? Math.sqrt(squares / (count - 1)) : 0;
  const [half95, half99] = halfWidths(scatterMm, count - 1, known).map((h) => h / Math.sqrt(count));
  const about = (half: number): [number, number] => [biasMm - half, biasMm + half];
  const sdMm = Math.sqrt(scatterMm ** 2 + (1 - 1 / known.readingsEach) * (known.withinMm ?? 0) ** 2);
  const limitsMm = about(Z95 * sdMm);
  const half = count > 1 ? student95(count - 1) * Math.sqrt((3 * sdMm ** 2) / count) : 0;
  return {
    count,
    biasMm,
    sdMm,
    interval95Mm: about(half95),
    interval99Mm: about(half99),
    limitsMm,
    ...(count > 1 && {
      limitIntervalsMm: limitsMm.map((l): [number, number] => [l - half, l + half]) as [
        [number, number],
        [number, number],
      ],
    }),
  };
}

/** Expected and measured size, mm. */
export interface SizePair {
  expectedMm: number;
  readingMm: number;
}

/** Measured over expected size. */
export interface ScaleFit {
  factor: number;
  interval95: [number, number];
  interval99: [number, number];
  /** Whether no single pair determines it: without any one pair at least half of it remains, on the same side. */
  isCarriedByAll: boolean;
}

const slope = (pairs: readonly SizePair[]): number =>
  pairs.reduce((sum, p) => sum + p.expectedMm * p.readingMm, 0) /
  pairs.reduce((sum, p) => sum + p.expectedMm ** 2, 0);

/**
 * Scale of readings by regression through the origin; two pairs at least.
 *
 * Formula   b = Σ(x·y)/Σ(x²), se = s/sqrt(Σx²), s² = Σ(y - b·x)²/(n-1), half widths as for a bias
 */
export function scaleFit(pairs: readonly SizePair[], known: KnownError): ScaleFit {
  const factor = slope(pairs);
  const squares = pairs.reduce((sum, p) => sum + p.expectedMm ** 2, 0);
  const residual =
    pairs.reduce((sum, p) => sum + (p.readingMm - factor * p.expectedMm) ** 2, 0) / (pairs.length - 1);
  const [half95, half99] = halfWidths(Math.sqrt(residual), pairs.length - 1, known).map(
    (h) => h / Math.sqrt(squares),
  );
  const about = (half: number): [number, number] => [factor - half, factor + half];
  const off = factor - 1;
  return {
    factor,
    interval95: about(half95),
    interval99: about(half99),
    isCarriedByAll: pairs.every(
      (_, i) => (slope(pairs.filter((_p, j) => j !== i)) - 1) * Math.sign(off) >= Math.abs(off) / 2,
    ),
  };
}

/** Standard deviation between repeated readings of one thing, from two or more readings of each; undefined without repeats. */
export function withinDeviation(repeats: readonly (readonly number[])[]): number | undefined {
  let squares = 0;
  let freedom = 0;
  for (const values of repeats) {
    const centre = mean(values);
    squares += values.reduce((sum, v) => sum + (v - centre) ** 2, 0);
    freedom += values.length - 1;
  }
  return freedom > 0 ? Math.sqrt(squares / freedom) : undefined;
}

/** Largest difference expected, at 95 %, between two readings of one thing: 1.96·sqrt(2)·sw (Bland and Altman 1986). */
export const repeatabilityMm = (withinMm: number): number => Z95 * Math.SQRT2 * withinMm;

/** Standard errors within which the bias of a true print is in 98 of 100 prints. */
const POWER_Z = 2.326;

/**
 * Readings needed to distinguish a true print, in 98 of 100 prints, from one with a bias of `biasMm`: the 99 % interval of the mean is
 * then within it.
 *
 * Formula   n = ((2.576 + 2.326)·sigma/bias)², rounded up
 * @example  readingsNeeded(0.16, 0.1)   // 10
 */
export const readingsNeeded = (biasMm: number, sigmaMm: number): number =>
  Math.max(2, Math.ceil((((Z99 + POWER_Z) * sigmaMm) / biasMm) ** 2 - 1e-9));
