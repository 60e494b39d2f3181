import { add, cross, dot, perpendicular, scale, type Vec3 } from '../foundation/vector.js';
import { walkLevel } from './level-walk.js';
import { measureOutline, type OutlineMeasure } from './outline.js';
import type { Surface } from './surface.js';

/** One planar section of a vessel. */
export interface Section extends Omit<OutlineMeasure, 'centroid'> {
  /** Centroid of the lumen, mm. */
  centre: Vec3;
  /** u0 v0 u1 v1 …, mm, in the plane's axes, relative to the point of the plane. */
  outline: Float64Array;
  /** Triangles crossed by the outline, in order. */
  triangles: Uint32Array;
}

/** Number of rays tried for a section: one may hit a fold that does not surround the point. */
const RAYS = 5;

/**
 * Shifts of the plane, mm, tried in turn: if it passes exactly through a ring of vertices, the triangle that a ray hits may only touch
 * it.
 */
const SHIFTS_MM = [0, 1e-6, -1e-6] as const;

const TRIES = RAYS * SHIFTS_MM.length;

/**
 * Cuts the surface with the plane through `point` and measures the closed outline around `point`. Returns undefined if the point is
 * outside, or the outline is open or does not surround the point.
 */
export function sectionAt(surface: Surface, point: Vec3, normal: Vec3): Section | undefined {
  const u = perpendicular(normal);
  const v = cross(normal, u);
  const offset = dot(point, normal);
  const { positions } = surface;
  const [nx, ny, nz] = normal;
  let level = offset;
  const height = (i: number): number =>
    positions[3 * i] * nx + positions[3 * i + 1] * ny + positions[3 * i + 2] * nz - level;
  for (let k = 0; k < TRIES; k++) {
    const angle = (2 * Math.PI * (k + 0.137)) / RAYS;
    level = offset + SHIFTS_MM[Math.floor(k / RAYS)];
    const hit = surface.raycast(point, add(scale(u, Math.cos(angle)), scale(v, Math.sin(angle))));
    if (!hit) return undefined;
    const loop = walkLevel(surface, height, hit.triangle);
    if (!loop) continue;
    const outline = flatten(loop.points, point, u, v);
    if (!windsRoundOrigin(outline)) continue;
    const measure = measureOutline(outline);
    const { centroid } = measure;
    return {
      areaMm2: measure.areaMm2,
      equivalentMm: measure.equivalentMm,
      get minMm() {
        return measure.minMm;
      },
      get maxMm() {
        return measure.maxMm;
      },
      get fullness() {
        return measure.fullness;
      },
      centre: add(point, add(scale(u, centroid[0]), scale(v, centroid[1]))),
      outline,
      triangles: loop.triangles,
    };
  }
  return undefined;
}

/** True if the outline crosses a triangle that closes an open end. */
export function cutsCap(surface: Surface, section: Section): boolean {
  for (const t of section.triangles) if (surface.isCap[t]) return true;
  return false;
}

function flatten(points: Float64Array, point: Vec3, u: Vec3, v: Vec3): Float64Array {
  const outline = new Float64Array((points.length / 3) * 2);
  for (let i = 0; i < points.length / 3; i++) {
    const x = points[3 * i] - point[0];
    const y = points[3 * i + 1] - point[1];
    const z = points[3 * i + 2] - point[2];
    outline[2 * i] = x * u[0] + y * u[1] + z * u[2];
    outline[2 * i + 1] = x * v[0] + y * v[1] + z * v[2];
  }
  return outline;
}

function windsRoundOrigin(outline: Float64Array): boolean {
  let inside = false;
  const n = outline.length / 2;
  for (let i = 0, j = n - 1; i < n; j = i++) {
    const vi = outline[2 * i + 1];
    const vj = outline[2 * j + 1];
    if (vi > 0 !== vj > 0) {
      const crossing = outline[2 * i] + ((outline[2 * j] - outline[2 * i]) * -vi) / (vj - vi);
      if (crossing > 0) inside = !inside;
    }
  }
  return inside;
}
