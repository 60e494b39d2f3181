import {
  add,
  cross,
  dot,
  length,
  normalize,
  onSpiral,
  perpendicular,
  scale,
  subtract,
  type Vec3,
} from '../../foundation/vector.js';
import type { PointSet } from '../../mesh/point-set.js';

/** The distance between two parallel planes that enclose a set of points, mm. */
export interface Width {
  direction: Vec3;
  /** A point on each plane. */
  low: Vec3;
  high: Vec3;
  widthMm: number;
}

/** Width of points, mm, along a unit vector. */
export function widthAlong({ positions, extent }: PointSet, direction: Vec3): Width {
  const { least, greatest, low, high } = extent(direction[0], direction[1], direction[2]);
  const at = (v: number): Vec3 => [positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]];
  return { direction, low: at(low), high: at(high), widthMm: greatest - least };
}

export type Extreme = 'largest' | 'smallest';

const isBetter = (which: Extreme, a: Width, b: Width): boolean =>
  which === 'largest' ? a.widthMm > b.widthMm : a.widthMm < b.widthMm;

/** Directions tried first, 6 degrees apart on half a sphere. */
const DIRECTIONS = Array.from({ length: 600 }, (_, i) => onSpiral(i, 1 - (i + 0.5) / 600));
/** A direction is refined if none within this angle is better, cosine of 13 degrees. */
const NEIGHBOUR = 0.974;
/** Two results within this angle count as one, cosine of 6 degrees. */
const SAME = 0.9945;
const FIRST_STEP_RAD = 0.07;
const LAST_STEP_RAD = 2e-4;
/** The ring of trial directions is rotated by this each time, so that no valley is missed between them. */
const GOLDEN_RAD = Math.PI * (3 - Math.sqrt(5));

/** Widths in evenly spread directions, from which the largest and the smallest are searched. */
export const roughWidths = (points: PointSet): Width[] =>
  DIRECTIONS.map((direction) => widthAlong(points, direction));

/**
 * Every direction in which the width of points is the largest, or the smallest, among its neighbours: the readings found by rocking a
 * caliper. The overall largest, or smallest, first.
 *
 * `rough`: the widths that `roughWidths` gives, if already known.
 *
 * Method    widths in 600 evenly spread directions, then a search with steps down to 0.01 degrees; the largest converges to the line
 *           between the two contacts, the smallest to the normal of two edges; both are exact
 * Valid     not for points of a single ball, for which all directions are equal
 */
export function extremeWidths(
  points: PointSet,
  which: Extreme,
  rough: readonly Width[] = roughWidths(points),
): Width[] {
  const found: Width[] = [];
  for (const one of rough) {
    const isBeaten = rough.some(
      (other) => isBetter(which, other, one) && Math.abs(dot(other.direction, one.direction)) >= NEIGHBOUR,
    );
    if (isBeaten) continue;
    const near = searched(points, one, which);
    const same = found.findIndex((f) => Math.abs(dot(f.direction, near.direction)) > SAME);
    if (same < 0) found.push(near);
    else if (isBetter(which, near, found[same])) found[same] = near;
  }
  return found.sort((a, b) => (which === 'largest' ? b.widthMm - a.widthMm : a.widthMm - b.widthMm));
}

function searched(points: PointSet, from: Width, which: Extreme): Width {
  let best = from;
  let turn = 0;
  for (let step = FIRST_STEP_RAD; step > LAST_STEP_RAD; ) {
    const u = perpendicular(best.direction);
    const v = cross(best.direction, u);
    turn += GOLDEN_RAD;
    const tries = Array.from({ length: 6 }, (_, i) => {
      const angle = turn + (Math.PI * i) / 3;
      const side = add(
        scale(u, Math.sin(step) * Math.cos(angle)),
        scale(v, Math.sin(step) * Math.sin(angle)),
      );
      return widthAlong(points, normalize(add(scale(best.direction, Math.cos(step)), side)));
    });
    const next = tries.reduce((a, b) => (isBetter(which, b, a) ? b : a));
    if (isBetter(which, next, best)) best = next;
    else step /= 2;
  }
  return which === 'largest' ? betweenBoth(points, best) : flatOnBoth(points, best);
}

/** Turned towards the line between the contacts while that is wider. */
function betweenBoth(points: PointSet, from: Width): Width {
  let best = from;
  for (let i = 0; i < 50; i++) {
    const next = widthAlong(points, normalize(subtract(best.high, best.low)));
    if (!(next.widthMm > best.widthMm)) return best;
    best = next;
  }
  return best;
}

/** Number of points on each side that a jaw may touch. */
const TOUCHED = 6;
/** Largest step, cosine of 10 degrees. */
const FARTHEST_STEP = 0.985;

/**
 * Turned until both jaws rest flat: the least width of a polyhedron is perpendicular to two of its edges, with a face against a corner or
 * an edge against an edge.
 */
function flatOnBoth(points: PointSet, from: Width): Width {
  let best = from;
  for (let i = 0; i < 50; i++) {
    const [high, low] = [1, -1].map((sign) => outermost(points, scale(best.direction, sign)));
    const edges = [...edgesOf(high), ...edgesOf(low)];
    let next = best;
    for (let j = 0; j < edges.length; j++)
      for (let k = j + 1; k < edges.length; k++) {
        const normal = cross(edges[j], edges[k]);
        const size = length(normal);
        if (size < 1e-9) continue;
        const d = scale(normal, 1 / size);
        // The width of these few points is at most the full width.
        const least = Math.max(...high.map((p) => dot(p, d))) - Math.min(...low.map((p) => dot(p, d)));
        if (Math.abs(dot(d, best.direction)) < FARTHEST_STEP || Math.abs(least) >= next.widthMm) continue;
        const width = widthAlong(points, dot(d, best.direction) < 0 ? scale(d, -1) : d);
        if (width.widthMm < next.widthMm - 1e-9) next = width;
      }
    if (next === best) return best;
    best = next;
  }
  return best;
}

const edgesOf = (points: readonly Vec3[]): Vec3[] =>
  points.flatMap((a, i) => points.slice(i + 1).map((b) => subtract(b, a)));

/** The few outermost points in a direction. */
function outermost({ positions: p }: PointSet, [dx, dy, dz]: Vec3): Vec3[] {
  const kept: { at: Vec3; height: number }[] = [];
  let lowest = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < p.length; i += 3) {
    const height = p[i] * dx + p[i + 1] * dy + p[i + 2] * dz;
    if (kept.length === TOUCHED && height <= lowest) continue;
    const at: Vec3 = [p[i], p[i + 1], p[i + 2]];
    const place = kept.findIndex((k) => height > k.height);
    kept.splice(place < 0 ? kept.length : place, 0, { at, height });
    if (kept.length > TOUCHED) kept.pop();
    lowest = kept[kept.length - 1].height;
  }
  return kept.map(({ at }) => at);
}

/** The same for directions perpendicular to an axis: the readings of a caliper turned about it. */
export function extremeWidthsAbout(points: PointSet, axis: Vec3, which: Extreme): Width[] {
  const u = perpendicular(axis);
  const v = cross(axis, u);
  const at = (angle: number): Width =>
    widthAlong(points, add(scale(u, Math.cos(angle)), scale(v, Math.sin(angle))));
  const stepRad = Math.PI / 60;
  const rough = Array.from({ length: 60 }, (_, i) => at(i * stepRad));
  const found: Width[] = [];
  rough.forEach((one, i) => {
    const beside = [-2, -1, 1, 2].map((k) => rough[(i + k + 60) % 60]);
    if (beside.some((other) => isBetter(which, other, one))) return;
    let angle = i * stepRad;
    let best = one;
    for (let step = stepRad; step > 1e-6; ) {
      const next = [angle - step, angle + step].find((a) => isBetter(which, at(a), best));
      if (next === undefined) step /= 2;
      else [angle, best] = [next, at(next)];
    }
    if (!found.some((f) => Math.abs(dot(f.direction, best.direction)) > SAME)) found.push(best);
  });
  return found.sort((a, b) => (which === 'largest' ? b.widthMm - a.widthMm : a.widthMm - b.widthMm));
}
