import type { TriangleMesh } from '../../mesh/mesh.js';
import { finerMesh } from './finer-mesh.js';
import { coarseCopy, isShownCoarser } from '../../mesh/coarse-copy.js';

/** Longest edge allowed, because distances are sampled at the vertices. */
const LONGEST_EDGE_MM = 2;

/** A copy that is coarse enough to draw and fine enough to show the distances. */
export function drawnCopy(mesh: TriangleMesh): TriangleMesh {
  return finerMesh(isShownCoarser(mesh) ? coarseCopy(mesh).mesh : mesh, LONGEST_EDGE_MM);
}
