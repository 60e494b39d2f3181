import { add, cross, distance, lerp, perpendicular, scale, type Vec3 } from '../../foundation/vector.js';
import type { BranchPlace, OpeningRange } from '../branch-opening.js';
import type { Polyline } from '../polyline.js';
import type { Ring } from '../rough-path.js';
import { median } from '../statistics.js';

/** Numerical settings. */
const JUNCTION = {
  alongStepMm: 0.05,
  around: 90,
  withinRadius: 0.9,
  wideRing: 1.7,
  ringStepMm: 0.5,
} as const;

/**
 * The rings of a branch before its path enters the parent's lumen. They are tilted, so on a short branch they soon surround the parent as
 * well. From the last ring that does not, the path continues straight towards the parent's axis.
 */
export function ringsBeforeParent(
  rings: readonly Ring[],
  parentLine: Polyline,
  parentCalibreMm: number,
): Ring[] {
  const wallMm = (JUNCTION.withinRadius * parentCalibreMm) / 2;
  const isWithin = (ring: Ring): boolean => parentLine.project(ring.centre).distanceMm < wallMm;
  const entered = rings.findIndex(isWithin);
  const before = entered < 0 ? rings : rings.slice(0, entered);
  const radiusMm = median(before.map((ring) => ring.radiusMm));
  const own = before.slice(
    0,
    1 + before.findLastIndex((ring) => ring.radiusMm < JUNCTION.wideRing * radiusMm),
  );
  const last = own[own.length - 1];
  if (!last) return [];
  const axis = parentLine.project(last.centre);
  const steps = Math.floor((axis.distanceMm - wallMm) / JUNCTION.ringStepMm);
  const ahead = Array.from({ length: steps }, (_, i) => ({
    centre: lerp(last.centre, axis.point, ((i + 1) * JUNCTION.ringStepMm) / axis.distanceMm),
    radiusMm,
  }));
  return [...own, ...ahead];
}

/**
 * The opening of a branch on its parent if both are one surface: the places along the parent at which its wall, taken as round, is inside
 * the branch, extended as a tube of its calibre near the parent.
 */
export function openingOnParent(
  parentLine: Polyline,
  parentCalibreAt: (at: number) => number,
  branchLine: Polyline,
  branchCalibreMm: number,
  place: BranchPlace,
): OpeningRange | undefined {
  const end = branchLine.points[branchLine.points.length - 1];
  const direction = branchLine.directionAt(branchLine.lengthMm, 0.8 * branchCalibreMm);
  const reach = 2 * branchCalibreMm + 2 * parentCalibreAt(place.atMm) + place.beyondMm;
  const start = add(end, scale(direction, -reach));
  const radius = branchCalibreMm / 2;
  const inBranch = (p: Vec3): boolean => {
    const rel: Vec3 = [p[0] - start[0], p[1] - start[1], p[2] - start[2]];
    const along = rel[0] * direction[0] + rel[1] * direction[1] + rel[2] * direction[2];
    if (along > reach + place.beyondMm) return false;
    return distance(rel, scale(direction, along)) < radius;
  };
  let fromMm = Number.POSITIVE_INFINITY;
  let toMm = Number.NEGATIVE_INFINITY;
  const first = Math.max(0, place.atMm - reach);
  const last = Math.min(parentLine.lengthMm, place.atMm + reach);
  for (let at = first; at <= last; at += JUNCTION.alongStepMm) {
    const point = parentLine.pointAt(at);
    const tangent = parentLine.directionAt(at, 0.6 * parentCalibreAt(at));
    const u = perpendicular(tangent);
    const v = cross(tangent, u);
    const r = parentCalibreAt(at) / 2;
    for (let j = 0; j < JUNCTION.around; j++) {
      const angle = (2 * Math.PI * j) / JUNCTION.around;
      if (!inBranch(add(point, add(scale(u, r * Math.cos(angle)), scale(v, r * Math.sin(angle)))))) continue;
      fromMm = Math.min(fromMm, at);
      toMm = Math.max(toMm, at);
      break;
    }
  }
  return toMm >= fromMm ? { fromMm, toMm } : undefined;
}
