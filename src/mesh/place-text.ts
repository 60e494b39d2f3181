import { fixed } from '../foundation/number-text.js';
import type { TriangleMesh } from './mesh.js';

export const plural = (n: number, one: string, more: string): string => (n === 1 ? one : more);

/** A place in the file, as printed in findings. */
export function point(x: number, y: number, z: number): string {
  return `(${fixed(x, 2)}, ${fixed(y, 2)}, ${fixed(z, 2)}) mm`;
}

/** The place of the vertex whose x is `positions[p]`. */
export function vertexPoint(mesh: TriangleMesh, p: number): string {
  return point(mesh.positions[p], mesh.positions[p + 1], mesh.positions[p + 2]);
}

/** The first corner of a triangle. */
export function pointOf(mesh: TriangleMesh, triangle: number): string {
  return vertexPoint(mesh, 3 * mesh.triangles[3 * triangle]);
}
