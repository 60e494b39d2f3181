import type { TriangleMesh } from './mesh.js';
import type { Topology } from './topology.js';

/** Number of triangles from which a second thread is worth starting for a surface. */
export const LEAST_FOR_THREAD = 150_000;
/** Bytes of the corners of so many; smaller arrays are cheap to copy. */
const LEAST_BYTES = 12 * LEAST_FOR_THREAD;

/**
 * A large array is copied to memory that another thread can read without a copy of its own; a small one is returned as it is. The arrays of
 * a mesh are never changed once it is made.
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

/** A surface whose mesh and pairing both threads can read. */
export const sharedSurface = <T extends { mesh: TriangleMesh; topology: Topology }>(surface: T): T => ({
  ...surface,
  mesh: sharedMesh(surface.mesh),
  topology: { ...surface.topology, twin: shared(surface.topology.twin) },
});
