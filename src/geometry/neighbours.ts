import type { Vec3 } from '../foundation/vector.js';
import type { Polyline } from './polyline.js';
import type { Surface } from './surface.js';
import { WallProbe } from './wall-probe.js';

/** Shortest distance between two structures; local coordinates, mm. 0 if they touch or overlap. */
export interface LeastDistance {
  distanceMm: number;
  points: [Vec3, Vec3];
}

/**
 * Shortest distance from some vertices of `from` (all, or those selected by `counts`) to `to`, and from the vertices of `to` back, so that
 * a coarse surface next to a fine one is not missed.
 */
export function leastDistance(
  from: Surface,
  to: Surface,
  counts?: (vertex: number) => boolean,
): LeastDistance | undefined {
  const within = vertexInside(from, to, counts);
  if (within) return { distanceMm: 0, points: [within, within] };
  const best = nearestVertex(from, to, counts);
  if (!best || counts) return best;
  const back = vertexInside(to, from);
  if (back) return { distanceMm: 0, points: [back, back] };
  const other = nearestVertex(to, from, undefined, best.distanceMm);
  if (!other || other.distanceMm >= best.distanceMm) return best;
  return { distanceMm: other.distanceMm, points: [other.points[1], other.points[0]] };
}

/** The first vertex of `from` (of those selected by `counts`) inside `to`. */
function vertexInside(from: Surface, to: Surface, counts?: (vertex: number) => boolean): Vec3 | undefined {
  const probe = new WallProbe(to);
  for (let v = 0; v < from.vertexCount; v++) {
    if (counts && !counts(v)) continue;
    const p = from.vertex(v);
    if (probe.isInside(p)) return p;
  }
  return undefined;
}

/** Vertices tried first, so that the search among all of them starts with a short reach. */
const TRIED_FIRST = 256;

/**
 * The vertex of `from` (of those selected by `counts`) nearest to the wall of `to`, and the place there; undefined if none is within
 * `withinMm`.
 */
export function nearestVertex(
  from: Surface,
  to: Surface,
  counts?: (vertex: number) => boolean,
  withinMm = Number.POSITIVE_INFINITY,
): LeastDistance | undefined {
  const probe = new WallProbe(to);
  let best: LeastDistance | undefined;
  let reach = withinMm;
  const stride = Math.max(1, Math.floor(from.vertexCount / TRIED_FIRST));
  for (const step of stride > 1 ? [stride, 1] : [1]) {
    for (let v = 0; v < from.vertexCount; v += step) {
      if (counts && !counts(v)) continue;
      const p = from.vertex(v);
      if (step === 1 && !probe.mayReach(p, reach)) continue;
      const hit = to.closest(p, reach);
      if (!hit || hit.distance >= reach) continue;
      best = { distanceMm: hit.distance, points: [p, hit.point] };
      reach = hit.distance;
    }
  }
  return best;
}

/** Selects the vertices of a vessel's wall between two positions on the centreline. */
export function alongLine(
  surface: Surface,
  line: Polyline,
  fromMm: number,
  toMm: number,
  reachMm: number,
): (v: number) => boolean {
  const zone = line.between(fromMm, toMm).points;
  const low = [0, 1, 2].map((k) => Math.min(...zone.map((p) => p[k])) - reachMm);
  const high = [0, 1, 2].map((k) => Math.max(...zone.map((p) => p[k])) + reachMm);
  const { positions } = surface;
  const lies = (v: number): boolean => {
    for (let k = 0; k < 3; k++) {
      const x = positions[3 * v + k];
      if (x < low[k] || x > high[k]) return false;
    }
    const place = line.project(surface.vertex(v));
    return place.at >= fromMm && place.at <= toMm && place.distanceMm <= reachMm;
  };
  // cached because every target queries every vertex: 0 unknown, 1 no, 2 yes
  const answers = new Uint8Array(surface.vertexCount);
  return (v) => {
    if (answers[v] === 0) answers[v] = lies(v) ? 2 : 1;
    return answers[v] === 2;
  };
}
