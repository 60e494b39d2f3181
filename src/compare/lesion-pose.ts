import { distance, subtract, type Vec3 } from '../foundation/vector.js';
import { Polyline } from '../geometry/polyline.js';
import {
  closestPose,
  emptyPairSums,
  inverted,
  poseGapMm,
  posed,
  type RigidPose,
  type Rotation,
  turnDeg,
  turned,
} from '../geometry/register/rigid-pose.js';
import { evenTurns } from '../geometry/register/start-poses.js';
import { numberOf, type Rules } from '../rules/rule.js';
import type { PlacedLesion } from './placed-lesion.js';

/** The pose of the new scan's vessels on those of the old one. */
export interface LesionPose {
  /** From the new scan's coordinates to the old one's. */
  pose: RigidPose;
  turnDeg: number;
  /** Root mean square distance between the courses, each capped at the reach, in the direction in which it is smaller, mm. */
  misfitMm: number;
  /** The same for the mirror image of the new lesion; absent if the lesion has not moved. */
  mirrorMisfitMm?: number;
  /**
   * same: the lesion fits. undecided: its mirror image fits as well. mirrored: only the mirror image fits. mirrored-or-turned: the lesion
   * fits only with a turn in which no patient is scanned, and its mirror image without one. unlike: neither fits, and the pose is not
   * valid.
   */
  handedness: 'same' | 'undecided' | 'mirrored' | 'mirrored-or-turned' | 'unlike';
}

/** Number of points that represent the courses of a lesion, and how many are used to try a starting pose. */
const MOST_POINTS = 140;
const FEW = 48;
const LEAST_STEP_MM = 2;
const EVEN_TURNS = 240;
const ROUGH_ITERATIONS = 8;
const CLOSER = 12;
const CLOSER_ITERATIONS = 30;
/** Share of the pairs, the nearest ones, that a step uses (trimmed closest points: Chetverikov et al., ICPR 2002, from memory). */
const KEPT_SHARE = 0.75;
/** Poses in which the courses differ by less than this share of their radius count as one. */
const SAME_POSE = 0.1;
const SAC = 'sac';
/** Converged once a step moves the courses by less, mm. */
const REST_MM = 1e-3;

/**
 * Registers the courses of the new lesion's vessels to those of the old one, role by role, by rotation and translation alone. The mirror
 * image is registered as well, only to detect the handedness of the new scan. `inPatientAxes`: both are in LPS; if the best pose turns the
 * patient further than patients are turned in a scanner, a pose that fits as well with less turn is used.
 *
 * Method    trimmed closest points from evenly spread turns about the middle of the sac; limits by `rules/compare.yaml` and
 *           `rules/register.yaml`
 * Source    Besl and McKay, IEEE PAMI 1992;14:239 (from memory); for the closed form of a step see `closestPose`
 * Units     mm
 * Undefined if the scans share no role of vessel with a course.
 */
export function lesionPose(
  old: PlacedLesion,
  now: PlacedLesion,
  inPatientAxes: boolean,
  rules: Pick<Rules, 'byId'>,
): LesionPose | undefined {
  const limit = (id: string): number => numberOf(rules, id);
  const [fixed, moving] = [cloudOf(old), cloudOf(now)];
  if (!moving.roles.some((role) => role !== SAC && fixed.byRole.has(role))) return undefined;
  const reachMm = limit('same-vessel-course');
  const errorMm = limit('same-course-error');
  const largestTurn = limit('overlay-largest-turn');
  const turnOfPose = ({ pose }: Candidate): number => turnDeg(pose.rotation);
  const foundAs = (one: Candidate) => ({
    pose: fileOf(one.pose, fixed, moving),
    turnDeg: turnOfPose(one),
    misfitMm: one.misfitMm,
  });
  const unmoved: RigidPose = { rotation: NO_TURN, translationMm: [0, 0, 0] };
  // courses on one line fit with any turn about it, and a step may end in any of them
  const asItLies = [
    closer(unmoved, fixed, moving, reachMm),
    { pose: unmoved, ...fitOf(unmoved, fixed, moving, reachMm) },
  ].find((one) => one.misfitMm <= errorMm && turnOfPose(one) <= largestTurn);
  if (asItLies !== undefined) return { ...foundAs(asItLies), handedness: 'same' };

  const own = searchPoses(fixed, moving, reachMm);
  const image = searchPoses(fixed, flippedCloud(moving), reachMm);
  const misfitOf = ({ misfitMm }: Candidate): number => Math.max(misfitMm, errorMm);
  const [bestMm, imageMm] = [misfitOf(own[0]), misfitOf(image[0])];
  const isAsGood = (one: Candidate): boolean => misfitOf(one) <= limit('register-as-good') * bestMm;
  const chosen =
    inPatientAxes && turnOfPose(own[0]) > largestTurn
      ? own.filter(isAsGood).reduce((a, b) => (turnOfPose(b) < turnOfPose(a) ? b : a))
      : own[0];
  const found = { ...foundAs(chosen), mirrorMisfitMm: image[0].misfitMm };
  const least = limit('register-least-overlap');
  if (imageMm < limit('register-mirror') * bestMm && image[0].overlap >= least)
    return { ...found, handedness: 'mirrored' };
  if (chosen.overlap < least) return { ...found, handedness: 'unlike' };
  // the patient is supine in both scans, so in patient axes a mirror image needs no turn
  const imageFits = image.some(
    (one) => isAsGood(one) && (!inPatientAxes || flipTurnDeg(one.pose.rotation) <= largestTurn),
  );
  if (!imageFits) return { ...found, handedness: 'same' };
  const isTurned = inPatientAxes && found.turnDeg > largestTurn;
  return { ...found, handedness: isTurned ? 'mirrored-or-turned' : 'undecided' };
}

/** Points of a lesion's courses relative to its anchor: the middle of the sac, else of the points. */
interface Cloud {
  points: Vec3[];
  /** For each point the role of its vessel; the middle of the sac has its own. */
  roles: string[];
  /** The points of each role, 3 numbers per point. */
  byRole: ReadonlyMap<string, Float64Array>;
  anchorMm: Vec3;
  radiusMm: number;
}

function cloudOf({ vessels, sacMm }: PlacedLesion): Cloud {
  const lines = vessels
    .filter(({ course }) => course.length > 1)
    .map(({ course, vessel }) => ({ line: new Polyline(course), role: vessel.role }));
  const lengthMm = lines.reduce((sum, { line }) => sum + line.lengthMm, 0);
  const stepMm = Math.max(LEAST_STEP_MM, lengthMm / MOST_POINTS);
  const along = lines.flatMap(({ line, role }) =>
    line.resampled(stepMm).points.map((point) => ({ point, role })),
  );
  const middle = [0, 1, 2].map(
    (k) => along.reduce((sum, { point }) => sum + point[k], 0) / along.length,
  ) as Vec3;
  const squares = along.reduce((sum, { point }) => sum + distance(point, middle) ** 2, 0);
  const anchorMm = sacMm ?? middle;
  const all = sacMm ? [...along, { point: sacMm, role: SAC }] : along;
  const points = all.map(({ point }) => subtract(point, anchorMm));
  const roles = all.map(({ role }) => role);
  return {
    points,
    roles,
    byRole: byRole(points, roles),
    anchorMm,
    radiusMm: Math.sqrt(squares / along.length),
  };
}

const byRole = (points: readonly Vec3[], roles: readonly string[]): Map<string, Float64Array> =>
  new Map(
    [...new Set(roles)].map((role) => [
      role,
      Float64Array.from(points.filter((_, i) => roles[i] === role).flat()),
    ]),
  );

const flipped = ([x, y, z]: Vec3): Vec3 => [-x, y, z];

function flippedCloud(cloud: Cloud): Cloud {
  const points = cloud.points.map(flipped);
  return { ...cloud, points, byRole: byRole(points, cloud.roles) };
}

/** Converts a pose relative to the anchors to the scans' coordinates. */
function fileOf({ rotation, translationMm }: RigidPose, fixed: Cloud, moving: Cloud): RigidPose {
  const anchor = turned(rotation, moving.anchorMm);
  return {
    rotation,
    translationMm: translationMm.map((c, k) => c + fixed.anchorMm[k] - anchor[k]) as Vec3,
  };
}

/** The least turn in a pose of the image flipped along x, if read as a flip along any one axis. */
function flipTurnDeg(rotation: Rotation): number {
  const alsoFlipped = (axis: number): Rotation =>
    rotation.map((row) =>
      row.map((c, k) => (k === 0 ? -c : c) * (k === axis ? -1 : 1)),
    ) as unknown as Rotation;
  return Math.min(...[0, 1, 2].map((axis) => turnDeg(alsoFlipped(axis))));
}

/** A pose relative to the anchors. */
interface Candidate {
  pose: RigidPose;
  misfitMm: number;
  /** Share of the points within reach of the other scan's, for the better covered scan. */
  overlap: number;
}

const NO_TURN: Rotation = [
  [1, 0, 0],
  [0, 1, 0],
  [0, 0, 1],
];

/** Distinct poses from all directions, the least misfit first. Same input, same poses. */
function searchPoses(fixed: Cloud, moving: Cloud, reachMm: number): Candidate[] {
  const [few, fixedFew] = [fewer(moving), fewer(fixed)];
  const rough = [NO_TURN, ...evenTurns(EVEN_TURNS)].map((rotation): Candidate => {
    const pose = fitPoints({ rotation, translationMm: [0, 0, 0] }, fixed, few, ROUGH_ITERATIONS);
    return { pose, ...fitOf(pose, fixedFew, few, reachMm) };
  });
  return distinct(
    distinct(rough, moving.radiusMm)
      .slice(0, CLOSER)
      .map(({ pose }) => closer(pose, fixed, moving, reachMm)),
    moving.radiusMm,
  );
}

/** Iterates a pose to convergence. */
function closer(start: RigidPose, fixed: Cloud, moving: Cloud, reachMm: number): Candidate {
  const pose = fitPoints(start, fixed, moving, CLOSER_ITERATIONS);
  return { pose, ...fitOf(pose, fixed, moving, reachMm) };
}

/** Every n-th point, always with the last, which may be the sac's. */
function fewer(cloud: Cloud): Cloud {
  const step = Math.ceil(cloud.points.length / FEW);
  const kept = (_: unknown, i: number): boolean => (cloud.points.length - 1 - i) % step === 0;
  const [points, roles] = [cloud.points.filter(kept), cloud.roles.filter(kept)];
  return { ...cloud, points, roles, byRole: byRole(points, roles) };
}

function distinct(candidates: readonly Candidate[], radiusMm: number): Candidate[] {
  const kept: Candidate[] = [];
  for (const one of candidates.toSorted((a, b) => a.misfitMm - b.misfitMm))
    if (!kept.some(({ pose }) => poseGapMm(pose, one.pose, radiusMm) < SAME_POSE * radiusMm)) kept.push(one);
  return kept;
}

/** Trimmed closest points of one role. */
function fitPoints(start: RigidPose, fixed: Cloud, moving: Cloud, iterations: number): RigidPose {
  let pose = start;
  for (let i = 0; i < iterations; i++) {
    const pairs = moving.points
      .map((from, k) => ({ from, ...nearestOf(posed(pose, from), moving.roles[k], fixed) }))
      .filter(({ squared }) => Number.isFinite(squared))
      .sort((a, b) => a.squared - b.squared);
    const sums = emptyPairSums();
    for (const { from, to } of pairs.slice(0, Math.ceil(KEPT_SHARE * pairs.length))) {
      sums.count++;
      for (let k = 0; k < 3; k++) {
        sums.from[k] += from[k];
        sums.to[k] += to[k];
        for (let j = 0; j < 3; j++) sums.products[k][j] += to[k] * from[j];
      }
    }
    if (sums.count < 3) return pose;
    const next = closestPose(sums);
    const stepMm = poseGapMm(pose, next, moving.radiusMm);
    pose = next;
    if (stepMm < REST_MM) break;
  }
  return pose;
}

/** The nearest point of a role; infinitely far if the scan has no such vessel. */
function nearestOf([x, y, z]: Vec3, role: string, to: Cloud): { to: Vec3; squared: number } {
  const points = to.byRole.get(role) ?? new Float64Array();
  let [squared, at] = [Number.POSITIVE_INFINITY, 0];
  for (let i = 0; i < points.length; i += 3) {
    const [dx, dy, dz] = [points[i] - x, points[i + 1] - y, points[i + 2] - z];
    const d = dx * dx + dy * dy + dz * dz;
    if (d < squared) [squared, at] = [d, i];
  }
  return { to: [points[at], points[at + 1], points[at + 2]], squared };
}

function fitOf(
  pose: RigidPose,
  fixed: Cloud,
  moving: Cloud,
  reachMm: number,
): Pick<Candidate, 'misfitMm' | 'overlap'> {
  const oneWay = (from: Cloud, to: Cloud, place: RigidPose): { mean: number; within: number } => {
    const capped = from.points.map((p, i) =>
      Math.min(reachMm ** 2, nearestOf(posed(place, p), from.roles[i], to).squared),
    );
    return {
      mean: capped.reduce((a, b) => a + b, 0) / capped.length,
      within: capped.filter((d) => d < reachMm ** 2).length / capped.length,
    };
  };
  const there = oneWay(moving, fixed, pose);
  const back = oneWay(fixed, moving, inverted(pose));
  // a closed or new vessel has no counterpart, so the scan with fewer of them is used
  return {
    misfitMm: Math.sqrt(Math.min(there.mean, back.mean)),
    overlap: Math.max(there.within, back.within),
  };
}
