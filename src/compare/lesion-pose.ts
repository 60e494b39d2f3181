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

/** How the vessels of the new scan lie on those of the old one. */
export interface LesionPose {
  /** From the new scan's coordinates to the old one's. */
  pose: RigidPose;
  turnDeg: number;
  /** Root mean square distance from the courses of the one scan to the other's, each at most the reach, of the way that is less, mm. */
  misfitMm: number;
  /** The same of the new lesion's mirror image; absent where the lesion itself lies as it lay. */
  mirrorMisfitMm?: number;
  /**
   * same: the lesion as it is. undecided: its mirror image fits as well. mirrored: the mirror image fits, the lesion itself does not.
   * mirrored-or-turned: the lesion itself fits only in a turn that no patient lies in, and its mirror image without one.
   * unlike: neither fits, and the pose is none.
   */
  handedness: 'same' | 'undecided' | 'mirrored' | 'mirrored-or-turned' | 'unlike';
}

/** Points that the courses of one lesion are told by, and how many of them a start is tried with. */
const MOST_POINTS = 140;
const FEW = 48;
const LEAST_STEP_MM = 2;
const EVEN_TURNS = 240;
const ROUGH_ITERATIONS = 8;
const CLOSER = 12;
const CLOSER_ITERATIONS = 30;
/** Part of the pairs, the nearest, that a step depends on (trimmed closest points: Chetverikov et al., ICPR 2002, from memory). */
const KEPT_SHARE = 0.75;
/** Poses that put the courses less than this part of their radius apart are one. */
const SAME_POSE = 0.1;
const SAC = 'sac';
/** A step that moves the courses by less rests, mm. */
const REST_MM = 1e-3;

/**
 * Lays the courses of the new lesion's vessels over those of the old one: vessels of one role on one another, by turn and shift
 * alone. The mirror image is laid over as well, only to tell which hand the new scan has. `inPatientAxes`: both are in LPS, and
 * where the best pose turns the patient further than a patient lies, a pose that fits as well with less turn is taken.
 *
 * Method    trimmed closest points from evenly spread turns about the middle of the sac; limits by `rules/compare.yaml` and
 *           `rules/register.yaml`
 * Source    Besl and McKay, IEEE PAMI 1992;14:239 (from memory); the closed form of a step stands with `closestPose`
 * Units     mm
 * Undefined where the scans have no vessel of one role with a course.
 */
export function lesionPose(
  old: PlacedLesion,
  now: PlacedLesion,
  inPatientAxes: boolean,
  rules: Pick<Rules, 'byId'>,
): LesionPose | undefined {
  const limit = (id: string): number => numberOf(rules, id);
  const [fixed, moving] = [cloudOf(old), cloudOf(now)];
  if (fixed === undefined || moving === undefined) return undefined;
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
  const asItLies = closer({ rotation: NO_TURN, translationMm: [0, 0, 0] }, fixed, moving, reachMm);
  if (asItLies.misfitMm <= errorMm && turnOfPose(asItLies) <= largestTurn)
    return { ...foundAs(asItLies), handedness: 'same' };

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
  // a patient lies on the back in both scans: in patient axes a mirror image shows without a turn
  const imageFits = image.some(
    (one) => isAsGood(one) && (!inPatientAxes || flipTurnDeg(one.pose.rotation) <= largestTurn),
  );
  if (!imageFits) return { ...found, handedness: 'same' };
  const isTurned = inPatientAxes && found.turnDeg > largestTurn;
  return { ...found, handedness: isTurned ? 'mirrored-or-turned' : 'undecided' };
}

/** Points of a lesion's courses about its anchor: the middle of the sac, else of the points. */
interface Cloud {
  points: Vec3[];
  /** For each point the role of its vessel; the middle of the sac has its own. */
  roles: string[];
  /** The points of each role, 3 numbers a point. */
  byRole: ReadonlyMap<string, Float64Array>;
  anchorMm: Vec3;
  radiusMm: number;
}

function cloudOf({ vessels, sacMm }: PlacedLesion): Cloud | undefined {
  const lines = vessels
    .filter(({ course }) => course.length > 1)
    .map(({ course, vessel }) => ({ line: new Polyline(course), role: vessel.role }));
  if (lines.length === 0) return undefined;
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

/** A pose about the anchors as one of the scans' coordinates. */
function fileOf({ rotation, translationMm }: RigidPose, fixed: Cloud, moving: Cloud): RigidPose {
  const anchor = turned(rotation, moving.anchorMm);
  return {
    rotation,
    translationMm: translationMm.map((c, k) => c + fixed.anchorMm[k] - anchor[k]) as Vec3,
  };
}

/** The least turn that a pose of the image flipped along x is, taken as a flip along any one axis. */
function flipTurnDeg(rotation: Rotation): number {
  const alsoFlipped = (axis: number): Rotation =>
    rotation.map((row) =>
      row.map((c, k) => (k === 0 ? -c : c) * (k === axis ? -1 : 1)),
    ) as unknown as Rotation;
  return Math.min(...[0, 1, 2].map((axis) => turnDeg(alsoFlipped(axis))));
}

/** A pose about the anchors. */
interface Candidate {
  pose: RigidPose;
  misfitMm: number;
  /** Part of the points within reach of the other scan's, of the scan that is covered better. */
  overlap: number;
}

const NO_TURN: Rotation = [
  [1, 0, 0],
  [0, 1, 0],
  [0, 0, 1],
];

/** Poses from every side, the least misfit first, no two alike. Same input, same poses. */
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

/** Follows a pose to its rest. */
function closer(start: RigidPose, fixed: Cloud, moving: Cloud, reachMm: number): Candidate {
  const pose = fitPoints(start, fixed, moving, CLOSER_ITERATIONS);
  return { pose, ...fitOf(pose, fixed, moving, reachMm) };
}

/** Every n-th point; the last, which may be the sac's, always. */
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

/** The nearest point of a role; infinitely far where the scan has no such vessel. */
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
  // a vessel that is closed, or new, lies on nothing: the scan with fewer of them is asked
  return {
    misfitMm: Math.sqrt(Math.min(there.mean, back.mean)),
    overlap: Math.max(there.within, back.within),
  };
}
