import { dot, scale, subtract, type Vec3 } from '../../foundation/vector.js';
import type { Surface } from '../surface.js';

/** Centre and radius of a ball that touches the wall from within. */
export interface InnerBall {
  centre: Vec3;
  radiusMm: number;
}

/** Wall places from which a ball is tried. */
const TRIED = 400;

/** A ball must be larger than the best so far by this factor, or it is not worth the search (slow in the middle of a sphere). */
const WIDER = 1.01;

/**
 * The widest place of a lumen: the largest of the maximal balls that touch the wall at some hundred places.
 * Each ball is shrunk until nothing lies within it (the shrinking-ball construction of the medial axis: Ma,
 * Bae and Choi, Vis Comput 2012;28:7, from memory).
 */
export function widestPlace(surface: Surface): InnerBall | undefined {
  const stride = Math.max(1, Math.floor(surface.triangleCount / TRIED));
  let best: InnerBall | undefined;
  for (let t = 0; t < surface.triangleCount; t += stride) {
    if (surface.isCap[t]) continue;
    best = touchingBall(surface, t, WIDER * (best?.radiusMm ?? 0)) ?? best;
  }
  return best;
}

/** The maximal ball at a triangle; undefined where it is no larger than `leastMm`, which is known before it has been shrunk. */
function touchingBall(surface: Surface, triangle: number, leastMm: number): InnerBall | undefined {
  const inward = scale(surface.normal(triangle), -1);
  const [a, b, c] = [0, 1, 2].map((k) => surface.vertex(surface.triangles[3 * triangle + k]));
  const p: Vec3 = [0, 1, 2].map((k) => (a[k] + b[k] + c[k]) / 3) as Vec3;
  const start: Vec3 = [0, 1, 2].map((k) => p[k] + inward[k] * 1e-4) as Vec3;
  const across = surface.raycast(start, inward);
  if (!across) return undefined;
  let radius = across.distance / 2;
  for (let step = 0; step < 12 && radius > leastMm; step++) {
    const centre: Vec3 = [0, 1, 2].map((k) => p[k] + inward[k] * radius) as Vec3;
    const near = surface.closest(centre, radius * 0.999);
    if (!near) return { centre, radiusMm: radius };
    const chord = subtract(near.point, p);
    const along = dot(chord, inward);
    if (along <= 1e-6) return undefined;
    radius = dot(chord, chord) / (2 * along);
  }
  return undefined;
}
