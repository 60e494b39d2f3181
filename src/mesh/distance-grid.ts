import type { Vec3 } from '../foundation/vector.js';
import type { WorkBudget } from '../foundation/work-budget.js';
import { boundingBox } from './measures.js';
import type { TriangleMesh } from './mesh.js';

const MOST_CELLS = 12_000_000;
/** Work steps per grid point, and per point to which a triangle writes. */
const GRID_STEPS = 0.02;
const POINT_STEPS = 0.02;

/**
 * Distance to a surface on a grid, for points up to about `reachMm` away, minus `reachMm`: negative near the surface and in regions that
 * cannot be reached from outside without coming closer than `reachMm`. Exact at grid points (each triangle writes its distance to the
 * surrounding points), interpolated linearly between them. `work` counts the points.
 */
export function distanceGrid(
  mesh: TriangleMesh,
  reachMm: number,
  work?: WorkBudget,
): (p: ArrayLike<number>) => number {
  const box = boundingBox(mesh);
  let step = Math.min(0.5, reachMm / 2);
  const cells = (h: number): number[] => box.size.map((s) => Math.ceil((s + 2 * reachMm) / h) + 7);
  while (cells(step).reduce((a, b) => a * b, 1) > MOST_CELLS) step *= 1.15;
  const [nx, ny, nz] = cells(step);
  const origin = box.min.map((c) => c - reachMm - 3 * step) as Vec3;
  const far = reachMm + 2.5 * step;
  work?.spend(GRID_STEPS * nx * ny * nz);
  const grid = new Float32Array(nx * ny * nz).fill(far);
  const { positions, triangles } = mesh;
  for (let t = 0; t < triangles.length; t += 3)
    work?.spend(POINT_STEPS * splat(positions, triangles, t, grid, [nx, ny, nz], origin, step, far));
  reachFromOutside(grid, [nx, ny, nz], reachMm);
  return (p) => {
    const fx = (p[0] - origin[0]) / step;
    const fy = (p[1] - origin[1]) / step;
    const fz = (p[2] - origin[2]) / step;
    const i = Math.floor(fx);
    const j = Math.floor(fy);
    const k = Math.floor(fz);
    if (i < 0 || j < 0 || k < 0 || i >= nx - 1 || j >= ny - 1 || k >= nz - 1) return far - reachMm;
    const [u, v, w] = [fx - i, fy - j, fz - k];
    const at = (i * ny + j) * nz + k;
    const line = (a: number): number => grid[a] * (1 - w) + grid[a + 1] * w;
    const plane = (a: number): number => line(a) * (1 - v) + line(a + nz) * v;
    return plane(at) * (1 - u) + plane(at + ny * nz) * u;
  };
}

/** Subtracts the reach; points farther than it from the surface that cannot be reached from the grid's corner become inside. */
function reachFromOutside(
  grid: Float32Array,
  [nx, ny, nz]: readonly [number, number, number],
  reachMm: number,
): void {
  const outside = new Uint8Array(grid.length);
  const queue = new Uint32Array(grid.length);
  let [head, tail] = [0, 0];
  outside[0] = 1;
  queue[tail++] = 0;
  const visit = (at: number): void => {
    if (outside[at] || grid[at] <= reachMm) return;
    outside[at] = 1;
    queue[tail++] = at;
  };
  while (head < tail) {
    const at = queue[head++];
    const k = at % nz;
    const j = ((at - k) / nz) % ny;
    const i = (at - k - nz * j) / (nz * ny);
    if (k > 0) visit(at - 1);
    if (k < nz - 1) visit(at + 1);
    if (j > 0) visit(at - nz);
    if (j < ny - 1) visit(at + nz);
    if (i > 0) visit(at - nz * ny);
    if (i < nx - 1) visit(at + nz * ny);
  }
  for (let at = 0; at < grid.length; at++) {
    const d = grid[at] - reachMm;
    grid[at] = d > 0 && !outside[at] ? -d : d;
  }
}

/** Writes one triangle's distance to the surrounding points; returns how many points it visited. */
function splat(
  positions: Float64Array,
  triangles: Uint32Array,
  t: number,
  grid: Float32Array,
  n: readonly [number, number, number],
  origin: Vec3,
  step: number,
  far: number,
): number {
  const corner = [0, 1, 2].map((c) => {
    const p = 3 * triangles[t + c];
    return [positions[p] - origin[0], positions[p + 1] - origin[1], positions[p + 2] - origin[2]];
  });
  const low = [0, 1, 2].map((k) =>
    Math.max(0, Math.ceil((Math.min(corner[0][k], corner[1][k], corner[2][k]) - far) / step)),
  );
  const high = [0, 1, 2].map((k) =>
    Math.min(n[k] - 1, Math.floor((Math.max(corner[0][k], corner[1][k], corner[2][k]) + far) / step)),
  );
  const [a, b, c] = corner;
  for (let i = low[0]; i <= high[0]; i++) {
    for (let j = low[1]; j <= high[1]; j++) {
      const row = (i * n[1] + j) * n[2];
      for (let k = low[2]; k <= high[2]; k++) {
        const d2 = squaredDistance(i * step, j * step, k * step, a, b, c);
        const before = grid[row + k];
        if (d2 < before * before) grid[row + k] = Math.sqrt(d2);
      }
    }
  }
  return [0, 1, 2].reduce((product, k) => product * Math.max(0, high[k] - low[k] + 1), 1);
}

/** Squared distance of a point from a triangle, by the regions of its corners, sides and face (Ericson 2005, from memory). */
function squaredDistance(px: number, py: number, pz: number, a: number[], b: number[], c: number[]): number {
  const abx = b[0] - a[0];
  const aby = b[1] - a[1];
  const abz = b[2] - a[2];
  const acx = c[0] - a[0];
  const acy = c[1] - a[1];
  const acz = c[2] - a[2];
  const apx = px - a[0];
  const apy = py - a[1];
  const apz = pz - a[2];
  const d1 = abx * apx + aby * apy + abz * apz;
  const d2 = acx * apx + acy * apy + acz * apz;
  let v = 0;
  let w = 0;
  if (!(d1 <= 0 && d2 <= 0)) {
    const bpx = px - b[0];
    const bpy = py - b[1];
    const bpz = pz - b[2];
    const d3 = abx * bpx + aby * bpy + abz * bpz;
    const d4 = acx * bpx + acy * bpy + acz * bpz;
    const cpx = px - c[0];
    const cpy = py - c[1];
    const cpz = pz - c[2];
    const d5 = abx * cpx + aby * cpy + abz * cpz;
    const d6 = acx * cpx + acy * cpy + acz * cpz;
    const vc = d1 * d4 - d3 * d2;
    const vb = d5 * d2 - d1 * d6;
    const va = d3 * d6 - d5 * d4;
    if (d3 >= 0 && d4 <= d3) v = 1;
    else if (vc <= 0 && d1 >= 0 && d3 <= 0) v = d1 / (d1 - d3);
    else if (d6 >= 0 && d5 <= d6) w = 1;
    else if (vb <= 0 && d2 >= 0 && d6 <= 0) w = d2 / (d2 - d6);
    else if (va <= 0 && d4 - d3 >= 0 && d5 - d6 >= 0) {
      w = (d4 - d3) / (d4 - d3 + (d5 - d6));
      v = 1 - w;
    } else {
      const sum = va + vb + vc;
      v = vb / sum;
      w = vc / sum;
    }
  }
  const x = apx - v * abx - w * acx;
  const y = apy - v * aby - w * acy;
  const z = apz - v * abz - w * acz;
  return x * x + y * y + z * z;
}
