import type { TriangleMesh } from './mesh.js';

/** Below this a copy costs less than it matters, bytes: the triangles of a surface of 150 000. */
const LEAST_BYTES = 12 * 150_000;

/**
 * The same numbers in memory that another thread reads without a copy of its own, where the array is large; else the array itself. Nobody
 * writes to the arrays of a mesh once it is made.
 */
export function shared<T extends Float64Array | Uint32Array | Int32Array>(array: T): T {
  if (array.byteLength < LEAST_BYTES || array.buffer instanceof SharedArrayBuffer) return array;
  const same = new (array.constructor as new (buffer: SharedArrayBuffer) => T)(
    new SharedArrayBuffer(array.byteLength),
  );
  same.set(array);
  return same;
}

export const sharedMesh = ({ positions, triangles }: TriangleMesh): TriangleMesh => ({
  positions: shared(positions),
  triangles: shared(triangles),
});
