import { addTo } from '../foundation/add-to.js';
import { cross, perpendicular, type Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from './mesh.js';
import type { Topology } from './topology.js';

/** Limit on ray-triangle tests, so that even thousands of nested shells finish; above it, a component counts as not inside. */
const MOST_TESTS = 300_000_000;

/** A direction with no simple ratios, so that rays do not run along faces and edges of gridded models. */
const DX = 0.5377672;
const DY = 0.3188765;
const DZ = 0.7805184;

/**
 * Which of the given closed components have their first vertex inside other closed components, each with the innermost of these; by the
 * parity of crossings of a skew ray. One pass over the triangles handles all: the rays are parallel, so a triangle can hit only those that
 * start in its projection, and these are found with a grid.
 */
export function hostsOfComponents(
  mesh: TriangleMesh,
  topology: Topology,
  asked: readonly number[],
  open: Uint8Array,
): Map<number, number> {
  const hosts = new Map<number, number>();
  if (asked.length === 0) return hosts;
  const { positions, triangles } = mesh;
  const { component, componentSizes } = topology;
  const firstTriangle = new Int32Array(componentSizes.length).fill(-1);
  for (let t = 0; t < component.length; t++)
    if (firstTriangle[component[t]] < 0) firstTriangle[component[t]] = t;
  const starts = asked.map((c) => 3 * triangles[3 * firstTriangle[c]]);
  const shadows = new Shadows(positions, starts);
  const around = asked.map(() => new Set<number>());
  let tests = 0;
  for (let t = 0; t < component.length && tests < MOST_TESTS; t++) {
    const own = component[t];
    if (open[own]) continue;
    shadows.each(positions, triangles, 3 * t, (i) => {
      tests++;
      if (asked[i] === own) return;
      const p = starts[i];
      if (!rayCrosses(positions, triangles, 3 * t, positions[p], positions[p + 1], positions[p + 2])) return;
      if (!around[i].delete(own)) around[i].add(own);
    });
  }
  if (tests >= MOST_TESTS) return hosts;
  asked.forEach((c, i) => {
    if (around[i].size % 2 === 0) return;
    // of nested bodies the innermost usually has the fewest triangles
    const host = [...around[i]].reduce((least, o) => (componentSizes[o] < componentSizes[least] ? o : least));
    hosts.set(c, host);
  });
  return hosts;
}

/** Points projected along the rays, in a grid of about one per cell. */
class Shadows {
  private readonly u: Vec3;
  private readonly v: Vec3;
  private readonly cells = new Map<number, number[]>();
  private readonly low: [number, number];
  private readonly high: [number, number];
  private readonly step: [number, number];
  private readonly across: number;

  constructor(positions: Float64Array, starts: readonly number[]) {
    this.u = perpendicular([DX, DY, DZ]);
    this.v = cross([DX, DY, DZ], this.u);
    this.low = [Infinity, Infinity];
    this.high = [-Infinity, -Infinity];
    const seen = starts.map((p) => this.seen(positions, p));
    for (const point of seen)
      for (let k = 0; k < 2; k++) {
        this.low[k] = Math.min(this.low[k], point[k]);
        this.high[k] = Math.max(this.high[k], point[k]);
      }
    this.across = Math.ceil(Math.sqrt(starts.length));
    this.step = [0, 1].map((k) => (this.high[k] - this.low[k]) / this.across || 1) as [number, number];
    seen.forEach((point, i) => {
      const cell = this.column(0, point[0]) * this.across + this.column(1, point[1]);
      addTo(this.cells, cell, i);
    });
  }

  /** The points in the cells that overlap a triangle's box. */
  each(positions: Float64Array, triangles: Uint32Array, at: number, visit: (i: number) => void): void {
    const [a, b, c] = [0, 1, 2].map((k) => this.seen(positions, 3 * triangles[at + k]));
    const from = [0, 1].map((k) => Math.min(a[k], b[k], c[k]));
    const to = [0, 1].map((k) => Math.max(a[k], b[k], c[k]));
    for (let k = 0; k < 2; k++) if (to[k] < this.low[k] || from[k] > this.high[k]) return;
    const lastX = this.column(0, to[0]);
    const lastY = this.column(1, to[1]);
    for (let x = this.column(0, from[0]); x <= lastX; x++)
      for (let y = this.column(1, from[1]); y <= lastY; y++)
        for (const i of this.cells.get(x * this.across + y) ?? []) visit(i);
  }

  private column(k: 0 | 1, x: number): number {
    return Math.min(this.across - 1, Math.max(0, Math.floor((x - this.low[k]) / this.step[k])));
  }

  private seen(positions: Float64Array, p: number): [number, number] {
    const { u, v } = this;
    return [
      positions[p] * u[0] + positions[p + 1] * u[1] + positions[p + 2] * u[2],
      positions[p] * v[0] + positions[p + 1] * v[1] + positions[p + 2] * v[2],
    ];
  }
}

/** Ray against triangle, by signs of the volumes with its sides (Möller and Trumbore's test, from memory). */
function rayCrosses(
  positions: Float64Array,
  triangles: Uint32Array,
  at: number,
  x: number,
  y: number,
  z: number,
): boolean {
  const a = 3 * triangles[at];
  const b = 3 * triangles[at + 1];
  const c = 3 * triangles[at + 2];
  const e1x = positions[b] - positions[a];
  const e1y = positions[b + 1] - positions[a + 1];
  const e1z = positions[b + 2] - positions[a + 2];
  const e2x = positions[c] - positions[a];
  const e2y = positions[c + 1] - positions[a + 1];
  const e2z = positions[c + 2] - positions[a + 2];
  const px = DY * e2z - DZ * e2y;
  const py = DZ * e2x - DX * e2z;
  const pz = DX * e2y - DY * e2x;
  const det = e1x * px + e1y * py + e1z * pz;
  if (det === 0) return false;
  const sx = x - positions[a];
  const sy = y - positions[a + 1];
  const sz = z - positions[a + 2];
  const u = (sx * px + sy * py + sz * pz) / det;
  if (u < 0 || u > 1) return false;
  const qx = sy * e1z - sz * e1y;
  const qy = sz * e1x - sx * e1z;
  const qz = sx * e1y - sy * e1x;
  const v = (DX * qx + DY * qy + DZ * qz) / det;
  if (v < 0 || u + v > 1) return false;
  return (e2x * qx + e2y * qy + e2z * qz) / det > 0;
}
