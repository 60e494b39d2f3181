import type { Vec3 } from '../foundation/vector.js';
import type { Polyline } from './polyline.js';
import type { Surface } from './surface.js';

/** Least distance between two structures; local coordinates, mm. 0 where they touch or overlap. */
export interface LeastDistance {
  distanceMm: number;
  points: [Vec3, Vec3];
}

/**
 * Least distance from some vertices of `from` (all, or those that `counts` picks) to `to`, and from the
 * vertices of `to` back, so that a coarse surface beside a fine one is not overlooked. What is nearer than the
 * best so far is all that the tree is asked for, which keeps the search short.
 */
export function leastDistance(
  from: Surface,
  to: Surface,
  counts?: (vertex: number) => boolean,
): LeastDistance | undefined {
  let best: LeastDistance | undefined;
  for (let v = 0; v < from.vertexCount; v++) {
    if (counts && !counts(v)) continue;
    const p = from.vertex(v);
    const hit = to.closest(p, best?.distanceMm);
    if (hit && (!best || hit.distance < best.distanceMm))
      best = { distanceMm: hit.distance, points: [p, hit.point] };
    if (to.mayHold(p) && to.isInside(p)) return { distanceMm: 0, points: [p, p] };
  }
  if (!best || counts) return best;
  for (let v = 0; v < to.vertexCount; v++) {
    const p = to.vertex(v);
    const hit = from.closest(p, best.distanceMm);
    if (hit && hit.distance < best.distanceMm) best = { distanceMm: hit.distance, points: [hit.point, p] };
    if (from.mayHold(p) && from.isInside(p)) return { distanceMm: 0, points: [p, p] };
  }
  return best;
}

/** Picks the vertices whose place on the centreline lies between two positions and that belong to its wall. */
export function alongLine(
  surface: Surface,
  line: Polyline,
  fromMm: number,
  toMm: number,
  reachMm: number,
): (v: number) => boolean {
  return (v) => {
    const place = line.project(surface.vertex(v));
    return place.at >= fromMm && place.at <= toMm && place.distanceMm <= reachMm;
  };
}
