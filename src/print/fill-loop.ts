import { cross, dot, perpendicular, type Vec3 } from '../foundation/vector.js';
import type { BoundaryLoop } from '../mesh/boundary-loops.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { triangulatePolygon } from '../mesh/triangulate-polygon.js';

/**
 * Closes one non-planar rim without new vertices: ears are cut from its projection along the mean normal.
 * Undefined if that projection crosses itself. Triangles have the orientation of the wall.
 */
export function fillSkewLoop(mesh: TriangleMesh, loop: BoundaryLoop): TriangleMesh | undefined {
  const ring = loop.vertices;
  const u = perpendicular(loop.normal);
  const v = cross(loop.normal, u);
  const flat = new Float64Array(2 * ring.length);
  ring.forEach((vertex, i) => {
    const p = 3 * vertex;
    const d = [0, 1, 2].map((k) => mesh.positions[p + k] - loop.centroid[k]) as Vec3;
    flat[2 * i] = dot(d, u);
    flat[2 * i + 1] = dot(d, v);
  });
  const corners = triangulatePolygon(flat);
  if (!corners) return undefined;
  const h = loop.halfEdges[0];
  const runsAlong = mesh.triangles[h] === ring[0] && mesh.triangles[h % 3 === 2 ? h - 2 : h + 1] === ring[1];
  const triangles = new Uint32Array(mesh.triangles.length + corners.length);
  triangles.set(mesh.triangles);
  for (let i = 0; i < corners.length; i += 3) {
    const [a, b, c] = [ring[corners[i]], ring[corners[i + 1]], ring[corners[i + 2]]];
    triangles.set(runsAlong ? [a, c, b] : [a, b, c], mesh.triangles.length + i);
  }
  return { positions: mesh.positions, triangles };
}
