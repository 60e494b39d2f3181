import FlatQueue from 'flatqueue';
import { dot, scale, subtract, type Vec3 } from '../../foundation/vector.js';
import type { Surface } from '../surface.js';

/** Centre and radius of a ball that touches the wall from inside. */
export interface InnerBall {
  centre: Vec3;
  radiusMm: number;
  /** Upper bound on the largest ball; present if the search was abandoned before the largest was certain. */
  atMostMm?: number;
}

/** Number of wall places from which a ball is tried first: a good initial ball leaves little to search. */
const TRIED = 100;

/** The ball found is the largest to within this fraction of its radius. */
const WITHIN = 0.01;

/** Limit on the places tested, so that no surface can be searched endlessly. Vessel trees of real lungs need about 6000. */
const MOST_ASKED = 60_000;

/**
 * The widest place of a lumen: the largest ball inside, to one part in a hundred.
 *
 * The distance to the wall changes no faster than the place moves, so a cube whose centre is `d` from the wall contains no ball larger
 * than `d` plus half its diagonal. Cubes are subdivided, the most promising first, until none can contain a ball that is larger by more
 * than that fraction (branch and bound; Lipschitz bound). Maximal balls at some places of the
 * wall are tried first (shrinking balls: Ma, Bae and Choi, Vis Comput 2012;28:7, from memory). On an open surface, which has no inside,
 * only these are used.
 */
export function widestPlace(surface: Surface): InnerBall | undefined {
  const stride = Math.max(1, Math.floor(surface.triangleCount / TRIED));
  let best: InnerBall | undefined;
  for (let t = 0; t < surface.triangleCount; t += stride) {
    if (surface.isCap[t]) continue;
    best = touchingBall(surface, t, (1 + WITHIN) * (best?.radiusMm ?? 0)) ?? best;
  }
  return surface.isClosed ? largest(surface, best) : best;
}

/** Subdivides cubes around the surface until the largest ball is known. */
function largest(surface: Surface, start: InnerBall | undefined): InnerBall | undefined {
  let best = start;
  const goal = (): number => (1 + WITHIN) * (best?.radiusMm ?? 0);
  const cubes: { centre: Vec3; half: number }[] = [];
  const queue = new FlatQueue<number>();
  let asked = 0;
  const consider = (centre: Vec3, half: number): void => {
    asked++;
    const reach = half * Math.sqrt(3);
    const distance = surface.closest(centre)!.distance;
    if (distance + reach <= goal()) return;
    const isInside = surface.isInside(centre);
    if (isInside && distance > (best?.radiusMm ?? 0)) best = { centre, radiusMm: distance };
    const bound = (isInside ? distance : -distance) + reach;
    if (bound > goal()) queue.push(cubes.push({ centre, half }) - 1, -bound);
  };
  const { centre, half } = surface.cube();
  consider(centre, half);
  while (queue.length > 0) {
    const bound = -queue.peekValue()!;
    const { centre: middle, half: whole } = cubes[queue.pop()!];
    if (bound <= goal()) break;
    if (asked >= MOST_ASKED) return best && { ...best, atMostMm: bound };
    const part = whole / 2;
    for (let k = 0; k < 8; k++)
      consider(
        [
          middle[0] + (k & 1 ? part : -part),
          middle[1] + (k & 2 ? part : -part),
          middle[2] + (k & 4 ? part : -part),
        ],
        part,
      );
  }
  return best;
}

/** The maximal ball at a triangle. Undefined if it is not larger than `leastMm`, which is known before the ball is shrunk. */
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
