import type { Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from './mesh.js';

/** 16 numbers, column-major, for column vectors: x' = m0·x + m4·y + m8·z + m12. */
export type Matrix4 = ArrayLike<number>;

/** Applies an affine transform; a reflection also flips the triangles so that outside stays outside. */
export function transformMesh(mesh: TriangleMesh, m: Matrix4): TriangleMesh {
  const { positions } = mesh;
  const moved = new Float64Array(positions.length);
  for (let p = 0; p < positions.length; p += 3) {
    const x = positions[p];
    const y = positions[p + 1];
    const z = positions[p + 2];
    moved[p] = m[0] * x + m[4] * y + m[8] * z + m[12];
    moved[p + 1] = m[1] * x + m[5] * y + m[9] * z + m[13];
    moved[p + 2] = m[2] * x + m[6] * y + m[10] * z + m[14];
  }
  const determinant =
    m[0] * (m[5] * m[10] - m[9] * m[6]) -
    m[4] * (m[1] * m[10] - m[9] * m[2]) +
    m[8] * (m[1] * m[6] - m[5] * m[2]);
  if (determinant >= 0) return { positions: moved, triangles: mesh.triangles };
  const triangles = mesh.triangles.slice();
  for (let t = 0; t < triangles.length; t += 3) {
    triangles[t + 1] = mesh.triangles[t + 2];
    triangles[t + 2] = mesh.triangles[t + 1];
  }
  return { positions: moved, triangles };
}

/** First a, then b. */
export function chained(a: Matrix4, b: Matrix4): number[] {
  const result = new Array<number>(16).fill(0);
  for (let column = 0; column < 4; column++) {
    for (let row = 0; row < 4; row++) {
      for (let k = 0; k < 4; k++) result[4 * column + row] += b[4 * k + row] * a[4 * column + k];
    }
  }
  return result;
}

/** All coordinates times a factor, for example to mm. A factor of 1 returns the mesh itself. */
export function scaled(mesh: TriangleMesh, factor: number): TriangleMesh {
  if (factor === 1) return mesh;
  return { positions: mesh.positions.map((x) => x * factor), triangles: mesh.triangles };
}

/** Applies a function to each point. */
export function eachPoint(positions: Float64Array, moved: (point: Vec3) => Vec3): Float64Array {
  const out = new Float64Array(positions.length);
  for (let i = 0; i < out.length; i += 3)
    out.set(moved([positions[i], positions[i + 1], positions[i + 2]]), i);
  return out;
}
