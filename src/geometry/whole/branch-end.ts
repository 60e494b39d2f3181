import { add, distance, normalize, scale, subtract, type Vec3 } from '../../foundation/vector.js';
import type { BranchOpening } from '../measure.js';
import { Polyline } from '../polyline.js';
import { calibreProfile } from '../profile.js';
import type { Ring } from '../rough-path.js';
import { mean, median } from '../statistics.js';
import type { Surface } from '../surface.js';
import type { FollowedLine } from './follow-vessel.js';

/** Numerical settings of the end of a branch at its parent. No clinical meaning. */
const BRANCH_END = {
  /** A section wider than this multiple of the branch's calibre belongs to the junction. */
  flare: 1.03,
  /** Before that place the edge of a junction is rounded over about a voxel of the scan; mm. */
  roundingMm: 0.5,
  /** Spacing of the places tried on the way to the parent's wall, mm. */
  stepMm: 0.1,
  /** Range of the straight extension, as a multiple of the distance to the parent's axis: a branch may leave at 15 degrees. */
  reach: 4,
  /** If that misses the parent, an end within this many calibres of its wall continues towards its axis. */
  near: 1,
  /**
   * A bare end farther than this many calibres from its parent's wall is followed along the rough path, in steps of this many calibres.
   */
  far: 1.25,
  along: 0.5,
} as const;

/** A branch up to where it widens into its parent, which deflects its line. */
export interface BareBranch extends FollowedLine {
  /** Up to here the line follows sections of the branch alone; beyond it, the rough path. */
  bareMm: number;
}

/**
 * The line of a branch up to where it widens into its parent, and its calibre before that place. If that is far from the parent's wall,
 * as between its last branch and a nearby parent, it continues along the rough path through the middle of the lumen.
 */
export function bareEnd(
  surface: Surface,
  { line, calibreMm: usualMm }: FollowedLine,
  rings: readonly Ring[],
  parentLine: Polyline,
  wallMm: number,
): BareBranch {
  const fromMm = Math.max(0, line.lengthMm - Math.max(2.5 * usualMm, usualMm + 1));
  const near = calibreProfile(surface, line, usualMm, { fromMm, toMm: line.lengthMm, stepMm: 0.25 });
  const before = near.filter((s) => s.atMm <= line.lengthMm - usualMm / 2);
  const calibreMm = before.length > 0 ? median(before.map((s) => s.equivalentMm)) : usualMm;
  // widening up to the end: a section that is slightly wider due to noise, or at a sub-branch, is not the beginning
  const lastBare = near.findLastIndex((s) => s.equivalentMm <= BRANCH_END.flare * calibreMm);
  const wide = near.find((s, i) => i > lastBare && s.atMm > line.lengthMm - usualMm);
  const cutMm = (wide?.atMm ?? line.lengthMm) - Math.min(BRANCH_END.roundingMm, calibreMm / 2);
  const bare = cutMm > calibreMm ? line.between(0, cutMm) : line;
  const end = bare.points[bare.points.length - 1];
  const onwards =
    parentLine.project(end).distanceMm - wallMm > BRANCH_END.far * calibreMm
      ? roughWayOn(rings, end, BRANCH_END.along * calibreMm, (p) => parentLine.project(p).distanceMm < wallMm)
      : [];
  return { line: new Polyline([...bare.points, ...onwards]), calibreMm, bareMm: bare.lengthMm };
}

/** Centres of the rings beyond a place, `stepMm` apart, while `isPast` holds. */
function roughWayOn(
  rings: readonly Ring[],
  from: Vec3,
  stepMm: number,
  isPast: (p: Vec3) => boolean,
): Vec3[] {
  const distances = rings.map(({ centre }) => distance(centre, from));
  const nearest = distances.indexOf(Math.min(...distances));
  const points: Vec3[] = [];
  let last = from;
  for (const { centre } of rings.slice(nearest + 1)) {
    if (isPast(centre)) break;
    if (distance(centre, last) < stepMm) continue;
    points.push(centre);
    last = centre;
  }
  return points;
}

/**
 * The line of a branch to its parent's wall, which is taken as round with the parent's calibre next to the opening: its bare line, then
 * straight on. Beyond `bareMm` sections include the parent. Undefined if it does not reach the wall.
 */
export function lineToParent(
  surface: Surface,
  branch: FollowedLine,
  rings: readonly Ring[],
  parent: FollowedLine,
  opening: BranchOpening | undefined,
): { line: Polyline; bareMm: number } | undefined {
  const wallMm = (opening ? calibreBeside(surface, parent, opening) : parent.calibreMm) / 2;
  const { line, calibreMm, bareMm } = bareEnd(surface, branch, rings, parent.line, wallMm);
  const distanceTo = (p: Vec3): number => parent.line.project(p).distanceMm;
  const entered = line.points.findIndex((p) => distanceTo(p) < wallMm);
  if (entered > 0)
    return { line: line.between(0, line.at[entered]), bareMm: Math.min(bareMm, line.at[entered]) };
  const end = line.points[line.points.length - 1];
  const axis = parent.line.project(end);
  const isNear = axis.distanceMm - wallMm < BRANCH_END.near * calibreMm;
  const onwards = [
    {
      direction: line.directionAt(line.lengthMm, 0.8 * calibreMm),
      reachMm: BRANCH_END.reach * axis.distanceMm,
    },
    ...(isNear ? [{ direction: normalize(subtract(axis.point, end)), reachMm: axis.distanceMm }] : []),
  ];
  for (const { direction, reachMm } of onwards)
    for (let s = BRANCH_END.stepMm; s <= reachMm; s += BRANCH_END.stepMm) {
      if (distanceTo(add(end, scale(direction, s))) >= wallMm) continue;
      const count = Math.ceil(s / BRANCH_END.stepMm);
      const ahead = Array.from({ length: count }, (_, i) =>
        add(end, scale(direction, ((i + 1) * s) / count)),
      );
      return { line: new Polyline([...line.points, ...ahead]), bareMm };
    }
  return undefined;
}

/** Calibre of a parent half a calibre to either side of an opening; its median calibre if no section can be cut there. */
function calibreBeside(
  surface: Surface,
  { line, calibreMm }: FollowedLine,
  { fromMm, toMm }: BranchOpening,
): number {
  const besides = [fromMm - calibreMm / 2, toMm + calibreMm / 2].filter((at) => at > 0 && at < line.lengthMm);
  const sections = besides.flatMap((at) =>
    calibreProfile(surface, line, calibreMm, { fromMm: at, toMm: at, stepMm: 1 }),
  );
  const usual = sections.map((s) => s.equivalentMm).filter((d) => Math.abs(d - calibreMm) < calibreMm / 2);
  return usual.length > 0 ? mean(usual) : calibreMm;
}
