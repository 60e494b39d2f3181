import { distance, dot, normalize, subtract, type Vec3 } from '../foundation/vector.js';
import type { Curve } from './curve.js';
import { type SacShape, sacField } from './sac.js';

/** A body as an implicit function: negative inside, zero on the surface, about a distance in mm near it. */
export interface Body {
  value(p: Vec3): number;
  /** Never more than `value`, and cheap. */
  atLeast(p: Vec3): number;
}

/** A flat circular end of a tube; `inwards` points along the vessel. */
export interface Rim {
  centre: Vec3;
  inwards: Vec3;
  radiusMm: number;
}

/** Closest point on a curve: arc length and distance, mm. */
interface Closest {
  s: number;
  distanceMm: number;
}

/** Finds the closest point; `atLeast` is a cheap lower bound of its distance. */
export interface CurveSearch {
  (p: Vec3): Closest;
  atLeast(p: Vec3): number;
}

const TABLE_STEP_MM = 0.25;
const CHUNK = 24;

/**
 * Closest-point search on a curve between two arc lengths (which may lie on its straight extensions).
 * The curve is tabled every 0.25 mm with its tangents; between two entries the cubic Hermite segment is used (error below
 * 1e-5 mm for bends of more than 2 mm radius), and the foot of the perpendicular is found by Newton steps on it.
 */
export function closestOnCurve(curve: Curve, fromMm: number, toMm: number): CurveSearch {
  const count = Math.max(2, Math.ceil((toMm - fromMm) / TABLE_STEP_MM));
  const step = (toMm - fromMm) / count;
  const points: Vec3[] = [];
  const tangents: Vec3[] = [];
  for (let i = 0; i <= count; i++) {
    points.push(curve.pointAt(fromMm + i * step));
    tangents.push(curve.tangentAt(fromMm + i * step));
  }
  const chunks: { first: number; last: number; centre: Vec3; reach: number }[] = [];
  for (let first = 0; first <= count; first += CHUNK) {
    const last = Math.min(count, first + CHUNK - 1);
    const centre = points[(first + last) >> 1];
    let reach = 0;
    for (let i = first; i <= last; i++) reach = Math.max(reach, distance(points[i], centre));
    chunks.push({ first, last, centre, reach });
  }
  const squared = (p: Vec3, q: Vec3): number => {
    const [x, y, z] = [p[0] - q[0], p[1] - q[1], p[2] - q[2]];
    return x * x + y * y + z * z;
  };
  const atLeast = (p: Vec3): number => {
    let bound = Number.POSITIVE_INFINITY;
    for (const chunk of chunks) bound = Math.min(bound, Math.sqrt(squared(p, chunk.centre)) - chunk.reach);
    return bound - step;
  };
  const search = (p: Vec3): Closest => {
    let best = 0;
    let bestSquared = Number.POSITIVE_INFINITY;
    for (const chunk of chunks) {
      const gap = Math.sqrt(squared(p, chunk.centre)) - chunk.reach;
      if (gap > 0 && gap * gap >= bestSquared) continue;
      for (let i = chunk.first; i <= chunk.last; i++) {
        const d = squared(p, points[i]);
        if (d < bestSquared) {
          bestSquared = d;
          best = i;
        }
      }
    }
    const along = dot(subtract(p, points[best]), tangents[best]);
    const i = Math.min(count - 1, Math.max(0, along >= 0 ? best : best - 1));
    const [a, b, ta, tb] = [points[i], points[i + 1], tangents[i], tangents[i + 1]];
    let x = Math.min(1, Math.max(0, i === best ? along / step : 1 + along / step));
    const q: Vec3 = [0, 0, 0];
    for (let round = 0; ; round++) {
      const x2 = x * x;
      const x3 = x2 * x;
      let first = 0;
      let second = 0;
      for (let k = 0; k < 3; k++) {
        const ma = ta[k] * step;
        const mb = tb[k] * step;
        q[k] =
          (2 * x3 - 3 * x2 + 1) * a[k] + (x3 - 2 * x2 + x) * ma + (3 * x2 - 2 * x3) * b[k] + (x3 - x2) * mb;
        const d1 = (6 * x2 - 6 * x) * (a[k] - b[k]) + (3 * x2 - 4 * x + 1) * ma + (3 * x2 - 2 * x) * mb;
        const d2 = (12 * x - 6) * (a[k] - b[k]) + (6 * x - 4) * ma + (6 * x - 2) * mb;
        first += (q[k] - p[k]) * d1;
        second += d1 * d1 + (q[k] - p[k]) * d2;
      }
      if (round === 6 || second <= 0) break;
      const moved = Math.min(1, Math.max(0, x - first / second));
      if (Math.abs(moved - x) < 1e-9) break;
      x = moved;
    }
    return { s: fromMm + (i + x) * step, distanceMm: Math.sqrt(squared(p, q)) };
  };
  return Object.assign(search, { atLeast });
}

/**
 * Round tube about a curve: distance to the curve minus the radius at the closest point, so that the section perpendicular to
 * the curve at `s` is exactly a circle of diameter `calibreAt(s)`. Cut flat at s = 0; the near end goes on straight for
 * `beyondMm` and ends in a hemisphere. `past` is the same tube that goes on straight past its rim, at most one calibre and 1 mm.
 */
export function tubeBody(
  curve: Curve,
  calibreAt: (s: number) => number,
  beyondMm: number,
): Body & { rim: Rim; past(mm: number): Body } {
  const startRadius = calibreAt(0) / 2;
  const overlap = 2 * startRadius + 2;
  const closest = closestOnCurve(curve, -overlap, curve.lengthMm + beyondMm);
  const rim: Rim = { centre: curve.pointAt(0), inwards: curve.tangentAt(0), radiusMm: startRadius };
  let widestMm = 0;
  for (let s = 0; s <= curve.lengthMm; s += 0.25) widestMm = Math.max(widestMm, calibreAt(s));
  const past = (mm: number): Body => ({
    atLeast: (p) => closest.atLeast(p) - widestMm / 2 - 0.05,
    value: (p) => {
      const { s, distanceMm } = closest(p);
      const side = distanceMm - calibreAt(Math.min(Math.max(s, 0), curve.lengthMm)) / 2;
      if (s > overlap) return side;
      return Math.max(side, -mm - dot(subtract(p, rim.centre), rim.inwards));
    },
  });
  return { rim, past, ...past(0) };
}

/** A flat wall across a sac, with one round opening in it; mm. */
export interface Septum {
  /** Middle of the opening, half way through the wall. */
  openingMm: Vec3;
  openingRadiusMm: number;
  /** Across the wall. */
  normal: Vec3;
  thicknessMm: number;
}

/** Negative inside the wall, zero on its faces and on the edge of its opening, mm. */
function septumField({ openingMm, openingRadiusMm, normal, thicknessMm }: Septum): (p: Vec3) => number {
  const n = normalize(normal);
  return (p) => {
    const offset = subtract(p, openingMm);
    const height = dot(offset, n);
    const across = Math.sqrt(Math.max(0, dot(offset, offset) - height * height));
    return Math.max(Math.abs(height) - thicknessMm / 2, openingRadiusMm - across);
  };
}

/** The sac as a body, less its septa. */
export function sacBody(shape: SacShape, septa: readonly Septum[] = []): Body {
  const outer = sacField(shape);
  const walls = septa.map(septumField);
  const value = (p: Vec3): number => walls.reduce((most, wall) => Math.max(most, -wall(p)), outer(p));
  return { value, atLeast: outer };
}

/**
 * Union of bodies. With `blendMm` k > 0 the crease is rounded: min(a, b) - max(k - |a - b|, 0)^2 / (4 k), which changes nothing
 * where one body is more than k farther away than the other (polynomial smooth minimum, common practice, no source).
 */
export function unionOf(bodies: readonly Body[], blendMm: number): (p: Vec3) => number {
  return (p) => {
    let value = Number.POSITIVE_INFINITY;
    for (const body of bodies) {
      if (body.atLeast(p) > value + blendMm) continue;
      const other = body.value(p);
      const rounding = blendMm > 0 ? Math.max(blendMm - Math.abs(value - other), 0) : 0;
      value = Math.min(value, other) - (rounding > 0 ? (rounding * rounding) / (4 * blendMm) : 0);
    }
    return value;
  };
}
