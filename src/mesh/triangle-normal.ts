import type { TriangleMesh } from './mesh.js';

/**
 * Writes the outward normal of triangle `t`, with a length of twice its area, into `into` (length 3) and returns that length. Allocates
 * no objects, for loops over millions of triangles.
 */
export function layNormal({ positions: p, triangles }: TriangleMesh, t: number, into: Float64Array): number {
  const a = 3 * triangles[3 * t];
  const b = 3 * triangles[3 * t + 1];
  const c = 3 * triangles[3 * t + 2];
  const ux = p[b] - p[a];
  const uy = p[b + 1] - p[a + 1];
  const uz = p[b + 2] - p[a + 2];
  const vx = p[c] - p[a];
  const vy = p[c + 1] - p[a + 1];
  const vz = p[c + 2] - p[a + 2];
  const nx = uy * vz - uz * vy;
  const ny = uz * vx - ux * vz;
  const nz = ux * vy - uy * vx;
  into[0] = nx;
  into[1] = ny;
  into[2] = nz;
  return Math.sqrt(nx * nx + ny * ny + nz * nz);
}
