import type { TriangleMesh } from './mesh.js';
import { meshKernel } from './mesh-kernel.js';

/** The mesh with its vertices in the order in which the triangles use them, without unused vertices. */
export function inOrderOfUse(mesh: TriangleMesh): TriangleMesh {
  return meshKernel(mesh)?.inOrderOfUse(mesh) ?? inOrderPlainly(mesh);
}

export function inOrderPlainly({ positions, triangles }: TriangleMesh): TriangleMesh {
  const number = new Int32Array(positions.length / 3).fill(-1);
  const moved = new Float64Array(positions.length);
  const renumbered = new Uint32Array(triangles.length);
  let count = 0;
  for (let i = 0; i < triangles.length; i++) {
    const v = triangles[i];
    if (number[v] < 0) {
      for (let k = 0; k < 3; k++) moved[3 * count + k] = positions[3 * v + k];
      number[v] = count++;
    }
    renumbered[i] = number[v];
  }
  return { positions: moved.slice(0, 3 * count), triangles: renumbered };
}
