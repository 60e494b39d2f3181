import type { TriangleMesh } from '../mesh/mesh.js';
import { finerMesh } from '../report/figures/finer-mesh.js';
import { coarseStructures } from './coarse-structures.js';

/** Distances are taken at the vertices: none lie farther apart. */
const LONGEST_EDGE_MM = 2;

/** A copy that is coarse enough to draw and fine enough to show distances. */
export async function drawnCopy(mesh: TriangleMesh): Promise<TriangleMesh> {
  const { structures } = await coarseStructures([{ name: 'drawn', role: 'whole', mesh }]);
  return finerMesh(structures[0].mesh, LONGEST_EDGE_MM);
}
