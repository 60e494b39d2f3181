import { cross, length, subtract, type Vec3 } from '../foundation/vector.js';
import { largestOf } from '../foundation/largest-of.js';
import type { Mm } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';
import type { ScanResolution } from './measure.js';
import { straightLine } from './statistics.js';

/*
 * The error of a measured calibre, length or volume relative to that of the blood in the scanned vessel.
 *
 * It includes, for a voxel of side v (as oriented to the vessel) and a wall of mean curvature H (1/d for a vessel of
 * calibre d, 2/d for a sphere):
 *   shrinking   partial volume, chords between voxels and smoothing draw a bulging wall inwards in proportion
 *               to its curvature, like any averaging over a small neighbourhood: by c·v²·H. Simulation: c = 0.27
 *               (vessels) and 0.32 (sacs) for a label with smoothing, 0.36 and 0.46 for the grey values' own surface.
 *               How a given surface was made is unknown, so c is taken as uniformly distributed over 0 to 0.66.
 *   threshold   the edge is a ramp one voxel wide (0.9 v for a label, 1.1 v for grey values), so a threshold that is off by a fraction t
 *               of the contrast moves the whole wall by t·v; 95 % of thresholds are within t = 0.1
 *               (`segmentationThresholdError`). Averaging along the vessel does not reduce it.
 *   voxel grid  the effect of the wall's position in the grid on one section: 0.11·v²·H. Along an axis of the grid, every slice of a label
 *               cuts the vessel at the same place, and averaging along it does not help: 0.3·v·sqrt(v/d) of the calibre, over the root
 *               of 1 + 4 for each voxel by which the vessel drifts across that axis (circles on a square grid, simulated in
 *               tests/geometry/grid-pattern.test.ts). Without this term the interval contained 87 to 92 % of such calibres.
 *   facets      a polygon with edges e in a circle is e²/(3d) of the calibre too small.
 *   ends        each end of a vessel is within half a voxel, uniformly distributed; bumps and rounding add 0.6·v²/d.
 *
 * Simulation (tests/geometry/uncertainty.test.ts, 250 vessels and 250 sacs each, any direction, in-plane 0.5 to
 * 0.8 mm, slices 0.6 to 1.25 mm, vessels of 2 to 12 mm, sacs of 3 to 9 mm radius), error of the measured value:
 *
 *                                label, threshold    label, exact       grey, threshold     grey, exact
 *   calibre, 2 to 3 mm      mm   -0.20 ± 0.12        -0.21 ± 0.09       -0.22 ± 0.13        -0.22 ± 0.06
 *   calibre, 3 to 5 mm      mm   -0.10 ± 0.08        -0.10 ± 0.05       -0.12 ± 0.09        -0.13 ± 0.05
 *   calibre, 5 to 8 mm      mm   -0.05 ± 0.07        -0.06 ± 0.03       -0.07 ± 0.09        -0.08 ± 0.03
 *   calibre, 8 to 12 mm     mm   -0.04 ± 0.07        -0.04 ± 0.02       -0.05 ± 0.09        -0.05 ± 0.02
 *   length                  mm    0.04 ± 0.19         0.03 ± 0.17       -0.01 ± 0.11        -0.02 ± 0.06
 *   volume, radius under 5  %    -3.6 ± 3.2          -3.8 ± 1.8         -5.1 ± 4.0          -5.2 ± 2.0
 *   volume, radius over 5   %    -1.2 ± 1.6          -1.2 ± 0.6         -1.7 ± 2.1          -1.7 ± 0.7
 *   covered: calibre        %    100                 100                98.4                100
 *   covered: length         %    97.2                                   100
 *   covered: volume         %    99.6                100                95.2                100
 * ("threshold": 95 % of thresholds within 10 % of the contrast; "exact": half the contrast.) 200 other trials, labels
 * and grey values in equal parts, with a threshold: calibre 98.5 %, length 97.5 % (up to 3 mm 97.1 %), volume 97.5 %.
 *
 * It does not include: motion of heart and breath, the change of a vessel's calibre with the heartbeat, blood that the contrast had not
 * reached, a point spread much wider than a voxel, manual edits, smoothing or simplification of the surface beyond the light smoothing
 * above, and a wrong choice of what belongs to the vessel. The vessel may also have grown since the scan.
 */

/** Two-sided 95 % of a normal distribution. */
const Z95 = 1.959964;

/** Standard deviation of a uniform distribution of width 1: 1/sqrt(12). */
const UNIFORM_SD = 1 / Math.sqrt(12);

/** Results of the simulation above; numerical, no clinical meaning. */
const SCAN_MODEL = {
  /** Largest inward shift of a wall, in v²·H. */
  mostShrinking: 0.66,
  /** Width of the edge's ramp, voxels. */
  edgeWidth: 1,
  /** Scatter of the wall due to its position in the grid, in v²·H. */
  gridScatter: 0.11,
  /** Scatter of a calibre if each slice cuts the vessel at the same place of the grid, in v·sqrt(v/d), */
  gridPattern: 0.3,
  /** and the places of the grid that count as independent in a drift of one voxel. */
  placesPerVoxel: 4,
  /** Width of the uniform distribution of a vessel's end, voxels. */
  endSpread: 0.5,
  /** Error of an end's position from bumps and rounding, in v²/d. */
  endUnevenness: 0.6,
} as const;

/**
 * Effective side of a voxel in a section across `direction`, mm: the root of the voxel's projected area, p²·|tz| + p·s·sqrt(tx² + ty²)
 * for in-plane spacing p and slice thickness s along z.
 * Undefined if the scan's resolution is not known.
 */
export function sectionResolutionMm(scan: ScanResolution, direction: Vec3 | undefined): number | undefined {
  const p = scan.inPlaneMm ?? scan.sliceThicknessMm;
  const s = scan.sliceThicknessMm ?? scan.inPlaneMm;
  if (p === undefined || s === undefined) return undefined;
  if (!direction) return Math.sqrt(p * Math.max(p, s));
  return Math.sqrt(p * p * Math.abs(direction[2]) + p * s * Math.hypot(direction[0], direction[1]));
}

/** Error of a measured size: the mean deficit, and one standard deviation around it; mm. */
export interface SizeError {
  missingMm: Mm;
  sigmaMm: Mm;
}

/**
 * Error of the position of a wall with mean curvature `curvaturePerMm`; none if the resolution is not known. `leastGridMm`: least effect
 * of the wall's position in the grid.
 */
function wallError(resolutionMm: Mm | undefined, curvaturePerMm: Mm, leastGridMm: Mm = 0): SizeError {
  if (resolutionMm === undefined) return { missingMm: 0, sigmaMm: 0 };
  // A structure narrower than a voxel is not known more precisely than one as wide as a voxel.
  const bulge = resolutionMm * Math.min(1, resolutionMm * curvaturePerMm);
  const threshold = (CONSTANTS.segmentationThresholdError.value / Z95) * SCAN_MODEL.edgeWidth * resolutionMm;
  return {
    missingMm: (SCAN_MODEL.mostShrinking / 2) * bulge,
    sigmaMm: Math.hypot(
      threshold,
      SCAN_MODEL.mostShrinking * UNIFORM_SD * bulge,
      Math.max(SCAN_MODEL.gridScatter * bulge, leastGridMm),
    ),
  };
}

/**
 * Error of an equivalent calibre: that of two walls, plus the facets of the surface (edges of `edgeMm`). `driftMm`: how far the vessel
 * moves across the axis of the grid along which it runs, over the stretch that is averaged.
 */
export function calibreError(
  calibreMm: Mm,
  resolutionMm: Mm | undefined,
  edgeMm: Mm,
  driftMm: Mm,
): SizeError {
  const wall = wallError(resolutionMm, 1 / calibreMm, gridPatternMm(calibreMm, resolutionMm, driftMm) / 2);
  const facets = (Math.min(1, edgeMm / calibreMm) ** 2 / 3) * calibreMm * UNIFORM_SD * 2;
  return { missingMm: 2 * wall.missingMm, sigmaMm: Math.hypot(2 * wall.sigmaMm, facets) };
}

/** Scatter of a calibre in a label whose slices cut the vessel at only a few different places of the grid. */
function gridPatternMm(calibreMm: Mm, resolutionMm: Mm | undefined, driftMm: Mm): Mm {
  if (resolutionMm === undefined) return 0;
  const oneMm = SCAN_MODEL.gridPattern * resolutionMm * Math.sqrt(Math.min(1, resolutionMm / calibreMm));
  return oneMm / Math.sqrt(1 + (SCAN_MODEL.placesPerVoxel * driftMm) / resolutionMm);
}

/**
 * How far apart points along a vessel are across the axis of the grid along which they run, mm: the smallest value over the axes. If the
 * axes are not known, the distance is taken across the straight line between their ends, as if that line were an axis.
 */
export function driftMm(points: readonly Vec3[], hasAxes: boolean): Mm {
  const first = points[0];
  const last = points[points.length - 1];
  if (!hasAxes) {
    const chord = subtract(last, first);
    const long = length(chord);
    const off = (p: Vec3): Mm => (long > 0 ? length(cross(subtract(p, first), chord)) / long : 0);
    return largestOf(points.map(off));
  }
  const extent = [0, 1, 2].map((k) => {
    const along = points.map((p) => p[k]);
    return largestOf(along) + largestOf(along.map((x) => -x));
  });
  return Math.min(...[0, 1, 2].map((k) => Math.hypot(extent[(k + 1) % 3], extent[(k + 2) % 3])));
}

/** Root mean square of an error, mm: its deviation from the measured value. */
export const rmsMm = (error: SizeError): number => Math.hypot(error.missingMm, error.sigmaMm);

/** 95 % interval of a measured value; always contains that value. */
function interval(measured: number, missing: number, half: number): [number, number] {
  const low = Math.max(0, measured + missing - half);
  return [Math.min(measured, low), Math.max(measured, measured + missing + half)];
}

/**
 * 95 % interval of the mean calibre over a stretch: the calibre's error, which is the same along the stretch, and the scatter of the
 * sections around a straight taper (`calibresMm`, evenly spaced); sections within one calibre count as one observation.
 */
export function meanCalibreIntervalMm(
  calibresMm: readonly Mm[],
  meanMm: Mm,
  lengthMm: Mm,
  error: SizeError,
): [number, number] {
  const independent = Math.max(1, Math.min(calibresMm.length, lengthMm / meanMm));
  const scatter = straightLine(calibresMm, 1).scatter / Math.sqrt(independent);
  return interval(meanMm, error.missingMm, Z95 * Math.hypot(error.sigmaMm, scatter));
}

/** 95 % interval of a length between two ends of a vessel of `calibreMm`. */
export function lengthIntervalMm(
  lengthMm: Mm,
  resolutionMm: Mm | undefined,
  calibreMm: Mm,
): [number, number] {
  const v = resolutionMm ?? 0;
  const uneven = SCAN_MODEL.endUnevenness * v * Math.min(1, v / calibreMm);
  const end = Math.hypot(SCAN_MODEL.endSpread * UNIFORM_SD * v, uneven);
  return interval(lengthMm, 0, Z95 * Math.SQRT2 * end);
}

/** 95 % interval of a volume whose whole wall may be farther out or in: dV = area · dr, with H = area / (3 V) as in a sphere. */
export function volumeIntervalMm3(
  volumeMm3: number,
  surfaceMm2: number,
  resolutionMm: Mm | undefined,
): [number, number] {
  const wall = wallError(resolutionMm, surfaceMm2 / (3 * volumeMm3));
  return interval(volumeMm3, surfaceMm2 * wall.missingMm, Z95 * surfaceMm2 * wall.sigmaMm);
}
