import type { Vec3 } from '../foundation/vector.js';
import type { ScanResolution } from './measure.js';
import { standardDeviation } from './statistics.js';

/** Two-sided 95 % of a normal distribution. */
const Z95 = 1.959964;

/** Standard deviation of a value spread evenly over an interval of width 1: 1/sqrt(12). */
const UNIFORM_SD = 1 / Math.sqrt(12);

/**
 * Side of the square that a voxel shows to a section across `direction`, mm: the root of the voxel's
 * projected area, p²·|tz| + p·s·sqrt(tx² + ty²) for in-plane spacing p and slice thickness s along z.
 * Undefined where the scan's resolution is not known.
 */
export function sectionResolutionMm(scan: ScanResolution, direction: Vec3 | undefined): number | undefined {
  const p = scan.inPlaneMm ?? scan.sliceThicknessMm;
  const s = scan.sliceThicknessMm ?? scan.inPlaneMm;
  if (p === undefined || s === undefined) return undefined;
  if (!direction) return Math.sqrt(p * Math.max(p, s));
  return Math.sqrt(p * p * Math.abs(direction[2]) + p * s * Math.hypot(direction[0], direction[1]));
}

/**
 * One standard deviation of an equivalent calibre, mm.
 *
 * Two parts, added in quadrature: the scan (each wall is known to one voxel, evenly spread; the two walls of
 * a diameter are independent, and averaging round the outline is not relied on because a threshold moves the
 * whole outline), and the surface's facets (an n-gon with edges e in a circle d is (e/d)²/3 of d too small).
 */
export function calibreSigmaMm(calibreMm: number, resolutionMm: number | undefined, edgeMm: number): number {
  const scan = resolutionMm === undefined ? 0 : resolutionMm * UNIFORM_SD;
  const facets = (Math.min(1, edgeMm / calibreMm) ** 2 / 3) * calibreMm * UNIFORM_SD * 2;
  return Math.hypot(scan, facets);
}

/**
 * 95 % interval of the mean calibre over a stretch: the calibre's own standard deviation and the scatter of
 * the sections, whose neighbours within one calibre count as one observation.
 */
export function meanCalibreIntervalMm(
  calibresMm: readonly number[],
  meanMm: number,
  lengthMm: number,
  sigmaMm: number,
): [number, number] {
  const independent = Math.max(1, Math.min(calibresMm.length, lengthMm / meanMm));
  const half = Z95 * Math.hypot(sigmaMm, standardDeviation(calibresMm) / Math.sqrt(independent));
  return [Math.max(0, meanMm - half), meanMm + half];
}

/** 95 % interval of a length between two ends that are each known to one voxel. */
export function lengthIntervalMm(lengthMm: number, resolutionMm: number | undefined): [number, number] {
  const half = resolutionMm === undefined ? 0 : Z95 * Math.SQRT2 * resolutionMm * UNIFORM_SD;
  return [Math.max(0, lengthMm - half), lengthMm + half];
}

/** 95 % interval of a volume whose whole wall may lie `sigma` farther in or out: dV = area · dr. */
export function volumeIntervalMm3(
  volumeMm3: number,
  surfaceMm2: number,
  resolutionMm: number | undefined,
): [number, number] {
  const half = resolutionMm === undefined ? 0 : Z95 * surfaceMm2 * ((resolutionMm * UNIFORM_SD) / 2);
  return [Math.max(0, volumeMm3 - half), volumeMm3 + half];
}
