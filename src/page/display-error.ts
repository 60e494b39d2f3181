import { BoxTree } from '../mesh/box-tree.js';
import type { TriangleMesh } from '../mesh/mesh.js';

/** Greatest number of vertices of the measured surface that are compared for each structure, evenly spaced in its list. */
const PROBES = 4000;

/**
 * Largest distance, mm, from vertices of a measured surface to the surface drawn for it. At most 4000 vertices are compared. 0 for an empty
 * surface.
 */
export function displayErrorMm(measured: TriangleMesh, drawn: TriangleMesh): number {
  if (drawn.triangles.length === 0 || measured.triangles.length === 0) return 0;
  // The tree stores 32-bit numbers, so a surface far from the origin is moved to it first.
  const [x, y, z] = drawn.positions;
  const positions = drawn.positions.map((value, i) => value - [x, y, z][i % 3]);
  const tree = new BoxTree({ positions, triangles: drawn.triangles });
  const stride = Math.max(1, Math.floor(measured.triangles.length / PROBES));
  let largest = 0;
  for (let i = 0; i < measured.triangles.length; i += stride) {
    const v = 3 * measured.triangles[i];
    const hit = tree.closest([
      measured.positions[v] - x,
      measured.positions[v + 1] - y,
      measured.positions[v + 2] - z,
    ]);
    if (hit && hit.distance > largest) largest = hit.distance;
  }
  return largest;
}
