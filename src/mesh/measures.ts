import type { Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from './mesh.js';
import { meshKernel } from './mesh-kernel.js';

export interface BoundingBox {
  min: Vec3;
  max: Vec3;
  /** Edge lengths, mm. */
  size: Vec3;
  centre: Vec3;
}

/** Axis-aligned box of the vertices used by triangles, or of all vertices if there are no triangles. */
export function boundingBox(mesh: TriangleMesh): BoundingBox {
  const [x0, y0, z0, x1, y1, z1] = meshKernel(mesh)?.box(mesh) ?? boxPlainly(mesh);
  const min: Vec3 = [x0, y0, z0];
  const max: Vec3 = [x1, y1, z1];
  if (min[0] > max[0]) return { min: [0, 0, 0], max: [0, 0, 0], size: [0, 0, 0], centre: [0, 0, 0] };
  return {
    min,
    max,
    size: [max[0] - min[0], max[1] - min[1], max[2] - min[2]],
    centre: [(min[0] + max[0]) / 2, (min[1] + max[1]) / 2, (min[2] + max[2]) / 2],
  };
}

/** Low and high corner, six numbers; the low one above the high one if there is no vertex. */
export function boxPlainly({ positions, triangles }: TriangleMesh): ArrayLike<number> & Iterable<number> {
  const used = new Uint8Array(positions.length / 3);
  if (triangles.length === 0) used.fill(1);
  else for (let i = 0; i < triangles.length; i++) used[triangles[i]] = 1;
  let [x0, y0, z0, x1, y1, z1] = [Infinity, Infinity, Infinity, -Infinity, -Infinity, -Infinity];
  for (let v = 0, p = 0; v < used.length; v++, p += 3) {
    if (used[v] === 0) continue;
    const x = positions[p];
    const y = positions[p + 1];
    const z = positions[p + 2];
    if (x < x0) x0 = x;
    if (x > x1) x1 = x;
    if (y < y0) y0 = y;
    if (y > y1) y1 = y;
    if (z < z0) z0 = z;
    if (z > z1) z1 = z;
  }
  return [x0, y0, z0, x1, y1, z1];
}

/** Whether two boxes overlap or touch. */
export const boxesMeet = (
  a: Pick<BoundingBox, 'min' | 'max'>,
  b: Pick<BoundingBox, 'min' | 'max'>,
): boolean => [0, 1, 2].every((k) => a.min[k] <= b.max[k] && b.min[k] <= a.max[k]);

/** One box around several meshes; empty (low above high) without a vertex. */
export function jointBox(meshes: readonly Pick<TriangleMesh, 'positions'>[]): { low: Vec3; high: Vec3 } {
  const low: Vec3 = [Infinity, Infinity, Infinity];
  const high: Vec3 = [-Infinity, -Infinity, -Infinity];
  for (const { positions } of meshes)
    for (let i = 0; i < positions.length; i++) {
      const d = i % 3;
      if (positions[i] < low[d]) low[d] = positions[i];
      if (positions[i] > high[d]) high[d] = positions[i];
    }
  return { low, high };
}

/** Volume and area of all triangles or of `[from, to)`. */
export interface Measures {
  /** Signed by the divergence theorem: positive for a closed mesh oriented outwards. Meaningless for an open mesh. */
  volumeMm3: number;
  areaMm2: number;
}

/**
 * Signed volume, V = sum of a·(b×c)/6 over the triangles with coordinates relative to the centre of the bounding box (so that a mesh that
 * is metres from the origin loses no digits), and area. Summed in index order. `only`, if given, selects the triangles by number.
 */
export function measure(mesh: TriangleMesh, only?: ArrayLike<number>): Measures {
  const about = boundingBox(mesh).centre;
  const compiled = only ? undefined : meshKernel(mesh)?.measure(mesh, about);
  const [six, twice] = compiled ?? measurePlainly(mesh, about, only);
  return { volumeMm3: six / 6, areaMm2: twice / 2 };
}

/** Six times the volume, relative to a point, and twice the area. */
export function measurePlainly(
  { positions, triangles }: TriangleMesh,
  [ox, oy, oz]: Vec3,
  only?: ArrayLike<number>,
): [number, number] {
  const count = only ? only.length : triangles.length / 3;
  let six = 0;
  let twice = 0;
  for (let i = 0; i < count; i++) {
    const t = 3 * (only ? only[i] : i);
    const a = 3 * triangles[t];
    const b = 3 * triangles[t + 1];
    const c = 3 * triangles[t + 2];
    const ax = positions[a] - ox;
    const ay = positions[a + 1] - oy;
    const az = positions[a + 2] - oz;
    const ux = positions[b] - ox - ax;
    const uy = positions[b + 1] - oy - ay;
    const uz = positions[b + 2] - oz - az;
    const vx = positions[c] - ox - ax;
    const vy = positions[c + 1] - oy - ay;
    const vz = positions[c + 2] - oz - az;
    const nx = uy * vz - uz * vy;
    const ny = uz * vx - ux * vz;
    const nz = ux * vy - uy * vx;
    six += ax * nx + ay * ny + az * nz;
    twice += Math.sqrt(nx * nx + ny * ny + nz * nz);
  }
  return [six, twice];
}
