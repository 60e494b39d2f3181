import { pairEdges } from './edge-pairing.js';
import type { TriangleMesh } from './mesh.js';
import { weld } from './weld.js';

/** Numerical settings. */
const COARSEN = {
  /** Shortest edges go first: thresholds as parts of the wanted length, one round each. */
  rounds: [0.35, 0.6, 1, 1, 1],
  /** No new edge is longer than this many wanted lengths. */
  longest: 1.8,
  /** A triangle may turn by this cosine at most. */
  leastTurn: 0.7,
} as const;

/**
 * A coarser copy of a mesh whose edges are not shorter than about `edgeMm`, for drawing and printing; never for measuring.
 * Edges are drawn together to their middle as long as the surface stays a manifold (link condition: Dey, Edelsbrunner,
 * Guha and Nekhayev, Publ Inst Math 1999;66:23, from memory), no triangle turns over and rims stay as they are: a closed mesh
 * stays closed. On a wall of radius R the middle lies edge²/(8R) off the wall. Linear in triangles.
 */
export function coarsened(mesh: TriangleMesh, edgeMm: number): TriangleMesh {
  const work = new Collapsing(mesh);
  for (const part of COARSEN.rounds) work.round(part * edgeMm, COARSEN.longest * edgeMm);
  return work.result();
}

const after = (h: number): number => (h % 3 === 2 ? h - 2 : h + 1);

class Collapsing {
  private readonly positions: Float64Array;
  private readonly triangles: Uint32Array;
  private readonly twin: Int32Array;
  /** A half-edge that starts at the vertex. */
  private readonly out: Int32Array;
  /** Vertices on a rim or an edge that pairs with none: they stay. */
  private readonly fixed: Uint8Array;
  private readonly dead: Uint8Array;
  private readonly marks: Int32Array;
  private mark = 0;

  constructor(mesh: TriangleMesh) {
    this.positions = mesh.positions.slice();
    this.triangles = mesh.triangles.slice();
    this.twin = pairEdges(mesh).twin;
    const vertices = mesh.positions.length / 3;
    this.out = new Int32Array(vertices).fill(-1);
    this.fixed = new Uint8Array(vertices);
    this.dead = new Uint8Array(mesh.triangles.length / 3);
    this.marks = new Int32Array(vertices).fill(-1);
    const corners = new Uint32Array(vertices);
    for (let h = 0; h < this.twin.length; h++) {
      const v = this.triangles[h];
      this.out[v] = h;
      corners[v]++;
      const g = this.twin[h];
      if (g < 0 || this.triangles[g] === v) this.fixed[v] = this.fixed[this.triangles[after(h)]] = 1;
    }
    // a vertex that joins two fans is left alone too
    for (let v = 0; v < vertices; v++) {
      if (this.fixed[v] || this.out[v] < 0) continue;
      let count = 0;
      this.around(v, () => {
        count++;
        return true;
      });
      if (count !== corners[v]) this.fixed[v] = 1;
    }
  }

  round(shortMm: number, longestMm: number): void {
    const { triangles, twin, dead, fixed } = this;
    for (let h = 0; h < triangles.length; h++) {
      if (dead[(h / 3) | 0] || twin[h] < h) continue;
      const a = triangles[h];
      const b = triangles[after(h)];
      if (fixed[a] || fixed[b] || this.squared(a, b) >= shortMm * shortMm) continue;
      if (this.keepsManifold(h, a, b) && this.keepsShape(h, a, b, longestMm)) this.collapse(h, a, b);
    }
  }

  result(): TriangleMesh {
    const kept: number[] = [];
    for (let t = 0; t < this.dead.length; t++)
      if (!this.dead[t])
        kept.push(this.triangles[3 * t], this.triangles[3 * t + 1], this.triangles[3 * t + 2]);
    return weld({ positions: this.positions, triangles: Uint32Array.from(kept) }).mesh;
  }

  private squared(a: number, b: number): number {
    const p = this.positions;
    const x = p[3 * a] - p[3 * b];
    const y = p[3 * a + 1] - p[3 * b + 1];
    const z = p[3 * a + 2] - p[3 * b + 2];
    return x * x + y * y + z * z;
  }

  /** Calls `visit` with each half-edge that starts at v, until it returns false. For vertices that are not fixed. */
  private around(v: number, visit: (h: number) => boolean): boolean {
    const first = this.out[v];
    let h = first;
    do {
      if (!visit(h)) return false;
      h = this.twin[after(after(h))];
    } while (h !== first && h >= 0);
    return true;
  }

  /** The two ends of the edge share the two opposite corners and no other neighbour, and each corner keeps three edges. */
  private keepsManifold(h: number, a: number, b: number): boolean {
    const { triangles, marks } = this;
    this.mark++;
    let edgesA = 0;
    this.around(a, (e) => {
      marks[triangles[after(e)]] = this.mark;
      edgesA++;
      return true;
    });
    let shared = 0;
    let edgesB = 0;
    this.around(b, (e) => {
      if (marks[triangles[after(e)]] === this.mark) shared++;
      edgesB++;
      return true;
    });
    if (shared !== 2 || edgesA + edgesB < 7) return false;
    return (
      this.edgesAt(triangles[after(after(h))]) > 3 && this.edgesAt(triangles[after(after(this.twin[h]))]) > 3
    );
  }

  private edgesAt(v: number): number {
    if (this.fixed[v]) return 4;
    let count = 0;
    this.around(v, () => ++count < 64);
    return count;
  }

  /** No triangle about the edge turns over or grows too long when both ends go to the middle. */
  private keepsShape(h: number, a: number, b: number, longestMm: number): boolean {
    const p = this.positions;
    const middle = [0, 1, 2].map((k) => (p[3 * a + k] + p[3 * b + k]) / 2);
    const leaves = [(h / 3) | 0, (this.twin[h] / 3) | 0];
    const fits = (e: number): boolean => {
      const t = (e / 3) | 0;
      if (t === leaves[0] || t === leaves[1]) return true;
      const v = 3 * this.triangles[e];
      const q = 3 * this.triangles[after(e)];
      const r = 3 * this.triangles[after(after(e))];
      let reach = 0;
      for (let k = 0; k < 3; k++) reach += (p[q + k] - middle[k]) ** 2;
      if (reach > longestMm * longestMm) return false;
      const before = normal(p[v], p[v + 1], p[v + 2], p, q, r);
      const then = normal(middle[0], middle[1], middle[2], p, q, r);
      const size = Math.sqrt(
        (before[0] ** 2 + before[1] ** 2 + before[2] ** 2) * (then[0] ** 2 + then[1] ** 2 + then[2] ** 2),
      );
      const along = before[0] * then[0] + before[1] * then[1] + before[2] * then[2];
      return size > 0 && along >= COARSEN.leastTurn * size;
    };
    return this.around(a, fits) && this.around(b, fits);
  }

  private collapse(h: number, a: number, b: number): void {
    const { positions: p, triangles, twin, out } = this;
    const g = twin[h];
    const fan: number[] = [];
    this.around(b, (e) => fan.push(e) > 0);
    for (const e of fan) triangles[e] = a;
    for (let k = 0; k < 3; k++) p[3 * a + k] = (p[3 * a + k] + p[3 * b + k]) / 2;
    // the triangles at the edge go; what lay outside their other edges now lies side by side
    for (const side of [h, g]) {
      const x = twin[after(side)];
      const y = twin[after(after(side))];
      twin[x] = y;
      twin[y] = x;
      this.dead[(side / 3) | 0] = 1;
      for (const e of [x, y]) out[triangles[e]] = e;
    }
    out[b] = -1;
  }
}

function normal(
  x: number,
  y: number,
  z: number,
  p: Float64Array,
  q: number,
  r: number,
): [number, number, number] {
  const ux = p[q] - x;
  const uy = p[q + 1] - y;
  const uz = p[q + 2] - z;
  const vx = p[r] - x;
  const vy = p[r + 1] - y;
  const vz = p[r + 2] - z;
  return [uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx];
}
