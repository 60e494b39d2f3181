import { NearestGrid } from './nearest-grid.js';
import { type FootFinder, fitToPlanes } from './plane-fit.js';
import { closestPose, emptyPairSums, inverted, poseGapMm, type RigidPose } from './rigid-pose.js';
import { startTurns } from './start-poses.js';
import { fewerSamples, type SurfaceSamples } from './surface-samples.js';

/** A pose in local coordinates (relative to the centres of fixed and moving samples) and its misfit. */
export interface Candidate {
  pose: RigidPose;
  /** Root mean square distance in both directions, each distance capped at the reach, mm. */
  misfitMm: number;
}

/** Number of samples for trying a start. */
const FEW = 240;
const ROUGH_ITERATIONS = 14;
/** Share of the pairs, the nearest ones, that a rough step uses (trimmed closest points: Chetverikov et al., ICPR 2002, from memory). */
const KEPT_SHARE = 0.75;
/** Number of starts that are refined, and of samples for it. */
const CLOSER = 48;
const CLOSER_SAMPLES = 700;
const CLOSER_ITERATIONS = 25;

/** One surface's samples, prepared for searching. */
export class SearchSide {
  readonly samples: SurfaceSamples;
  readonly few: SurfaceSamples;
  readonly closer: SurfaceSamples;
  readonly grid: NearestGrid;
  /** Side of the square of surface that a sample represents, mm. */
  readonly spacingMm: number;

  constructor(samples: SurfaceSamples) {
    this.samples = samples;
    this.few = fewerSamples(samples, FEW);
    this.closer = fewerSamples(samples, CLOSER_SAMPLES);
    this.grid = new NearestGrid(samples.points);
    this.spacingMm = Math.sqrt(samples.areaMm2 / samples.count);
  }

  /** The nearest sample and its normal. */
  readonly footOf: FootFinder = (x, y, z, foot) => {
    const { points, normals } = this.samples;
    const n = 3 * this.grid.nearest(x, y, z);
    for (let k = 0; k < 3; k++) {
      foot.point[k] = points[n + k];
      foot.normal[k] = normals[n + k];
    }
    return true;
  };
}

/**
 * Distinct poses of the moving samples on the fixed ones from all directions, the least misfit first. Approximate: distances are to the
 * samples' tangent planes. Same input, same poses.
 */
export function searchPoses(
  fixed: SearchSide,
  moving: SearchSide,
  reachMm: number,
  distinctMm: number,
): Candidate[] {
  const { radiusMm } = moving.samples;
  const misfit = (pose: RigidPose, capMm: number, which: 'few' | 'closer'): number => {
    const there = oneWay(pose, moving[which], fixed, capMm);
    const back = oneWay(inverted(pose), fixed[which], moving, capMm);
    return Math.sqrt((there + back) / 2);
  };
  const rough = startTurns(fixed.samples, moving.samples).map((rotation): Candidate => {
    const pose = roughFit({ rotation, translationMm: [0, 0, 0] }, moving.few, fixed);
    return { pose, misfitMm: misfit(pose, 2 * reachMm, 'few') };
  });
  const closer = distinct(rough, radiusMm, distinctMm / 4).slice(0, CLOSER);
  const refined = closer.map((one): Candidate => {
    const { pose } = fitToPlanes(one.pose, moving.closer, fixed.footOf, {
      mostIterations: CLOSER_ITERATIONS,
      restMm: 1e-3 * radiusMm,
      reachMm: 3 * reachMm,
    });
    return { pose, misfitMm: misfit(pose, reachMm, 'closer') };
  });
  return distinct(refined, radiusMm, distinctMm);
}

/** The candidates by ascending misfit, without those within `distinctMm` of a better one. */
export function distinct<T extends Candidate>(
  candidates: readonly T[],
  radiusMm: number,
  distinctMm: number,
): T[] {
  const kept: T[] = [];
  for (const one of candidates.toSorted((a, b) => a.misfitMm - b.misfitMm))
    if (!kept.some((better) => poseGapMm(better.pose, one.pose, radiusMm) < distinctMm)) kept.push(one);
  return kept;
}

/** Mean squared distance, each capped: to the tangent plane of a near sample, or to the sample if it is not near. */
function oneWay(pose: RigidPose, { points, count }: SurfaceSamples, to: SearchSide, capMm: number): number {
  const { rotation: r, translationMm: t } = pose;
  const { points: feet, normals } = to.samples;
  const near = (2 * to.spacingMm) ** 2;
  let sum = 0;
  for (let i = 0; i < 3 * count; i += 3) {
    const [px, py, pz] = [points[i], points[i + 1], points[i + 2]];
    const x = r[0][0] * px + r[0][1] * py + r[0][2] * pz + t[0];
    const y = r[1][0] * px + r[1][1] * py + r[1][2] * pz + t[1];
    const z = r[2][0] * px + r[2][1] * py + r[2][2] * pz + t[2];
    const n = 3 * to.grid.nearest(x, y, z);
    const [dx, dy, dz] = [x - feet[n], y - feet[n + 1], z - feet[n + 2]];
    const squared = dx * dx + dy * dy + dz * dz;
    const planar = (dx * normals[n] + dy * normals[n + 1] + dz * normals[n + 2]) ** 2;
    sum += Math.min(squared < near ? planar : squared, capMm * capMm);
  }
  return sum / count;
}

/** Trimmed closest points on the grid, point to point, which converges from far away. */
function roughFit(start: RigidPose, { points, count }: SurfaceSamples, fixed: SearchSide): RigidPose {
  const { points: feet, radiusMm } = fixed.samples;
  const squared = new Float64Array(count);
  const partner = new Int32Array(count);
  let pose = start;
  for (let iteration = 0; iteration < ROUGH_ITERATIONS; iteration++) {
    const { rotation: r, translationMm: t } = pose;
    for (let i = 0; i < count; i++) {
      const [px, py, pz] = [points[3 * i], points[3 * i + 1], points[3 * i + 2]];
      const x = r[0][0] * px + r[0][1] * py + r[0][2] * pz + t[0];
      const y = r[1][0] * px + r[1][1] * py + r[1][2] * pz + t[1];
      const z = r[2][0] * px + r[2][1] * py + r[2][2] * pz + t[2];
      const n = 3 * fixed.grid.nearest(x, y, z);
      partner[i] = n;
      squared[i] = (x - feet[n]) ** 2 + (y - feet[n + 1]) ** 2 + (z - feet[n + 2]) ** 2;
    }
    const limit = squared.toSorted()[Math.ceil(KEPT_SHARE * count) - 1];
    const sums = emptyPairSums();
    for (let i = 0; i < count; i++) {
      if (squared[i] > limit) continue;
      sums.count++;
      for (let k = 0; k < 3; k++) {
        const to = feet[partner[i] + k];
        sums.from[k] += points[3 * i + k];
        sums.to[k] += to;
        for (let j = 0; j < 3; j++) sums.products[k][j] += to * points[3 * i + j];
      }
    }
    const next = closestPose(sums);
    const stepMm = poseGapMm(pose, next, radiusMm);
    pose = next;
    if (stepMm < 1e-3 * radiusMm) break;
  }
  return pose;
}
