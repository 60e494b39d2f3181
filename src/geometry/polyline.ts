import { cube } from '../foundation/power.js';
import { distance, lerp, normalize, subtract, type Vec3 } from '../foundation/vector.js';

/** A line through points with its arc length; `at` values are mm from its start. */
export class Polyline {
  readonly points: readonly Vec3[];
  /** Arc length at each point. */
  readonly at: Float64Array;

  constructor(points: readonly Vec3[]) {
    this.points = points;
    this.at = new Float64Array(points.length);
    for (let i = 1; i < points.length; i++) this.at[i] = this.at[i - 1] + distance(points[i - 1], points[i]);
  }

  get lengthMm(): number {
    return this.at[this.at.length - 1] ?? 0;
  }

  pointAt(at: number): Vec3 {
    const i = this.segmentAt(at);
    const span = this.at[i + 1] - this.at[i];
    return lerp(this.points[i], this.points[i + 1], span > 0 ? (at - this.at[i]) / span : 0);
  }

  /** Unit direction at `at`, from a quadratic fitted to the points within `halfWindowMm`. */
  directionAt(at: number, halfWindowMm: number): Vec3 {
    return localFit(this, at, halfWindowMm).direction;
  }

  /** Closest place on the line. */
  project(point: Vec3): { at: number; distanceMm: number; point: Vec3 } {
    const [x, y, z] = point;
    let nearest = -1;
    let [at, distanceMm] = [0, Number.POSITIVE_INFINITY];
    let [nearX, nearY, nearZ] = [0, 0, 0];
    for (let i = 0; i + 1 < this.points.length; i++) {
      const a = this.points[i];
      const b = this.points[i + 1];
      const ex = b[0] - a[0];
      const ey = b[1] - a[1];
      const ez = b[2] - a[2];
      const squared = ex * ex + ey * ey + ez * ez;
      const along = (x - a[0]) * ex + (y - a[1]) * ey + (z - a[2]) * ez;
      const t = squared > 0 ? Math.min(1, Math.max(0, along / squared)) : 0;
      const px = a[0] + ex * t;
      const py = a[1] + ey * t;
      const pz = a[2] + ez * t;
      const d = Math.sqrt((px - x) * (px - x) + (py - y) * (py - y) + (pz - z) * (pz - z));
      if (!(d < distanceMm)) continue;
      nearest = i;
      at = this.at[i] + t * Math.sqrt(squared);
      distanceMm = d;
      nearX = px;
      nearY = py;
      nearZ = pz;
    }
    return { at, distanceMm, point: nearest < 0 ? this.points[0] : [nearX, nearY, nearZ] };
  }

  /** The same line with points at equal spacing of at most `stepMm`, both ends kept. */
  resampled(stepMm: number): Polyline {
    const pieces = Math.max(1, Math.ceil(this.lengthMm / stepMm - 1e-9));
    const points: Vec3[] = [];
    for (let i = 0; i <= pieces; i++) points.push(this.pointAt((this.lengthMm * i) / pieces));
    return new Polyline(points);
  }

  /** The part between two places. */
  between(fromMm: number, toMm: number): Polyline {
    const inner = this.points.filter((_, i) => this.at[i] > fromMm + 1e-9 && this.at[i] < toMm - 1e-9);
    return new Polyline([this.pointAt(fromMm), ...inner, this.pointAt(toMm)]);
  }

  private segmentAt(at: number): number {
    let low = 0;
    let high = this.at.length - 2;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (this.at[middle] <= at) low = middle;
      else high = middle - 1;
    }
    return Math.max(0, low);
  }
}

/**
 * Point and direction at `at` from a weighted quadratic through the neighbours (local regression, tricube
 * weights: Cleveland, J Am Stat Assoc 1979;74:829, from memory). A quadratic preserves a bend's radius, which a plain average would
 * reduce.
 */
export function localFit(line: Polyline, at: number, halfWindowMm: number): { point: Vec3; direction: Vec3 } {
  let half = halfWindowMm;
  for (let widen = 0; widen < 6; widen++, half *= 1.6) {
    const fit = tryFit(line, at, half);
    if (fit) return fit;
  }
  const ends = subtract(line.points[line.points.length - 1], line.points[0]);
  return { point: line.pointAt(at), direction: normalize(ends) };
}

function tryFit(line: Polyline, at: number, half: number): { point: Vec3; direction: Vec3 } | undefined {
  let [m0, m1, m2, m3, m4] = [0, 0, 0, 0, 0];
  const r0: Vec3 = [0, 0, 0];
  const r1: Vec3 = [0, 0, 0];
  const r2: Vec3 = [0, 0, 0];
  let used = 0;
  for (let i = firstAtOrAfter(line.at, at - half); i < line.at.length && line.at[i] <= at + half; i++) {
    const x = (line.at[i] - at) / half;
    const w = cube(1 - cube(Math.abs(x)));
    if (w <= 0) continue;
    used++;
    const point = line.points[i];
    const w1 = w * x;
    const w2 = w1 * x;
    const w3 = w2 * x;
    m0 += w;
    m1 += w1;
    m2 += w2;
    m3 += w3;
    m4 += w3 * x;
    for (let c = 0; c < 3; c++) {
      r0[c] += w * point[c];
      r1[c] += w1 * point[c];
      r2[c] += w2 * point[c];
    }
  }
  if (used < 4) return undefined;
  const solved = solveSymmetric3([m0, m1, m2, m3, m4], [r0, r1, r2]);
  if (!solved) return undefined;
  return { point: solved[0], direction: normalize(solved[1]) };
}

/** Solves the 3x3 moment matrix [[m0 m1 m2][m1 m2 m3][m2 m3 m4]] for three right-hand sides by Cramer's rule. */
function solveSymmetric3(m: number[], r: Vec3[]): [Vec3, Vec3] | undefined {
  const [m0, m1, m2, m3, m4] = m;
  const c00 = m2 * m4 - m3 * m3;
  const c01 = m2 * m3 - m1 * m4;
  const c02 = m1 * m3 - m2 * m2;
  const det = m0 * c00 + m1 * c01 + m2 * c02;
  if (!(Math.abs(det) > 1e-12 * m0 * m0 * m0)) return undefined;
  const c11 = m0 * m4 - m2 * m2;
  const c12 = m1 * m2 - m0 * m3;
  const value: Vec3 = [0, 0, 0];
  const slope: Vec3 = [0, 0, 0];
  for (let k = 0; k < 3; k++) {
    value[k] = (c00 * r[0][k] + c01 * r[1][k] + c02 * r[2][k]) / det;
    slope[k] = (c01 * r[0][k] + c11 * r[1][k] + c12 * r[2][k]) / det;
  }
  return [value, slope];
}

function firstAtOrAfter(sorted: Float64Array, value: number): number {
  let low = 0;
  let high = sorted.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (sorted[middle] < value) low = middle + 1;
    else high = middle;
  }
  return low;
}
