import type { TriangleMesh } from '../../mesh/mesh.js';
import { finerMesh } from './finer-mesh.js';
import { coarseCopy, isShownCoarser } from '../../mesh/coarse-copy.js';

/** Distances are taken at the vertices: none lie farther apart. */
const LONGEST_EDGE_MM = 2;

/** A copy that is coarse enough to draw and fine enough to show distances. */
export function drawnCopy(mesh: TriangleMesh): TriangleMesh {
  return finerMesh(isShownCoarser(mesh) ? coarseCopy(mesh).mesh : mesh, LONGEST_EDGE_MM);
}
