import { pairEdges } from './edge-pairing.js';
import type { TriangleMesh } from './mesh.js';
import { weld } from './weld.js';

/** Numerical settings. */
const COARSEN = {
  /** Shortest edges go first: thresholds as fractions of the target length, one round each. */
  rounds: [0.35, 0.6, 1, 1, 1],
  /** No new edge is longer than this many target lengths. */
  longest: 1.8,
  /** Limit on the rotation of a triangle, cosine. */
  leastTurn: 0.7,
  /**
   * Largest distance of a moved vertex from the planes of its triangles, as a fraction of the target length, so that sharp edges stay
   * sharp;
   */
  stray: 0.1,
  /** below this share no better position is searched for. */
  smooth: 0.01,
} as const;

/**
 * A coarser copy of a mesh with edges not shorter than about `edgeMm`, for drawing and printing; never for measuring. Edges are collapsed
 * to their middle, or next to a sharp edge to their end on it, as long as the surface stays a manifold (link condition: Dey, Edelsbrunner,
 * Guha and Nekhayev, Publ Inst Math 1999;66:23, from memory), no triangle flips and rims stay as they are: a closed mesh stays closed. On a
 * wall of radius R the middle is edge²/(8R) off the wall. Linear in triangles. `twin`: the facing half-edge of each (`pairEdges`), if
 * available.
 */
export function coarsened(
  mesh: TriangleMesh,
  edgeMm: number,
  twin: Int32Array = pairEdges(mesh).twin,
): TriangleMesh {
  const work = new Collapsing(mesh, twin);
  for (const part of COARSEN.rounds) work.round(part * edgeMm, edgeMm);
  return work.result();
}

const after = (h: number): number => (h % 3 === 2 ? h - 2 : h + 1);

class Collapsing {
  private readonly positions: Float64Array;
  private readonly triangles: Uint32Array;
  private readonly twin: Int32Array;
  /** A half-edge that starts at the vertex. */
  private readonly out: Int32Array;
  /** Vertices on a rim or an unpaired edge, which stay. */
  private readonly fixed: Uint8Array;
  private readonly dead: Uint8Array;
  private readonly marks: Int32Array;
  private mark = 0;

  constructor(mesh: TriangleMesh, twin: Int32Array) {
    this.positions = mesh.positions.slice();
    this.triangles = mesh.triangles.slice();
    this.twin = twin.slice();
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
    // a vertex shared by two fans stays too
    for (let v = 0; v < vertices; v++) {
      if (this.fixed[v] || this.out[v] < 0) continue;
      let count = 0;
      let h = this.out[v];
      do {
        count++;
        h = this.next(h);
      } while (h !== this.out[v] && h >= 0 && count <= corners[v]);
      if (count !== corners[v]) this.fixed[v] = 1;
    }
  }

  /** Collapses the edges below `shortMm`; `wantedMm` limits the length of edges and the deviation of the surface. */
  round(shortMm: number, wantedMm: number): void {
    const { triangles, twin, dead, fixed } = this;
    for (let h = 0; h < triangles.length; h++) {
      if (dead[(h / 3) | 0] || twin[h] < h) continue;
      const a = triangles[h];
      const b = triangles[after(h)];
      if (fixed[a] || fixed[b] || this.squared(a, b) >= shortMm * shortMm) continue;
      if (!this.keepsManifold(h, a, b)) continue;
      const { share, strayMm } = this.bestShare(h, a, b, wantedMm);
      if (strayMm <= COARSEN.stray * wantedMm) this.collapse(h, a, b, share);
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

  /** The half-edge that starts at the same vertex, after `h` in the fan. */
  private next(h: number): number {
    return this.twin[after(after(h))];
  }

  /** Whether the two ends of the edge share only the two opposite corners, and each corner keeps three edges. */
  private keepsManifold(h: number, a: number, b: number): boolean {
    const { triangles, marks, out } = this;
    const mark = ++this.mark;
    let edges = 0;
    let e = out[a];
    do {
      marks[triangles[after(e)]] = mark;
      edges++;
      e = this.next(e);
    } while (e !== out[a]);
    let shared = 0;
    e = out[b];
    do {
      if (marks[triangles[after(e)]] === mark) shared++;
      edges++;
      e = this.next(e);
    } while (e !== out[b]);
    if (shared !== 2 || edges < 7) return false;
    return (
      this.edgesAt(triangles[after(after(h))]) > 3 && this.edgesAt(triangles[after(after(this.twin[h]))]) > 3
    );
  }

  /** Edges at v, counted up to four; four where v is fixed. */
  private edgesAt(v: number): number {
    if (this.fixed[v]) return 4;
    const first = this.out[v];
    let count = 0;
    let e = first;
    do {
      count++;
      e = this.next(e);
    } while (count < 4 && e !== first);
    return count;
  }

  /** The middle if the surface is smooth; else the position that deviates least from the planes of the triangles. */
  private bestShare(h: number, a: number, b: number, wantedMm: number): { share: number; strayMm: number } {
    let best = { share: 0.5, strayMm: this.strayMm(h, a, b, 0.5, wantedMm) };
    if (best.strayMm <= COARSEN.smooth * wantedMm) return best;
    for (const share of [0, 1]) {
      const strayMm = this.strayMm(h, a, b, share, wantedMm);
      if (strayMm < best.strayMm) best = { share, strayMm };
    }
    return best;
  }

  /**
   * Deviation of both ends from the planes of their triangles if they move to a fraction of the way from a to b; infinite if a triangle
   * would flip or become too long.
   */
  private strayMm(h: number, a: number, b: number, share: number, wantedMm: number): number {
    const p = this.positions;
    const x = p[3 * a] + share * (p[3 * b] - p[3 * a]);
    const y = p[3 * a + 1] + share * (p[3 * b + 1] - p[3 * a + 1]);
    const z = p[3 * a + 2] + share * (p[3 * b + 2] - p[3 * a + 2]);
    const atA = this.strayOfFan(a, h, x, y, z, wantedMm);
    if (atA === Infinity) return Infinity;
    return Math.sqrt(Math.max(atA, this.strayOfFan(b, h, x, y, z, wantedMm)));
  }

  /** The square of the same for the triangles at v, with x y z instead of v; the two at edge h are removed and may flip. */
  private strayOfFan(v: number, h: number, x: number, y: number, z: number, wantedMm: number): number {
    const { positions: p, triangles, out } = this;
    const left = (h / 3) | 0;
    const right = (this.twin[h] / 3) | 0;
    const vx = p[3 * v];
    const vy = p[3 * v + 1];
    const vz = p[3 * v + 2];
    const longest = (COARSEN.longest * wantedMm) ** 2;
    let most = 0;
    for (let e = out[v], first = true; first || e !== out[v]; e = this.next(e), first = false) {
      const t = (e / 3) | 0;
      const q = 3 * triangles[after(e)];
      const r = 3 * triangles[after(after(e))];
      const qx = p[q];
      const qy = p[q + 1];
      const qz = p[q + 2];
      const ex = p[r] - qx;
      const ey = p[r + 1] - qy;
      const ez = p[r + 2] - qz;
      // normals before and after, as products of the fixed edge and the one to the moving corner
      const bx = ey * (vz - qz) - ez * (vy - qy);
      const by = ez * (vx - qx) - ex * (vz - qz);
      const bz = ex * (vy - qy) - ey * (vx - qx);
      const off = (x - vx) * bx + (y - vy) * by + (z - vz) * bz;
      const before = bx * bx + by * by + bz * bz;
      if (off * off > most * before) most = (off * off) / before;
      if (t === left || t === right) continue;
      if ((qx - x) ** 2 + (qy - y) ** 2 + (qz - z) ** 2 > longest) return Infinity;
      const tx = ey * (z - qz) - ez * (y - qy);
      const ty = ez * (x - qx) - ex * (z - qz);
      const tz = ex * (y - qy) - ey * (x - qx);
      const size = Math.sqrt(before * (tx * tx + ty * ty + tz * tz));
      if (!(size > 0 && bx * tx + by * ty + bz * tz >= COARSEN.leastTurn * size)) return Infinity;
    }
    return most;
  }

  private collapse(h: number, a: number, b: number, share: number): void {
    const { positions: p, triangles, twin, out } = this;
    const g = twin[h];
    let e = out[b];
    do {
      triangles[e] = a;
      e = this.next(e);
    } while (e !== out[b]);
    for (let k = 0; k < 3; k++) p[3 * a + k] += share * (p[3 * b + k] - p[3 * a + k]);
    // the triangles at the edge are removed; the neighbours across their other edges are now adjacent
    for (const side of [h, g]) {
      const x = twin[after(side)];
      const y = twin[after(after(side))];
      twin[x] = y;
      twin[y] = x;
      this.dead[(side / 3) | 0] = 1;
      out[triangles[x]] = x;
      out[triangles[y]] = y;
    }
    out[b] = -1;
  }
}
