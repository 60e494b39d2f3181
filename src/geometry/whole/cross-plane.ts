import {
  add,
  cross,
  dot,
  normalize,
  onSpiral,
  perpendicular,
  scale,
  type Vec3,
} from '../../foundation/vector.js';
import { type Section, sectionAt } from '../section.js';
import type { Surface } from '../surface.js';

/** Number of directions tried first, spread evenly over a half sphere; steps for refining the best, radians. */
const DIRECTIONS = 60;
const TURNS = [0.24, 0.12, 0.06, 0.03, 0.015] as const;
/** How often the place is moved to the centroid of its section. */
const MOVES = 3;

/** The plane across a vessel at a place. */
export interface CrossPlane {
  /** Centroid of the section. */
  point: Vec3;
  /** Along the vessel, in either sense. */
  normal: Vec3;
  section: Section;
}

/**
 * The plane with the smallest section through a place inside a vessel, which is across the vessel. The place is first moved to the
 * centroid of that section. Undefined if no plane through it cuts a closed outline.
 */
export function planeAcross(surface: Surface, place: Vec3): CrossPlane | undefined {
  let point = place;
  let best: CrossPlane | undefined;
  for (let move = 0; move < MOVES; move++) {
    const found = smallest(surface, point);
    if (!found) return best;
    best = found;
    point = found.section.centre;
  }
  if (!best) return undefined;
  const section = sectionAt(surface, point, best.normal);
  return section ? { point, normal: best.normal, section } : best;
}

function smallest(surface: Surface, point: Vec3): CrossPlane | undefined {
  let best: CrossPlane | undefined;
  const consider = (normal: Vec3): void => {
    const section = sectionAt(surface, point, normal);
    if (section && section.areaMm2 < (best?.section.areaMm2 ?? Number.POSITIVE_INFINITY))
      best = { point, normal, section };
  };
  for (const normal of halfSphere(DIRECTIONS)) consider(normal);
  for (const turn of TURNS) {
    const start = best?.normal;
    if (!start) return undefined;
    const u = perpendicular(start);
    const v = cross(start, u);
    for (let k = 0; k < 8; k++) {
      const aside = add(scale(u, Math.cos((k * Math.PI) / 4)), scale(v, Math.sin((k * Math.PI) / 4)));
      consider(normalize(add(start, scale(aside, turn))));
    }
  }
  return best;
}

/** Unit vectors spread evenly over half a sphere. */
function halfSphere(count: number): Vec3[] {
  return Array.from({ length: count }, (_, i) => onSpiral(i, (i + 0.5) / count));
}

/** Signed distance of a place from the plane, mm. */
export const sideOf = ({ point, normal }: Pick<CrossPlane, 'point' | 'normal'>, place: Vec3): number =>
  dot(place, normal) - dot(point, normal);
