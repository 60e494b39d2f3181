import { distance, subtract, type Vec3 } from '../foundation/vector.js';
import { posed } from '../geometry/register/rigid-pose.js';
import type { Vessel } from '../result/result.generated.js';
import { numberOf, type Rules } from '../rules/rule.js';
import type { LesionPose } from './lesion-pose.js';
import { movedLesion, type PlacedLesion, type PlacedVessel } from './placed-lesion.js';

/** A vessel in both scans, or in one of them. */
export interface VesselMatch {
  role: Vessel['role'];
  oldName?: string;
  newName?: string;
  /** `geometry`: matched by place, under another name. `name-only`: matched by name, although in another place. */
  matchedBy: 'name' | 'geometry' | 'name-only' | 'none';
  /** Between the two necks, mm, in the pose. */
  neckDistanceMm?: number;
  /** Mean distance between the two centrelines over the shorter one, mm, in the pose. */
  courseDistanceMm?: number;
}

/** The alignment of the new scan with the old one before vessels were matched. */
export type MatchedIn = 'pose' | 'sac' | 'as-given';

/**
 * Finds each vessel of the old scan in the new one. First by place: role, neck, course and calibre within the limits of the rules,
 * in the pose; without one, relative to the middle of the sac, else in the given coordinates. A vessel keeps its name unless one under
 * another name is clearly nearer. The rest are matched by name. Old vessels first, then new ones.
 */
export function matchVessels(
  old: PlacedLesion,
  now: PlacedLesion,
  pose: LesionPose | undefined,
  rules: Pick<Rules, 'byId'>,
): { matches: VesselMatch[]; matchedIn: MatchedIn } {
  const { before, after, matchedIn } = laidTogether(old, now, pose);
  const lead = numberOf(rules, 'same-vessel-name');
  const partner = new Map<PlacedVessel, { to: PlacedVessel; by: VesselMatch['matchedBy'] }>();
  const free = new Set(after);
  const take = (one: PlacedVessel, to: PlacedVessel, by: VesselMatch['matchedBy']): void => {
    if (partner.has(one) || !free.has(to)) return;
    partner.set(one, { to, by });
    free.delete(to);
  };
  const pairs = before
    .flatMap((one) => after.filter((to) => isSame(one, to, rules)).map((to) => ({ one, to })))
    .map(({ one, to }) => {
      const apart = neckOff(one, to) + courseDistance(one, to);
      return { one, to, cost: one.name === to.name ? Math.max(0, apart - lead) : apart };
    })
    .sort((a, b) => a.cost - b.cost || Number(b.one.name === b.to.name) - Number(a.one.name === a.to.name));
  for (const { one, to } of pairs) take(one, to, one.name === to.name ? 'name' : 'geometry');
  for (const one of before) {
    const same = after.find(({ name, vessel }) => name === one.name && vessel.role === one.vessel.role);
    if (same) take(one, same, canBePlaced(one, same) ? 'name-only' : 'name');
  }
  const matches = before.map((one): VesselMatch => {
    const found = partner.get(one);
    if (found === undefined) return { role: one.vessel.role, oldName: one.name, matchedBy: 'none' };
    const { to, by } = found;
    return {
      role: one.vessel.role,
      oldName: one.name,
      newName: to.name,
      matchedBy: by,
      ...(one.neck && to.neck && { neckDistanceMm: distance(one.neck, to.neck) }),
      ...(one.course.length > 0 && to.course.length > 0 && { courseDistanceMm: courseDistance(one, to) }),
    };
  });
  for (const { name, vessel } of free) matches.push({ role: vessel.role, newName: name, matchedBy: 'none' });
  return { matches, matchedIn };
}

/** Both scans' vessels in the same coordinates. */
function laidTogether(
  old: PlacedLesion,
  now: PlacedLesion,
  pose: LesionPose | undefined,
): { before: PlacedVessel[]; after: PlacedVessel[]; matchedIn: MatchedIn } {
  if (pose !== undefined)
    return {
      before: old.vessels,
      after: movedLesion(now, (point) => posed(pose.pose, point)).vessels,
      matchedIn: 'pose',
    };
  const [from, to] = [old.sacMm, now.sacMm];
  if (from === undefined || to === undefined)
    return { before: old.vessels, after: now.vessels, matchedIn: 'as-given' };
  const about = (middle: Vec3) => (point: Vec3) => subtract(point, middle);
  return {
    before: movedLesion(old, about(from)).vessels,
    after: movedLesion(now, about(to)).vessels,
    matchedIn: 'sac',
  };
}

const canBePlaced = (a: PlacedVessel, b: PlacedVessel): boolean => a.course.length > 0 && b.course.length > 0;

const toCourse = (point: Vec3, course: readonly Vec3[]): number =>
  Math.min(...course.map((q) => distance(point, q)));

/**
 * Distance of a neck from the other vessel, mm. If the sac shrank or grew, the neck moves along the vessel, and the neck of the shorter
 * one is still on the course of the longer.
 */
function neckOff(a: PlacedVessel, b: PlacedVessel): number {
  if (!a.neck || !b.neck) return Number.POSITIVE_INFINITY;
  return Math.min(distance(a.neck, b.neck), toCourse(a.neck, b.course), toCourse(b.neck, a.course));
}

function isSame(a: PlacedVessel, b: PlacedVessel, rules: Pick<Rules, 'byId'>): boolean {
  if (a.vessel.role !== b.vessel.role || !canBePlaced(a, b)) return false;
  // a vessel with the same name may have grown or shrunk; under another name its calibre must match too
  const ratio = Math.max(a.calibreMm, b.calibreMm) / Math.min(a.calibreMm, b.calibreMm);
  return (
    neckOff(a, b) <= numberOf(rules, 'same-vessel-neck') &&
    courseDistance(a, b) <= numberOf(rules, 'same-vessel-course') &&
    (a.name === b.name || ratio <= numberOf(rules, 'same-vessel-calibre'))
  );
}

/** Mean distance from the points of one course to the other, for the nearer direction, since the longer one reaches farther. */
function courseDistance(a: PlacedVessel, b: PlacedVessel): number {
  const mean = (from: readonly Vec3[], to: readonly Vec3[]): number =>
    from.reduce((sum, p) => sum + toCourse(p, to), 0) / from.length;
  return Math.min(mean(a.course, b.course), mean(b.course, a.course));
}
