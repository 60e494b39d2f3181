import {
  add,
  cross,
  dot,
  length,
  normalize,
  perpendicular,
  scale,
  subtract,
  type Vec3,
} from '../foundation/vector.js';
import { integrate } from './quadrature.js';

/** A space curve by arc length, mm. Outside [0, lengthMm] it continues straight along its end tangents. */
export interface Curve {
  lengthMm: number;
  /** Point at arc length `s`, mm. */
  pointAt(s: number): Vec3;
  /** Unit direction of increasing `s`. */
  tangentAt(s: number): Vec3;
}

function extended(lengthMm: number, point: (s: number) => Vec3, tangent: (s: number) => Vec3): Curve {
  const clamp = (s: number): number => Math.min(Math.max(s, 0), lengthMm);
  return {
    lengthMm,
    pointAt: (s) => {
      const inside = clamp(s);
      const p = point(inside);
      return s === inside ? p : add(p, scale(tangent(inside), s - inside));
    },
    tangentAt: (s) => tangent(clamp(s)),
  };
}

/** Straight line from `from` to `to`, mm. */
export function lineCurve(from: Vec3, to: Vec3): Curve {
  const direction = normalize(subtract(to, from));
  return extended(
    length(subtract(to, from)),
    (s) => add(from, scale(direction, s)),
    () => direction,
  );
}

/**
 * Circular arc of radius `bendRadiusMm` that starts at `from` in direction `direction` and turns towards `towards`
 * (any vector not parallel to `direction`) by `angle` radians. Length = bendRadiusMm · angle.
 */
export function arcCurve(
  from: Vec3,
  direction: Vec3,
  towards: Vec3,
  bendRadiusMm: number,
  angle: number,
): Curve {
  const t = normalize(direction);
  const n = normalize(subtract(towards, scale(t, dot(towards, t))));
  const centre = add(from, scale(n, bendRadiusMm));
  return extended(
    bendRadiusMm * angle,
    (s) => {
      const a = s / bendRadiusMm;
      return add(centre, add(scale(n, -bendRadiusMm * Math.cos(a)), scale(t, bendRadiusMm * Math.sin(a))));
    },
    (s) => {
      const a = s / bendRadiusMm;
      return add(scale(t, Math.cos(a)), scale(n, Math.sin(a)));
    },
  );
}

/**
 * Helix about the line through `centre` along `axis`; radius and pitch in mm.
 * Length = turns · sqrt((2 pi radius)^2 + pitch^2).
 */
export function helixCurve(
  centre: Vec3,
  axis: Vec3,
  radiusMm: number,
  pitchMm: number,
  turns: number,
): Curve {
  const w = normalize(axis);
  const u = perpendicular(w);
  const v = cross(w, u);
  const perTurn = Math.sqrt((2 * Math.PI * radiusMm) ** 2 + pitchMm ** 2);
  const k = (2 * Math.PI) / perTurn;
  const rise = pitchMm / perTurn;
  return extended(
    perTurn * turns,
    (s) =>
      add(
        add(centre, scale(w, rise * s)),
        add(scale(u, radiusMm * Math.cos(k * s)), scale(v, radiusMm * Math.sin(k * s))),
      ),
    (s) =>
      add(
        scale(w, rise),
        add(scale(u, -radiusMm * k * Math.sin(k * s)), scale(v, radiusMm * k * Math.cos(k * s))),
      ),
  );
}

/** Second derivatives of the natural cubic spline through (knots, values). */
function naturalSpline(knots: number[], values: number[]): number[] {
  const n = knots.length;
  const second = new Array<number>(n).fill(0);
  const work = new Array<number>(n).fill(0);
  for (let i = 1; i < n - 1; i++) {
    const left = knots[i] - knots[i - 1];
    const right = knots[i + 1] - knots[i];
    const ratio = left / (left + right);
    const pivot = ratio * second[i - 1] + 2;
    second[i] = (ratio - 1) / pivot;
    const bend = (values[i + 1] - values[i]) / right - (values[i] - values[i - 1]) / left;
    work[i] = ((6 * bend) / (left + right) - ratio * work[i - 1]) / pivot;
  }
  second[n - 1] = 0;
  for (let i = n - 2; i >= 0; i--) second[i] = second[i] * second[i + 1] + work[i];
  return second;
}

const PIECES_PER_SPAN = 16;

/**
 * Natural cubic spline through at least two points (mm), by chord length, reparametrised by arc length.
 * Arc length is integrated with Gauss-Legendre panels and inverted by Newton steps (error below 1e-9 mm).
 */
export function splineCurve(points: readonly Vec3[]): Curve {
  if (points.length < 2) throw new RangeError('a spline needs at least two points');
  if (points.length === 2) return lineCurve(points[0], points[1]);
  const knots = [0];
  for (let i = 1; i < points.length; i++) {
    knots.push(knots[i - 1] + length(subtract(points[i], points[i - 1])));
  }
  const axes = [0, 1, 2].map((axis) => {
    const values = points.map((p) => p[axis]);
    return { values, second: naturalSpline(knots, values) };
  });
  const spanOf = (t: number): number => {
    let span = 0;
    while (span < knots.length - 2 && t > knots[span + 1]) span++;
    return span;
  };
  const position = (t: number): Vec3 => {
    const i = spanOf(t);
    const h = knots[i + 1] - knots[i];
    const a = (knots[i + 1] - t) / h;
    const b = 1 - a;
    const at = ({ values, second }: (typeof axes)[number]): number =>
      a * values[i] +
      b * values[i + 1] +
      (((a * a * a - a) * second[i] + (b * b * b - b) * second[i + 1]) * h * h) / 6;
    return [at(axes[0]), at(axes[1]), at(axes[2])];
  };
  const velocity = (t: number): Vec3 => {
    const i = spanOf(t);
    const h = knots[i + 1] - knots[i];
    const a = (knots[i + 1] - t) / h;
    const b = 1 - a;
    const at = ({ values, second }: (typeof axes)[number]): number =>
      (values[i + 1] - values[i]) / h +
      ((-(3 * a * a - 1) * second[i] + (3 * b * b - 1) * second[i + 1]) * h) / 6;
    return [at(axes[0]), at(axes[1]), at(axes[2])];
  };
  const speed = (t: number): number => length(velocity(t));
  const tableT = [0];
  const tableS = [0];
  for (let i = 0; i + 1 < knots.length; i++) {
    for (let p = 1; p <= PIECES_PER_SPAN; p++) {
      const t = knots[i] + ((knots[i + 1] - knots[i]) * p) / PIECES_PER_SPAN;
      tableS.push(tableS[tableS.length - 1] + integrate(speed, tableT[tableT.length - 1], t, 1));
      tableT.push(t);
    }
  }
  const parameterAt = (s: number): number => {
    let low = 0;
    let high = tableS.length - 1;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (tableS[middle] <= s) low = middle;
      else high = middle;
    }
    const share = (s - tableS[low]) / (tableS[high] - tableS[low]);
    let t = tableT[low] + share * (tableT[high] - tableT[low]);
    for (let step = 0; step < 4; step++) {
      const wrong = tableS[low] + integrate(speed, tableT[low], t, 1) - s;
      if (Math.abs(wrong) < 1e-12) break;
      t -= wrong / speed(t);
    }
    return t;
  };
  return extended(
    tableS[tableS.length - 1],
    (s) => position(parameterAt(s)),
    (s) => normalize(velocity(parameterAt(s))),
  );
}

/** A moving frame; `u`, `v` span the section plane, `u × v` is the tangent. */
export interface Frame {
  s: number;
  point: Vec3;
  tangent: Vec3;
  u: Vec3;
  v: Vec3;
}

/**
 * Rotation-minimising frames at the given arc lengths, by double reflection.
 * Source: Wang, Jüttler, Zheng and Liu, ACM Transactions on Graphics 2008;27(1):2 (from memory).
 */
export function rotationMinimisingFrames(curve: Curve, stations: readonly number[]): Frame[] {
  const frames: Frame[] = [];
  for (const s of stations) {
    const point = curve.pointAt(s);
    const tangent = curve.tangentAt(s);
    const before = frames[frames.length - 1];
    let u = perpendicular(tangent);
    if (before) {
      const step = subtract(point, before.point);
      const c1 = dot(step, step);
      const reflectedU = subtract(before.u, scale(step, (2 / c1) * dot(step, before.u)));
      const reflectedT = subtract(before.tangent, scale(step, (2 / c1) * dot(step, before.tangent)));
      const turn = subtract(tangent, reflectedT);
      const c2 = dot(turn, turn);
      u = c2 > 1e-24 ? subtract(reflectedU, scale(turn, (2 / c2) * dot(turn, reflectedU))) : reflectedU;
      u = normalize(subtract(u, scale(tangent, dot(u, tangent))));
    }
    frames.push({ s, point, tangent, u, v: cross(tangent, u) });
  }
  return frames;
}
