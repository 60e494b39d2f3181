import { Matrix, solve } from 'ml-matrix';
import { add, type Vec3 } from '../../foundation/vector.js';
import { median } from '../statistics.js';
import { chainedTurns, poseGapMm, type RigidPose, turnOf } from './rigid-pose.js';
import type { SurfaceSamples } from './surface-samples.js';

/** Finds the point of the fixed surface nearest to a point, and the unit normal there; false if there is none within reach. */
export interface Foot {
  point: Vec3;
  normal: Vec3;
}
export type FootFinder = (x: number, y: number, z: number, foot: Foot, reachMm: number) => boolean;

export interface PlaneFitOptions {
  mostIterations: number;
  /** The fit has converged when a step moves the surface by less, mm. */
  restMm: number;
  /** Pairs farther apart than this are ignored, mm. */
  reachMm: number;
  /** Also fit a uniform scale and a uniform offset along the normals. */
  withScale?: boolean;
}

export interface PlaneFit {
  pose: RigidPose;
  /** 1 unless fitted: moving' = pose(factor·moving). */
  scale: number;
  /** Uniform offset of the moving surface outside the fixed one, mm; 0 unless fitted. */
  offsetMm: number;
  iterations: number;
  converged: boolean;
  /** Sums of the last step by slab of samples, for intervals of the fitted values. */
  slabs: NormalSums[];
}

/** Normal equations of one group of samples. */
interface NormalSums {
  matrix: number[][];
  right: number[];
}

/** Groups of samples, ordered along the longest extent; each is left out once for the interval. */
export const SLABS = 8;
/** Tukey's biweight: pairs beyond 4.685 robust standard deviations are ignored (Holland and Welsch 1977, from memory). */
const TUKEY = 4.685;
/** Standard deviation of a normal distribution over its median absolute value. */
const SD_OF_MEDIAN = 1.4826;
/** A fit has also converged if it has moved by less than this fraction of the samples' radius over this many steps. */
const DRIFT = 1e-3;
const DRIFT_STEPS = 10;
/** Regularisation, as a fraction of the trace, so that the equations are solvable if the surface can rotate or slide onto itself. */
const DAMPING = 1e-7;

/**
 * Rotates and translates samples to minimise their distances to the tangent planes of the fixed surface; outliers are ignored, so that
 * parts that only one surface has do not bias the fit. Coordinates are local, relative to the centres of fixed and moving samples.
 *
 * Method    iterated closest points (Besl and McKay, IEEE PAMI 1992;14:239) with point-to-plane distances (Chen and Medioni,
 *           Image Vision Comput 1992;10:145) and biweights (Holland and Welsch 1977); all from memory
 * Assumes   a start within the fit's reach
 */
export function fitToPlanes(
  start: RigidPose,
  samples: SurfaceSamples,
  footOf: FootFinder,
  options: PlaneFitOptions,
): PlaneFit {
  const unknowns = options.withScale ? 8 : 6;
  const slabOf = options.withScale ? slabsOf(samples) : new Uint8Array(samples.count);
  const fit: PlaneFit = {
    pose: start,
    scale: 1,
    offsetMm: 0,
    iterations: 0,
    converged: false,
    slabs: [],
  };
  const rows = new Float64Array(samples.count * (unknowns + 1));
  const past: RigidPose[] = [];
  while (fit.iterations < options.mostIterations && !fit.converged) {
    fit.iterations++;
    const pairs = gatherRows(fit, samples, footOf, options.reachMm, unknowns, rows);
    const slabs = Array.from({ length: SLABS }, () => emptySums(unknowns));
    const widthMm = biweightWidth(rows, pairs.kept, unknowns, options.reachMm, samples.radiusMm);
    for (let i = 0; i < pairs.kept.length; i++)
      addRow(slabs[slabOf[pairs.kept[i]]], rows, i, unknowns, widthMm);
    const step = solveSums(slabs, unknowns);
    fit.slabs = slabs;
    if (!step) break;
    past.push(fit.pose);
    const movedMm = take(fit, step, samples.radiusMm);
    fit.converged = movedMm < options.restMm;
  }
  // pairs that alternate keep the last steps from vanishing
  const before = past.at(-DRIFT_STEPS);
  if (before && poseGapMm(before, fit.pose, samples.radiusMm) < DRIFT * samples.radiusMm)
    fit.converged = true;
  return fit;
}

/** Fills one row per pair: the factors of the unknowns and the distance to the plane. */
function gatherRows(
  fit: PlaneFit,
  samples: SurfaceSamples,
  footOf: FootFinder,
  reachMm: number,
  unknowns: number,
  rows: Float64Array,
): { kept: number[] } {
  const { points, count, radiusMm } = samples;
  const { rotation: r, translationMm: t } = fit.pose;
  const s = fit.scale;
  const foot: Foot = { point: [0, 0, 0], normal: [0, 0, 0] };
  const kept: number[] = [];
  let at = 0;
  for (let i = 0; i < count; i++) {
    const [px, py, pz] = [s * points[3 * i], s * points[3 * i + 1], s * points[3 * i + 2]];
    const rx = r[0][0] * px + r[0][1] * py + r[0][2] * pz;
    const ry = r[1][0] * px + r[1][1] * py + r[1][2] * pz;
    const rz = r[2][0] * px + r[2][1] * py + r[2][2] * pz;
    const [x, y, z] = [rx + t[0], ry + t[1], rz + t[2]];
    if (!footOf(x, y, z, foot, reachMm)) continue;
    const [nx, ny, nz] = foot.normal;
    const [dx, dy, dz] = [x - foot.point[0], y - foot.point[1], z - foot.point[2]];
    if (dx * dx + dy * dy + dz * dz > reachMm * reachMm) continue;
    // the rotation is about the centre of the moving samples and scaled by their radius, so that all unknowns are lengths
    rows[at++] = (ry * nz - rz * ny) / radiusMm;
    rows[at++] = (rz * nx - rx * nz) / radiusMm;
    rows[at++] = (rx * ny - ry * nx) / radiusMm;
    rows[at++] = nx;
    rows[at++] = ny;
    rows[at++] = nz;
    if (unknowns === 8) {
      rows[at++] = (rx * nx + ry * ny + rz * nz) / radiusMm;
      rows[at++] = -1;
    }
    rows[at++] = dx * nx + dy * ny + dz * nz - fit.offsetMm;
    kept.push(i);
  }
  return { kept };
}

function biweightWidth(
  rows: Float64Array,
  kept: readonly number[],
  unknowns: number,
  reachMm: number,
  radiusMm: number,
): number {
  const sizes = kept.map((_, i) => Math.abs(rows[i * (unknowns + 1) + unknowns]));
  const sd = sizes.length > 0 ? SD_OF_MEDIAN * median(sizes) : reachMm;
  return Math.min(reachMm, Math.max(TUKEY * sd, 1e-6 * radiusMm));
}

const emptySums = (unknowns: number): NormalSums => ({
  matrix: Array.from({ length: unknowns }, () => new Array<number>(unknowns).fill(0)),
  right: new Array<number>(unknowns).fill(0),
});

function addRow(sums: NormalSums, rows: Float64Array, i: number, unknowns: number, widthMm: number): void {
  const at = i * (unknowns + 1);
  const residual = rows[at + unknowns];
  const part = residual / widthMm;
  if (Math.abs(part) >= 1) return;
  const weight = (1 - part * part) ** 2;
  for (let a = 0; a < unknowns; a++) {
    const wa = weight * rows[at + a];
    sums.right[a] -= wa * residual;
    for (let b = 0; b < unknowns; b++) sums.matrix[a][b] += wa * rows[at + b];
  }
}

/** The step that solves the sums; undefined if no pair is left. `without`: a group to leave out. */
export function solveSums(
  slabs: readonly NormalSums[],
  unknowns: number,
  without = -1,
): number[] | undefined {
  const { matrix, right } = emptySums(unknowns);
  for (const [g, one] of slabs.entries()) {
    if (g === without) continue;
    for (let a = 0; a < unknowns; a++) {
      right[a] += one.right[a];
      for (let b = 0; b < unknowns; b++) matrix[a][b] += one.matrix[a][b];
    }
  }
  const trace = matrix.reduce((sum, row, a) => sum + row[a], 0);
  if (!(trace > 0)) return undefined;
  for (let a = 0; a < unknowns; a++) matrix[a][a] += DAMPING * trace;
  const solution = solve(new Matrix(matrix), Matrix.columnVector(right)).to1DArray();
  return solution.every(Number.isFinite) ? solution : undefined;
}

/** Applies a step; returns approximately how far it moves the samples at most, mm. */
function take(fit: PlaneFit, step: readonly number[], radiusMm: number): number {
  const turn = turnOf([step[0] / radiusMm, step[1] / radiusMm, step[2] / radiusMm]);
  fit.pose = {
    rotation: chainedTurns(fit.pose.rotation, turn),
    translationMm: add(fit.pose.translationMm, [step[3], step[4], step[5]]),
  };
  if (step.length === 8) {
    fit.scale *= Math.exp(step[6] / radiusMm);
    fit.offsetMm += step[7];
  }
  return Math.sqrt(step.reduce((sum, x) => sum + x * x, 0));
}

/** Group of each sample: equal shares in order along the direction of the longest extent. */
function slabsOf({ points, count, radiusMm }: SurfaceSamples): Uint8Array {
  // the direction to the farthest point: good enough for dividing the surface into slabs
  let far = 0;
  const squared = (i: number): number => points[3 * i] ** 2 + points[3 * i + 1] ** 2 + points[3 * i + 2] ** 2;
  for (let i = 1; i < count; i++) if (squared(i) > squared(far)) far = i;
  const axis: Vec3 = [points[3 * far], points[3 * far + 1], points[3 * far + 2]];
  const along = Array.from({ length: count }, (_, i) => i).sort((a, b) => height(a) - height(b) || a - b);
  function height(i: number): number {
    return (axis[0] * points[3 * i] + axis[1] * points[3 * i + 1] + axis[2] * points[3 * i + 2]) / radiusMm;
  }
  const slab = new Uint8Array(count);
  for (const [rank, i] of along.entries()) slab[i] = Math.floor((rank * SLABS) / count);
  return slab;
}
