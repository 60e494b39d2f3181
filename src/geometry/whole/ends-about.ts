import { distance, dot, scale, subtract, type Vec3 } from '../../foundation/vector.js';
import { walkLevel } from '../level-walk.js';
import type { Surface } from '../surface.js';
import { boundingPoints } from './between-points.js';
import { planeAcross } from './cross-plane.js';
import type { FarEnd } from './ends-of.js';

/** Thinner vessels are folds of the wall. */
const LEAST_CALIBRE_MM = 0.5;

/** A place around which vessels are searched for, local coordinates, mm. */
export interface About {
  at: Vec3;
  reachMm: number;
}

/**
 * Proposed cuts of the vessels around a place in the lumen: each that leaves the ball of `reachMm` around it, in the part of the lumen
 * connected to the place inside the ball, and those of `ends` in that part. The widest first; the caller assigns letters. Undefined if
 * the place is not in the lumen.
 */
export function endsAbout(
  surface: Surface,
  { at, reachMm }: About,
  ends: readonly FarEnd[],
): Omit<FarEnd, 'letter' | 'vertex'>[] | undefined {
  if (!surface.isInside(at)) return undefined;
  const beyond = (v: number): number => distance(surface.vertex(v), at) - reachMm;
  const { inside, crossed } = partWithin(surface, surface.closest(at)!.triangle, beyond);
  const walked = new Set<number>();
  const cuts = crossed.flatMap((t): Omit<FarEnd, 'letter' | 'vertex'>[] => {
    if (walked.has(t)) return [];
    const loop = walkLevel(surface, beyond, t);
    for (const one of loop?.triangles ?? [t]) walked.add(one);
    const plane = loop && planeAcross(surface, middleOf(loop.points));
    if (!plane || plane.section.equivalentMm < LEAST_CALIBRE_MM) return [];
    const { section, normal } = plane;
    const out = dot(normal, subtract(section.centre, at)) < 0 ? scale(normal, -1) : normal;
    return [
      {
        at: asWritten(surface, section.centre),
        calibreMm: section.equivalentMm,
        direction: out,
        kind: 'cut',
      },
    ];
  });
  const within = ends.filter((end) => inside[surface.closest(end.at)!.triangle] === 1);
  const all = [...cuts, ...within].sort((a, b) => b.calibreMm - a.calibreMm);
  // a cut across a wide vessel may be before a side branch that leaves the ball next to it
  const bounding = boundingPoints(
    surface,
    all.map((end) => end.at),
    at,
  );
  return bounding.map((i) => all[i]);
}

/** A place rounded to 0.01 mm, as written in a case file, so that the later cut is exactly at the place examined here. */
const asWritten = (surface: Surface, place: Vec3): Vec3 =>
  subtract(surface.toFile(place).map((x) => Math.round(100 * x) / 100) as Vec3, surface.originMm);

/** The triangles reached from one without leaving the ball: 1 in `inside`, those crossed by its rim in `crossed`. */
function partWithin(
  surface: Surface,
  seed: number,
  beyond: (v: number) => number,
): { inside: Uint8Array; crossed: number[] } {
  const inside = new Uint8Array(surface.triangleCount);
  const crossed: number[] = [];
  const waiting = [seed];
  inside[seed] = 1;
  for (let t = waiting.pop(); t !== undefined; t = waiting.pop()) {
    const within = [0, 1, 2].map((k) => beyond(surface.triangles[3 * t + k]) < 0);
    if (within.includes(false) && within.includes(true)) crossed.push(t);
    for (let k = 0; k < 3; k++) {
      const twin = surface.twin[3 * t + k];
      // the path leaves the ball over an edge outside it
      if (twin < 0 || !(within[k] || within[(k + 1) % 3])) continue;
      const next = (twin / 3) | 0;
      if (inside[next]) continue;
      inside[next] = 1;
      waiting.push(next);
    }
  }
  return { inside, crossed: crossed.sort((a, b) => a - b) };
}

/** The length-weighted centroid of a closed line. */
function middleOf(points: Float64Array): Vec3 {
  const n = points.length / 3;
  const at = (i: number): Vec3 => [points[3 * i], points[3 * i + 1], points[3 * i + 2]];
  const sum: Vec3 = [0, 0, 0];
  let whole = 0;
  for (let i = 0; i < n; i++) {
    const [a, b] = [at(i), at((i + 1) % n)];
    const weight = distance(a, b);
    whole += weight;
    for (let k = 0; k < 3; k++) sum[k] += (weight * (a[k] + b[k])) / 2;
  }
  return whole > 0 ? scale(sum, 1 / whole) : at(0);
}
