import { dot, normalize, subtract, type Vec3 } from '../foundation/vector.js';
import type { Curve } from './curve.js';
import { type SacShape, sacField } from './sac.js';

/** A body as an implicit function: negative inside, zero on the surface, approximately a distance in mm near it. */
export interface Body {
  value(p: Vec3): number;
  /** A cheap test that is true only if `value` is more than `mm`, but not always then. */
  isBeyond(p: Vec3, mm: number): boolean;
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

/** Finds the closest point; `isBeyond` is cheap and true only if that point is more than `mm` away. */
export interface CurveSearch {
  (p: Vec3): Closest;
  isBeyond(p: Vec3, mm: number): boolean;
}

const TABLE_STEP_MM = 0.25;
const CHUNK = 24;
/** A query within this distance of an earlier one may reuse its result. */
const ANCHOR_MM = 0.3;

function isWithin(p: Vec3, anchor: Vec3 | undefined): boolean {
  if (!anchor) return false;
  const [x, y, z] = [p[0] - anchor[0], p[1] - anchor[1], p[2] - anchor[2]];
  return x * x + y * y + z * z <= ANCHOR_MM * ANCHOR_MM;
}

/**
 * Closest-point search on a curve between two arc lengths (which may lie on its straight extensions).
 * The curve is tabulated every 0.25 mm with its tangents; between two entries the cubic Hermite segment is used (error below
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
  const table = Float64Array.from(points.flat());
  const squared = (p: Vec3, i: number): number => {
    const x = p[0] - table[3 * i];
    const y = p[1] - table[3 * i + 1];
    const z = p[2] - table[3 * i + 2];
    return x * x + y * y + z * z;
  };
  const chunkCount = Math.ceil((count + 1) / CHUNK);
  const lastOf = (chunk: number): number => Math.min(count, chunk * CHUNK + CHUNK - 1);
  const middles = Int32Array.from({ length: chunkCount }, (_, chunk) => (chunk * CHUNK + lastOf(chunk)) >> 1);
  const reaches = new Float64Array(chunkCount);
  for (let chunk = 0; chunk < chunkCount; chunk++) {
    const middle = points[middles[chunk]];
    for (let i = chunk * CHUNK; i <= lastOf(chunk); i++) {
      reaches[chunk] = Math.max(reaches[chunk], Math.sqrt(squared(middle, i)));
    }
  }
  const isBeyond = (p: Vec3, mm: number): boolean => {
    for (let chunk = 0; chunk < chunkCount; chunk++) {
      const bound = mm + step + reaches[chunk];
      if (bound >= 0 && squared(p, middles[chunk]) <= bound * bound) return false;
    }
    return true;
  };
  // most queries are close to the previous one, so the relevant chunks of a point also serve its neighbours
  let anchor: Vec3 | undefined;
  const near = new Int32Array(chunkCount);
  let nearCount = 0;
  const gapTo = (p: Vec3, chunk: number): number => Math.sqrt(squared(p, middles[chunk])) - reaches[chunk];
  const drop = (p: Vec3): void => {
    anchor = [...p];
    let closest = Number.POSITIVE_INFINITY;
    for (let i = 0; i <= count; i++) closest = Math.min(closest, squared(p, i));
    const most = Math.sqrt(closest) + 2 * ANCHOR_MM;
    nearCount = 0;
    for (let chunk = 0; chunk < chunkCount; chunk++) if (gapTo(p, chunk) <= most) near[nearCount++] = chunk;
  };
  const search = (p: Vec3): Closest => {
    if (!isWithin(p, anchor)) drop(p);
    let best = 0;
    let bestSquared = Number.POSITIVE_INFINITY;
    for (let k = 0; k < nearCount; k++) {
      const gap = nearCount > 1 ? gapTo(p, near[k]) : 0;
      if (gap > 0 && gap * gap >= bestSquared) continue;
      const last = lastOf(near[k]);
      for (let i = near[k] * CHUNK; i <= last; i++) {
        const d = squared(p, i);
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
    const [dx, dy, dz] = [p[0] - q[0], p[1] - q[1], p[2] - q[2]];
    return { s: fromMm + (i + x) * step, distanceMm: Math.sqrt(dx * dx + dy * dy + dz * dz) };
  };
  return Object.assign(search, { isBeyond });
}

/**
 * Round tube around a curve: distance to the curve minus the radius at the closest point, so that the section perpendicular to the curve at
 * `s` is exactly a circle of diameter `calibreAt(s)`. Cut flat at s = 0; the near end continues straight for `beyondMm` and ends in a
 * hemisphere. `past` is the same tube extended straight past its rim, at most one calibre and 1 mm.
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
    isBeyond: (p, mm) => closest.isBeyond(p, mm + widestMm / 2 + 0.05),
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

/** The sac as a body, without its septa. */
export function sacBody(shape: SacShape, septa: readonly Septum[] = []): Body {
  const outer = sacField(shape);
  const walls = septa.map(septumField);
  const value = (p: Vec3): number => walls.reduce((most, wall) => Math.max(most, -wall(p)), outer(p));
  return { value, isBeyond: (p, mm) => outer(p) > mm };
}

/**
 * Union of bodies. With `blendMm` k > 0 the crease is rounded: min(a, b) - max(k - |a - b|, 0)^2 / (4 k), which changes nothing
 * where one body is more than k farther away than the other (polynomial smooth minimum, common practice, no source).
 */
export function unionOf(bodies: readonly Body[], blendMm: number): (p: Vec3) => number {
  let anchor: Vec3 | undefined;
  let near: readonly Body[] = bodies;
  const unionAt = (p: Vec3, among: readonly Body[]): number => {
    let value = Number.POSITIVE_INFINITY;
    for (const body of among) {
      if (body.isBeyond(p, value + blendMm)) continue;
      const other = body.value(p);
      const rounding = blendMm > 0 ? Math.max(blendMm - Math.abs(value - other), 0) : 0;
      value = Math.min(value, other) - (rounding > 0 ? (rounding * rounding) / (4 * blendMm) : 0);
    }
    return value;
  };
  return (p) => {
    if (isWithin(p, anchor)) return unionAt(p, near);
    const value = unionAt(p, bodies);
    anchor = [...p];
    // no field here rises by more than 3 mm per mm, so an omitted body changes nothing within reach of the anchor
    near = bodies.filter((body) => !body.isBeyond(p, value + blendMm + 4 * ANCHOR_MM));
    return value;
  };
}
