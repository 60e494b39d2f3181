import { cross, dot, perpendicular, type Vec3 } from '../foundation/vector.js';
import type { BoundaryLoop } from './boundary-loops.js';
import type { TriangleMesh } from './mesh.js';
import { triangulatePolygon } from './triangulate-polygon.js';

/** Largest deviation of an open end from its plane, as a share of its diameter, for it to be closed. Common practice, no source. */
export const CAP_PLANARITY_FRACTION = 0.1;

/** A closed open end and its new triangles. */
export interface Cap {
  /** Index into the given loops. */
  loop: number;
  /** Triangles `from` (included) to `to` (excluded) of the new mesh. */
  from: number;
  to: number;
}

export interface CapResult {
  mesh: TriangleMesh;
  caps: Cap[];
  /** Loops left open, with the reason as the end of a sentence. */
  refused: { loop: number; why: string }[];
}

export interface CapOptions {
  /** Largest distance of a rim vertex from the plane, as a fraction of the loop's equivalent diameter. */
  planarityFraction: number;
}

/**
 * Closes the planar open ends. A loop that is star-shaped about its centre gets a fan around a new vertex there,
 * any other simple loop is ear-clipped without new vertices; every rim edge is used exactly once, so the result is watertight if the
 * loops were the only defect. The new triangles run against the rim, that is, with the orientation of the wall. The triangles and
 * vertices of the input keep their numbers.
 */
export function capPlanarLoops(
  mesh: TriangleMesh,
  loops: readonly BoundaryLoop[],
  options: CapOptions,
): CapResult {
  const points: number[] = [];
  const faces: number[] = [];
  const caps: Cap[] = [];
  const refused: CapResult['refused'] = [];
  const vertexCount = mesh.positions.length / 3;
  const triangleCount = mesh.triangles.length / 3;
  for (const [index, loop] of loops.entries()) {
    const why = reasonAgainst(loop, options.planarityFraction);
    const faceList = why ? undefined : capFaces(mesh, loop, vertexCount + points.length / 3);
    if (!faceList) {
      refused.push({ loop: index, why: why ?? 'its outline crosses itself' });
      continue;
    }
    if (faceList.usesCentre) points.push(...loop.centroid);
    const from = triangleCount + faces.length / 3;
    for (const v of faceList.faces) faces.push(v);
    caps.push({ loop: index, from, to: triangleCount + faces.length / 3 });
  }
  const positions = new Float64Array(mesh.positions.length + points.length);
  positions.set(mesh.positions);
  positions.set(points, mesh.positions.length);
  const triangles = new Uint32Array(mesh.triangles.length + faces.length);
  triangles.set(mesh.triangles);
  triangles.set(faces, mesh.triangles.length);
  return { mesh: { positions, triangles }, caps, refused };
}

function reasonAgainst(loop: BoundaryLoop, planarityFraction: number): string | undefined {
  if (!loop.closed) return 'its rim does not close';
  if (loop.vertices.length < 3 || loop.equivalentDiameterMm === 0) return 'it has no area';
  if (loop.planarityMm > planarityFraction * loop.equivalentDiameterMm) {
    const percent = (100 * loop.planarityMm) / loop.equivalentDiameterMm;
    return `it is not planar (off its plane by ${percent.toFixed(1)} % of its diameter)`;
  }
  return undefined;
}

function capFaces(
  mesh: TriangleMesh,
  loop: BoundaryLoop,
  centreNumber: number,
): { faces: number[]; usesCentre: boolean } | undefined {
  const ring = loop.vertices;
  const n = ring.length;
  const flat = projectLoop(mesh.positions, loop);
  // The rim's direction on the wall decides the orientation, even on a mesh that is inside out.
  const h = loop.halfEdges[0];
  const wallRunsAlong =
    mesh.triangles[h] === ring[0] && mesh.triangles[h % 3 === 2 ? h - 2 : h + 1] === ring[1];
  const add = (faces: number[], a: number, b: number, c: number): void => {
    if (wallRunsAlong) faces.push(a, c, b);
    else faces.push(a, b, c);
  };
  const faces: number[] = [];
  if (isStarShaped(flat)) {
    for (let i = 0; i < n; i++) add(faces, ring[i], ring[(i + 1) % n], centreNumber);
    return { faces, usesCentre: true };
  }
  const clipped = triangulatePolygon(flat);
  if (!clipped) return undefined;
  for (let i = 0; i < clipped.length; i += 3) {
    add(faces, ring[clipped[i]], ring[clipped[i + 1]], ring[clipped[i + 2]]);
  }
  return { faces, usesCentre: false };
}

/** Loop vertices in the axes of its plane, relative to its centre: x0 y0 x1 y1 …, counter-clockwise about the normal. */
function projectLoop(positions: Float64Array, loop: BoundaryLoop): Float64Array {
  const u = perpendicular(loop.normal);
  const v = cross(loop.normal, u);
  const flat = new Float64Array(2 * loop.vertices.length);
  for (const [i, vertex] of loop.vertices.entries()) {
    const p = 3 * vertex;
    const d: Vec3 = [
      positions[p] - loop.centroid[0],
      positions[p + 1] - loop.centroid[1],
      positions[p + 2] - loop.centroid[2],
    ];
    flat[2 * i] = dot(d, u);
    flat[2 * i + 1] = dot(d, v);
  }
  return flat;
}

/** Whether every edge is counter-clockwise as seen from the origin, in one turn. */
function isStarShaped(flat: Float64Array): boolean {
  const n = flat.length / 2;
  let turned = 0;
  for (let i = 0; i < n; i++) {
    const j = (i + 1) % n;
    const cr = flat[2 * i] * flat[2 * j + 1] - flat[2 * i + 1] * flat[2 * j];
    const along = flat[2 * i] * flat[2 * j] + flat[2 * i + 1] * flat[2 * j + 1];
    const edge = Math.hypot(flat[2 * j] - flat[2 * i], flat[2 * j + 1] - flat[2 * i + 1]);
    const reach = Math.max(Math.hypot(flat[2 * i], flat[2 * i + 1]), edge);
    if (cr <= 1e-6 * edge * reach) return false;
    turned += Math.atan2(cr, along);
  }
  return Math.abs(turned - 2 * Math.PI) < 1e-6;
}
