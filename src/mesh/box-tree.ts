import { BufferAttribute, BufferGeometry } from 'three';
import { CENTER, MeshBVH } from 'three-mesh-bvh';
import type { TriangleMesh } from './mesh.js';

/** Trees of larger meshes are not cached, because the memory would cost more than rebuilding them. */
const MOST_KEPT_TRIANGLES = 100_000;

const kept = new WeakMap<TriangleMesh, MeshBVH>();

/**
 * The tree of boxes around a mesh's triangles, for rays and nearest points; in 32-bit numbers, so the mesh must be near the origin. A
 * second call for the same mesh returns the same tree, because meshes are immutable.
 */
export function boxTree(mesh: TriangleMesh): MeshBVH {
  const known = kept.get(mesh);
  if (known) return known;
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new BufferAttribute(Float32Array.from(mesh.positions), 3));
  geometry.setIndex(new BufferAttribute(mesh.triangles, 1));
  const tree = new MeshBVH(geometry, { indirect: true, strategy: CENTER });
  if (mesh.triangles.length / 3 <= MOST_KEPT_TRIANGLES) kept.set(mesh, tree);
  return tree;
}
