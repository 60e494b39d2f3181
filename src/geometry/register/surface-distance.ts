import { dot, subtract, type Vec3 } from '../../foundation/vector.js';
import { boundingBox } from '../../mesh/measures.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { Surface } from '../surface.js';

/** Distances from points of one surface to another surface. Positive: the second surface is outside the first. */
export interface DistanceStatistics {
  /** Number of points. */
  points: number;
  /** Mean absolute distance, mm. */
  meanMm: number;
  /** Root mean square, mm. */
  rmsMm: number;
  /** Distance below which 95 % of the surface is, mm. */
  p95Mm: number;
  /** Largest distance of any sampled point (one-way Hausdorff distance), mm; at most the true one. */
  largestMm: number;
  /** Signed mean, mm. */
  biasMm: number;
}

/**
 * Distance of a point to a surface, mm, in the surface's local coordinates; positive outside. For a surface that is not closed, the side
 * of the nearest triangle decides.
 */
export function signedDistanceTo(surface: Surface, point: Vec3): number {
  const hit = surface.closest(point);
  if (!hit) return Number.NaN;
  if (surface.isClosed)
    return surface.mayHold(point) && surface.isInside(point) ? -hit.distance : hit.distance;
  return dot(subtract(point, hit.point), surface.normal(hit.triangle)) < 0 ? -hit.distance : hit.distance;
}

/** Statistics of signed distances that each represent the same area; `largestMm` also includes `others`. */
export function distanceStatistics(
  signed: ArrayLike<number>,
  others: ArrayLike<number> = [],
): DistanceStatistics {
  const points = signed.length;
  const sizes = Float64Array.from(signed, Math.abs).sort();
  let [sum, squares, bias] = [0, 0, 0];
  for (let i = 0; i < points; i++) {
    sum += sizes[i];
    squares += sizes[i] * sizes[i];
    bias += signed[i];
  }
  let largestMm = sizes[points - 1];
  for (let i = 0; i < others.length; i++) largestMm = Math.max(largestMm, Math.abs(others[i]));
  return {
    points,
    meanMm: sum / points,
    rmsMm: Math.sqrt(squares / points),
    p95Mm: sizes[Math.min(points - 1, Math.ceil(0.95 * points) - 1)],
    largestMm,
    biasMm: bias / points,
  };
}

/** Signed distance of every vertex of a mesh to another mesh, mm; positive outside it. Both in the same coordinates. */
export function vertexDistances(mesh: TriangleMesh, to: TriangleMesh): Float64Array {
  const { centre } = boundingBox(to);
  const surface = new Surface(to, centre);
  const signed = new Float64Array(mesh.positions.length / 3);
  for (let v = 0; v < signed.length; v++) {
    const p = 3 * v;
    const at = subtract([mesh.positions[p], mesh.positions[p + 1], mesh.positions[p + 2]], centre);
    signed[v] = signedDistanceTo(surface, at);
  }
  return signed;
}
