import { fixed as digits } from '../../foundation/number-text.js';
import { student95 } from '../../foundation/student-t.js';
import { add, scale as scaledBy, subtract, type Vec3 } from '../../foundation/vector.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { Surface } from '../surface.js';
import { type DistancesBothWays, distancesBothWays, type SignedPoints } from './distances-both-ways.js';
import { type FootFinder, fitToPlanes, type PlaneFit, SLABS, solveSums } from './plane-fit.js';
import { type Candidate, distinct, SearchSide, searchPoses } from './pose-search.js';
import { chainedTurns, inverted, posed, type RigidPose, transposed, turnDeg, turned } from './rigid-pose.js';
import { fewerSamples, type SurfaceSamples, sampleSurface } from './surface-samples.js';

/** Limits for accepting a pose; from `rules/register.yaml`. */
export interface RegistrationRules {
  /** Pairs within this fraction of the fixed surface's size belong together. */
  reach: number;
  /** Smallest share of one surface that must be within reach of the other; either may be a part of the other. */
  leastOverlap: number;
  /** Smallest share of either surface that must be within reach of the other. */
  leastCovered: number;
  /** Another pose whose misfit is at most this multiple of the best one's counts as equally good. */
  asGood: number;
  /** Poses that differ by less than this fraction of the size count as one. */
  distinct: number;
  /** If the misfit of the mirror image is below this fraction of the surface's, the surface is mirrored. */
  mirror: number;
  /** Sizes that differ by more than this factor are first checked for a mix-up of units. */
  otherSize: number;
}

/** The pose of a moving surface on a fixed one. */
export interface Registration extends DistancesBothWays {
  /** From the moving surface's coordinates to the fixed one's. */
  pose: RigidPose;
  /** Angle of the pose's rotation, degrees, 0 to 180. */
  turnDeg: number;
  verdict: 'placed' | 'ambiguous' | 'mirrored' | 'not-the-same';
  /** Why the verdict is not `placed`. */
  because?: string;
  /** Root mean square distance both ways, each at most the reach, mm. */
  misfitMm: number;
  reachMm: number;
  /** The next best distinct pose. */
  runnerUp?: { misfitMm: number; turnFromBestDeg: number };
  /** Misfit of the moving surface's mirror image; never used for a pose. */
  mirrorMisfitMm: number;
  /** Share of each surface within reach of the other. */
  overlap: { moving: number; fixed: number };
  /** The last fit. */
  points: number;
  iterations: number;
  converged: boolean;
  /** For diagnosis only; not part of the pose. Absent if it cannot be determined. */
  scale?: ScaleDiagnosis;
}

/** Size of the moving surface over that of the fixed one, and the remaining uniform offset. */
export interface ScaleDiagnosis {
  factor: number;
  /** 95 %, by leaving out each of eight slabs of the surface. */
  interval: [number, number];
  /** Uniform offset of the moving surface outside the fixed one, apart from its scale, mm. */
  offsetMm: number;
}

const SEARCH_SAMPLES = 3000;
const FINE_SAMPLES = 4000;
const JUDGED_SAMPLES = 700;
const JUDGED_POSES = 6;

/**
 * Lays a moving surface over a fixed one: finds the rotation and translation with the least distances, without a starting pose. Reflections
 * are never used and scale is only reported. Parts that only one surface has do not bias the pose. Same input, same pose; the number of
 * points is bounded, so more triangles only add time for reading and for building search trees.
 *
 * Method    starts from principal axes and evenly spread turns; trimmed closest points; point-to-plane fits with biweights
 * Source    Besl and McKay, IEEE PAMI 1992;14:239; Chen and Medioni, Image Vision Comput 1992;10:145; Kabsch, Acta Cryst A 1976;32:922;
 *           Horn, J Opt Soc Am A 1987;4:629; Chetverikov et al., ICPR 2002 (all from memory)
 * Units     mm; both meshes in mm, each in its own axes
 * Checked   tests/geometry/register
 * Undefined if a mesh has no area.
 */
export function registerSurfaces(
  fixedMesh: TriangleMesh,
  movingMesh: TriangleMesh,
  rules: RegistrationRules,
): Registration | undefined {
  const fixed = sampleSurface(fixedMesh, SEARCH_SAMPLES);
  const moving = sampleSurface(movingMesh, SEARCH_SAMPLES);
  if (!fixed || !moving) return undefined;
  const job: Job = {
    fixed,
    moving,
    fixedSurface: new Surface(fixedMesh, fixed.centreMm),
    movingSurface: new Surface(movingMesh, moving.centreMm),
    reachMm: rules.reach * 2 * fixed.radiusMm,
    distinctMm: rules.distinct * 2 * fixed.radiusMm,
  };
  const side = new SearchSide(fixed);
  const rough = searchPoses(side, new SearchSide(moving), job.reachMm, job.distinctMm);
  const judged = distinct(
    rough.slice(0, JUDGED_POSES).map(({ pose }) => judge(job, pose, moving)),
    fixed.radiusMm,
    job.distinctMm,
  );
  const [best, second] = judged;
  const fine = sampleSurface(movingMesh, FINE_SAMPLES)!;
  const fit = fitToPlanes(best.pose, recentred(fine, moving.centreMm), surfaceFeet(job.fixedSurface), {
    mostIterations: 60,
    restMm: 1e-5 * fixed.radiusMm,
    reachMm: 2 * job.reachMm,
  });
  const image = mirrored(moving);
  const mirror = judge(
    job,
    searchPoses(side, new SearchSide(image), job.reachMm, job.distinctMm)[0].pose,
    image,
  );
  const pose = fileOf(job, fit.pose);
  const distances = distancesBothWays(
    { mesh: fixedMesh, surface: job.fixedSurface },
    { mesh: movingMesh, surface: job.movingSurface },
    pose,
  );
  const scale = scaleOf(job, fit.pose, fine);
  const registration: Registration = {
    pose,
    turnDeg: turnDeg(pose.rotation),
    verdict: 'placed',
    misfitMm: misfitOf(job, fit.pose, moving),
    reachMm: job.reachMm,
    ...(second && {
      runnerUp: {
        misfitMm: second.misfitMm,
        turnFromBestDeg: turnDeg(chainedTurns(transposed(best.pose.rotation), second.pose.rotation)),
      },
    }),
    mirrorMisfitMm: mirror.misfitMm,
    overlap: {
      moving: shareWithin(distances.movingPoints, job.reachMm),
      fixed: shareWithin(distances.fixedPoints, job.reachMm),
    },
    points: fine.count,
    iterations: fit.iterations,
    converged: fit.converged,
    ...distances,
    ...(scale && { scale }),
  };
  return { ...registration, ...verdictOf(registration, rules) };
}

interface Job {
  fixed: SurfaceSamples;
  moving: SurfaceSamples;
  /** Local coordinates, relative to the centre of the samples. */
  fixedSurface: Surface;
  movingSurface: Surface;
  reachMm: number;
  distinctMm: number;
}

/**
 * Refines a pose on the surfaces and computes how well it fits in both directions. `moving`: the job's samples, or their mirror image.
 */
function judge(job: Job, start: RigidPose, moving: SurfaceSamples): Candidate {
  const { pose } = fitToPlanes(start, fewerSamples(moving, JUDGED_SAMPLES), surfaceFeet(job.fixedSurface), {
    mostIterations: 10,
    restMm: 1e-5 * job.fixed.radiusMm,
    reachMm: 2 * job.reachMm,
  });
  return { pose, misfitMm: misfitOf(job, pose, moving) };
}

/** Root mean square distance both ways, each at most the reach, mm. */
function misfitOf(job: Job, pose: RigidPose, moving: SurfaceSamples): number {
  const back = inverted(pose);
  const capped = (surface: Surface, samples: SurfaceSamples, place: (p: Vec3) => Vec3): number => {
    const { points, count } = fewerSamples(samples, JUDGED_SAMPLES);
    let sum = 0;
    for (let i = 0; i < count; i++) {
      const hit = surface.closest(place(pointOf(points, i)), job.reachMm);
      sum += hit ? hit.distance ** 2 : job.reachMm ** 2;
    }
    return sum / count;
  };
  const there = capped(job.fixedSurface, moving, (p) => posed(pose, p));
  const isImage = moving !== job.moving;
  const here = capped(job.movingSurface, job.fixed, (p) => {
    const q = posed(back, p);
    return isImage ? flipped(q) : q;
  });
  return Math.sqrt((there + here) / 2);
}

const pointOf = (points: Float64Array, i: number): Vec3 => [
  points[3 * i],
  points[3 * i + 1],
  points[3 * i + 2],
];

/** Finds nearest points of a surface, within its reach. */
function surfaceFeet(surface: Surface): FootFinder {
  return (x, y, z, foot, reachMm) => {
    const hit = surface.closest([x, y, z], reachMm);
    if (!hit) return false;
    foot.point = hit.point;
    foot.normal = surface.normal(hit.triangle);
    return true;
  };
}

/** The same samples relative to another centre. */
function recentred(samples: SurfaceSamples, centreMm: Vec3): SurfaceSamples {
  const shift = subtract(samples.centreMm, centreMm);
  return { ...samples, centreMm, points: samples.points.map((c, i) => c + shift[i % 3]) };
}

const flipped = ([x, y, z]: Vec3): Vec3 => [-x, y, z];

/** The samples of the mirror image. */
function mirrored(samples: SurfaceSamples): SurfaceSamples {
  const flip = (c: number, i: number): number => (i % 3 === 0 ? -c : c);
  return { ...samples, points: samples.points.map(flip), normals: samples.normals.map(flip) };
}

/** Converts a pose from local to file coordinates. */
function fileOf({ fixed, moving }: Job, { rotation, translationMm }: RigidPose): RigidPose {
  const shift = subtract(add(translationMm, fixed.centreMm), turned(rotation, moving.centreMm));
  return { rotation, translationMm: shift };
}

const shareWithin = ({ signedMm }: SignedPoints, limitMm: number): number =>
  signedMm.reduce((count, d) => count + (Math.abs(d) <= limitMm ? 1 : 0), 0) / signedMm.length;

/** Fits scale and a uniform offset, starting from a fitted pose. */
function scaleOf(job: Job, pose: RigidPose, fine: SurfaceSamples): ScaleDiagnosis | undefined {
  const fit = fitToPlanes(
    pose,
    recentred(fewerSamples(fine, 2000), job.moving.centreMm),
    surfaceFeet(job.fixedSurface),
    {
      mostIterations: 25,
      restMm: 1e-5 * job.fixed.radiusMm,
      reachMm: 3 * job.reachMm,
      withScale: true,
    },
  );
  const left = leaveOneOut(fit, job.moving.radiusMm);
  if (!left) return undefined;
  const mean = left.reduce((a, b) => a + b, 0) / left.length;
  // the delete-a-group jackknife (Efron 1982, from memory): correlated neighbours do not make it too narrow
  const spread = Math.sqrt(((SLABS - 1) / SLABS) * left.reduce((sum, s) => sum + (s - mean) ** 2, 0));
  const half = student95(SLABS - 1) * spread;
  // the fit scales the moving surface onto the fixed one
  const logFactor = -Math.log(fit.scale);
  return {
    factor: Math.exp(logFactor),
    interval: [Math.exp(logFactor - half), Math.exp(logFactor + half)],
    offsetMm: fit.offsetMm,
  };
}

/** Logarithm of the scale with each slab left out. */
function leaveOneOut(fit: PlaneFit, radiusMm: number): number[] | undefined {
  const all: number[] = [];
  for (let slab = 0; slab < SLABS; slab++) {
    const step = solveSums(fit.slabs, 8, slab);
    if (!step) return undefined;
    all.push(step[6] / radiusMm);
  }
  return all;
}

/** The verdict on a pose by the limits. */
export function verdictOf(
  one: Pick<Registration, 'misfitMm' | 'mirrorMisfitMm' | 'overlap' | 'reachMm' | 'runnerUp'>,
  rules: RegistrationRules,
): Pick<Registration, 'verdict' | 'because'> {
  const percent = (share: number): string => `${digits(100 * share, 0)} %`;
  if (one.mirrorMisfitMm < rules.mirror * one.misfitMm)
    return {
      verdict: 'mirrored',
      because: `its mirror image fits (misfit ${digits(one.mirrorMisfitMm, 2)} mm), the surface itself does not (${digits(one.misfitMm, 2)} mm)`,
    };
  const { moving, fixed } = one.overlap;
  if (Math.max(moving, fixed) < rules.leastOverlap || Math.min(moving, fixed) < rules.leastCovered)
    return {
      verdict: 'not-the-same',
      because: `in the best pose only ${percent(moving)} of it lies within ${digits(one.reachMm, 1)} mm of the other surface, and ${percent(fixed)} of the other within reach of it; ${percent(rules.leastOverlap)} of one and ${percent(rules.leastCovered)} of the other are needed`,
    };
  const { runnerUp } = one;
  if (runnerUp && runnerUp.misfitMm <= rules.asGood * one.misfitMm)
    return {
      verdict: 'ambiguous',
      because: `a pose turned by ${digits(runnerUp.turnFromBestDeg, 0)}° fits as well (misfit ${digits(runnerUp.misfitMm, 2)} mm against ${digits(one.misfitMm, 2)} mm)`,
    };
  return { verdict: 'placed' };
}

/** A mesh under a pose and, before it, a uniform scale. */
export function placedMesh(mesh: TriangleMesh, pose: RigidPose, factor = 1): TriangleMesh {
  const positions = new Float64Array(mesh.positions.length);
  for (let i = 0; i < positions.length; i += 3)
    positions.set(posed(pose, scaledBy(pointOf(mesh.positions, i / 3), factor)), i);
  return { positions, triangles: mesh.triangles };
}
