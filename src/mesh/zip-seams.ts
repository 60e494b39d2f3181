import { addTo } from '../foundation/add-to.js';
import {
  distance,
  dot,
  lerp,
  normalize,
  segmentDistance,
  subtract,
  type Vec3,
} from '../foundation/vector.js';
import type { MendedCrack } from './mended-crack.js';
import type { TriangleMesh } from './mesh.js';
import type { Topology } from './topology.js';
import { layNormal } from './triangle-normal.js';

/** Numerical settings for two stretches of rim to be the two sides of one crack. */
const FACING = {
  /** Their directions are opposite, at least by this cosine, */
  against: 0.5,
  /** and the walls behind them face the same way, unlike those of two vessels side by side. */
  sameSide: 0.5,
  /** On the same rim they are at least this many widths apart along it. */
  alongWidths: 3,
  /** A seam shorter than this many widths is not a crack. */
  leastWidths: 2,
  /** Limit on the distances between rims that are computed. */
  mostAsked: 40_000_000,
} as const;

/** The rims as one list of corners; corner k starts the rim edge from k to next[k]. */
interface Rims {
  vertex: number[];
  next: number[];
  before: number[];
  rim: number[];
  /** Position along its rim, mm, and the length of that rim. */
  along: number[];
  lengthMm: number[];
  point: Vec3[];
  direction: Vec3[];
  /** Outward normal of the wall behind the edge. */
  normal: Vec3[];
  edgeMm: number[];
}

/**
 * Closes the stretches along which two rims face each other within `widthMm`: from their closest place, triangles are added between them
 * in both directions, each on the rim that lags behind. `isEdge`: whether the wall already joins two vertices.
 */
export function zipSeams(
  mesh: TriangleMesh,
  topology: Topology,
  widthMm: number,
  isEdge: (a: number, b: number) => boolean,
): { faces: number[]; seams: MendedCrack[] } {
  const rims = rimsOf(mesh, topology);
  const starts = facingPlaces(rims, widthMm);
  starts.sort((a, b) => a.distanceMm - b.distanceMm || a.from - b.from);
  const used = new Uint8Array(rims.vertex.length);
  const faces: number[] = [];
  const seams: MendedCrack[] = [];
  for (const { from, to } of starts) {
    if (used[from] || used[rims.before[from]] || used[to] || used[rims.before[to]]) continue;
    const seam = new Seam(rims, used, widthMm, isEdge);
    seam.run(from, to);
    if (seam.lengthMm < FACING.leastWidths * widthMm) continue;
    for (const k of seam.taken) used[k] = 1;
    for (const v of seam.faces) faces.push(v);
    seams.push({
      point: lerp(rims.point[from], rims.point[to], 0.5),
      widthMm: seam.widestMm,
      lengthMm: seam.lengthMm,
    });
  }
  return { faces, seams };
}

/** One crack being closed along two rims. */
class Seam {
  readonly faces: number[] = [];
  readonly taken = new Set<number>();
  widestMm = 0;
  lengthMm = 0;

  private readonly rims: Rims;
  private readonly used: Uint8Array;
  private readonly widthMm: number;
  private readonly isEdge: (a: number, b: number) => boolean;

  constructor(rims: Rims, used: Uint8Array, widthMm: number, isEdge: Seam['isEdge']) {
    this.rims = rims;
    this.used = used;
    this.widthMm = widthMm;
    this.isEdge = isEdge;
  }

  /** Starts from the facing corners `p` and `q`, in both directions. */
  run(p: number, q: number): void {
    if (this.joined(p, q)) return;
    if (!this.runOn(p, q, true)) this.runOn(q, p, false);
  }

  /** Advances along the rim of `p` and back along that of `q`; true if the seam closed to a ring. */
  private runOn(startP: number, startQ: number, mayClose: boolean): boolean {
    const { next, before, point, edgeMm } = this.rims;
    let [p, q] = [startP, startQ];
    for (;;) {
      if (next[p] === q) return false;
      const onP = this.isFree(p) ? this.gapTo(next[p], q) : Number.POSITIVE_INFINITY;
      const onQ = this.isFree(before[q]) ? this.gapTo(before[q], p) : Number.POSITIVE_INFINITY;
      const newP = distance(point[next[p]], point[q]);
      const newQ = distance(point[before[q]], point[p]);
      const takesP = onP <= this.widthMm && (onQ > this.widthMm || newP <= newQ);
      const gap = takesP ? onP : onQ;
      if (gap > this.widthMm) return false;
      const edge = takesP ? p : before[q];
      const [a, b] = takesP ? [next[p], q] : [p, before[q]];
      const isTip = next[a] === b;
      const isRing = mayClose && a === startP && b === startQ;
      if (!isTip && !isRing && this.joined(a, b)) return false;
      const third = takesP ? q : p;
      const { vertex } = this.rims;
      this.faces.push(vertex[edge], vertex[next[edge]], vertex[third]);
      this.taken.add(edge);
      this.widestMm = Math.max(this.widestMm, gap);
      this.lengthMm += edgeMm[edge] / 2;
      [p, q] = [a, b];
      if (isTip) {
        this.taken.add(a);
        return false;
      }
      if (isRing) return true;
    }
  }

  private isFree(edge: number): boolean {
    return this.used[edge] === 0 && !this.taken.has(edge);
  }

  /** Whether an edge between two corners would be used too often. */
  private joined(p: number, q: number): boolean {
    const { vertex } = this.rims;
    return vertex[p] === vertex[q] || this.isEdge(vertex[p], vertex[q]);
  }

  /** Distance of a corner from the rim around the corner on the other side, mm. */
  private gapTo(corner: number, other: number): number {
    const { point, next, before } = this.rims;
    const p = point[corner];
    const back = before[other];
    return Math.min(
      segmentDistance(p, point[back], point[other]),
      segmentDistance(p, point[before[back]], point[back]),
      segmentDistance(p, point[other], point[next[other]]),
      segmentDistance(p, point[next[other]], point[next[next[other]]]),
    );
  }
}

function rimsOf(mesh: TriangleMesh, topology: Topology): Rims {
  const { positions, triangles } = mesh;
  const rims: Rims = {
    vertex: [],
    next: [],
    before: [],
    rim: [],
    along: [],
    lengthMm: [],
    point: [],
    direction: [],
    normal: [],
    edgeMm: [],
  };
  const laid = new Float64Array(3);
  for (const [number, loop] of topology.loops.entries()) {
    if (!loop.closed) continue;
    const n = loop.vertices.length;
    const h0 = loop.halfEdges[0];
    const withWall = triangles[h0] === loop.vertices[0];
    const base = rims.vertex.length;
    let along = 0;
    for (let i = 0; i < n; i++) {
      // against the wall's half-edges, the direction of the added triangles
      const j = withWall ? n - 1 - i : i;
      const edge = loop.halfEdges[withWall ? (j + n - 1) % n : j];
      const v = loop.vertices[j];
      const w = loop.vertices[withWall ? (j + n - 1) % n : (j + 1) % n];
      const a: Vec3 = [positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]];
      const b: Vec3 = [positions[3 * w], positions[3 * w + 1], positions[3 * w + 2]];
      layNormal(mesh, (edge / 3) | 0, laid);
      rims.vertex.push(v);
      rims.next.push(base + ((i + 1) % n));
      rims.before.push(base + ((i + n - 1) % n));
      rims.rim.push(number);
      rims.along.push(along);
      rims.point.push(a);
      rims.direction.push(normalize(subtract(b, a)));
      rims.normal.push(normalize([laid[0], laid[1], laid[2]]));
      rims.edgeMm.push(distance(a, b));
      rims.lengthMm.push(loop.perimeterMm);
      along += distance(a, b);
    }
  }
  return rims;
}

interface Start {
  from: number;
  to: number;
  distanceMm: number;
}

/** Corners that face a stretch of rim within the width, with the nearer corner of that stretch. */
function facingPlaces(rims: Rims, widthMm: number): Start[] {
  const count = rims.vertex.length;
  if (count === 0) return [];
  const cell = Math.max(widthMm, rims.edgeMm.reduce((sum, x) => sum + x, 0) / count);
  const cells = new Map<string, number[]>();
  const cellOf = (p: Vec3): [number, number, number] => [
    Math.floor(p[0] / cell),
    Math.floor(p[1] / cell),
    Math.floor(p[2] / cell),
  ];
  for (let k = 0; k < count; k++) {
    const steps = Math.ceil(rims.edgeMm[k] / cell);
    const end = rims.point[rims.next[k]];
    let last = '';
    for (let i = 0; i <= steps; i++) {
      const key = cellOf(lerp(rims.point[k], end, steps === 0 ? 0 : i / steps)).join(' ');
      if (key === last) continue;
      last = key;
      addTo(cells, key, k);
    }
  }
  const starts: Start[] = [];
  let asked = 0;
  for (let k = 0; k < count && asked < FACING.mostAsked; k++) {
    const p = rims.point[k];
    const [x, y, z] = cellOf(p);
    let best: Start | undefined;
    for (let i = x - 1; i <= x + 1; i++)
      for (let j = y - 1; j <= y + 1; j++)
        for (let l = z - 1; l <= z + 1; l++)
          for (const e of cells.get(`${i} ${j} ${l}`) ?? []) {
            asked++;
            if (!isFacing(rims, k, e, widthMm)) continue;
            const end = rims.next[e];
            const d = segmentDistance(p, rims.point[e], rims.point[end]);
            if (d > widthMm || (best && d >= best.distanceMm)) continue;
            const to = distance(p, rims.point[e]) <= distance(p, rims.point[end]) ? e : end;
            best = { from: k, to, distanceMm: d };
          }
    if (best) starts.push(best);
  }
  return starts;
}

function isFacing(rims: Rims, corner: number, edge: number, widthMm: number): boolean {
  if (dot(rims.direction[corner], rims.direction[edge]) > -FACING.against) return false;
  if (dot(rims.normal[corner], rims.normal[edge]) < FACING.sameSide) return false;
  if (rims.rim[corner] !== rims.rim[edge]) return true;
  const apart = Math.abs(rims.along[corner] - rims.along[edge]);
  return Math.min(apart, rims.lengthMm[corner] - apart) > FACING.alongWidths * widthMm;
}
