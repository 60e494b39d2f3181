import type { TriangleMesh } from './mesh.js';

const LEAF = 4;

/** Share of a number by which rounding it to 32 bits moves it at most, plus a little. */
const ROUNDED = 6e-8;

/**
 * Boxes around the triangles in a complete binary tree, the triangles sorted along a space-filling curve (Morton
 * 1966, as in the linear bounding-volume tree of Lauterbach et al. 2009; both from memory). Made for all-pairs
 * queries on one mesh: linear to build, no recursion.
 */
export class TriangleTree {
  /** Triangles in curve order. */
  readonly order: Uint32Array;
  readonly leafCount: number;
  /** Six numbers per triangle, in curve order, so that neighbours in space are neighbours in memory. */
  private readonly boxes: Float32Array;
  private readonly firstLeaf: number;
  private readonly depth: number;
  /** Six numbers per node, from node 1 (root): min x y z, max x y z. */
  private readonly bounds: Float32Array;

  constructor(mesh: TriangleMesh) {
    this.order = curveOrder(mesh);
    this.boxes = triangleBoxes(mesh, this.order);
    this.leafCount = Math.ceil(this.order.length / LEAF);
    this.firstLeaf = 1;
    this.depth = 0;
    while (this.firstLeaf < this.leafCount) {
      this.firstLeaf *= 2;
      this.depth++;
    }
    this.bounds = new Float32Array(12 * this.firstLeaf);
    const { bounds } = this;
    for (let i = 0; i < bounds.length; i += 6) {
      bounds[i] = bounds[i + 1] = bounds[i + 2] = Infinity;
      bounds[i + 3] = bounds[i + 4] = bounds[i + 5] = -Infinity;
    }
    for (let i = 0; i < this.order.length; i++) {
      const n = 6 * (this.firstLeaf + Math.floor(i / LEAF));
      for (let k = 0; k < 3; k++) {
        const low = this.boxes[6 * i + k];
        const high = this.boxes[6 * i + 3 + k];
        if (low < bounds[n + k]) bounds[n + k] = low;
        if (high > bounds[n + 3 + k]) bounds[n + 3 + k] = high;
      }
    }
    for (let n = this.firstLeaf - 1; n >= 1; n--) {
      for (let k = 0; k < 6; k++) {
        const a = bounds[12 * n + k];
        const b = bounds[12 * n + 6 + k];
        bounds[6 * n + k] = k < 3 ? Math.min(a, b) : Math.max(a, b);
      }
    }
  }

  /** Triangles of leaf i: `order[leafStart]` to `order[leafEnd - 1]`. */
  leafStart(i: number): number {
    return LEAF * i;
  }

  leafEnd(i: number): number {
    return Math.min(this.order.length, LEAF * i + LEAF);
  }

  /**
   * Calls `visit` for each pair of leaves with overlapping boxes, including a leaf with itself, `a` not after `b`; stops when it returns
   * false. Descends both sides at once, so that distant parts are discarded early.
   */
  meetingLeaves(visit: (a: number, b: number) => boolean): void {
    const { firstLeaf } = this;
    // at most three pending pairs per level if a node is paired with itself, four if with another
    const stack = new Int32Array(2 * (4 * this.depth + 4));
    let top = 0;
    if (this.leafCount > 0) {
      stack[top++] = 1;
      stack[top++] = 1;
    }
    while (top > 0) {
      const b = stack[--top];
      const a = stack[--top];
      if (a >= firstLeaf) {
        if (!visit(a - firstLeaf, b - firstLeaf)) return;
        continue;
      }
      const lastA = 2 * a + 1;
      const lastB = 2 * b + 1;
      for (let p = lastA; p >= 2 * a; p--) {
        for (let q = lastB; q >= (a === b ? p : 2 * b); q--) {
          if (!this.boxesMeet(p, q)) continue;
          stack[top++] = p;
          stack[top++] = q;
        }
      }
    }
  }

  /** Whether the box of a leaf overlaps that of the triangle at place i of `order`. */
  meetsLeaf(leaf: number, i: number): boolean {
    return meets(this.bounds, 6 * (this.firstLeaf + leaf), this.boxes, 6 * i);
  }

  /** Whether the boxes of the triangles at places i and j of `order` overlap. */
  trianglesMeet(i: number, j: number): boolean {
    return meets(this.boxes, 6 * i, this.boxes, 6 * j);
  }

  /** An empty node has a box that overlaps none, not even itself. */
  private boxesMeet(a: number, b: number): boolean {
    return meets(this.bounds, 6 * a, this.bounds, 6 * b);
  }
}

/**
 * Six numbers per triangle: its box, rounded outwards to 32 bits. A triangle with a repeated vertex gets a box that overlaps no other. This
 * takes half the memory of exact boxes; false candidates are rejected by the exact test.
 */
function triangleBoxes({ positions, triangles }: TriangleMesh, order: Uint32Array): Float32Array {
  const boxes = new Float32Array(6 * order.length);
  for (let i = 0; i < order.length; i++) {
    const t = 3 * order[i];
    const a = 3 * triangles[t];
    const b = 3 * triangles[t + 1];
    const c = 3 * triangles[t + 2];
    if (a === b || b === c || c === a) {
      boxes.fill(Number.NaN, 6 * i, 6 * i + 6);
      continue;
    }
    for (let k = 0; k < 3; k++) {
      const low = Math.min(positions[a + k], positions[b + k], positions[c + k]);
      const high = Math.max(positions[a + k], positions[b + k], positions[c + k]);
      boxes[6 * i + k] = low - ROUNDED * Math.abs(low);
      boxes[6 * i + 3 + k] = high + ROUNDED * Math.abs(high);
    }
  }
  return boxes;
}

/** Whether the box at place p of one list overlaps the box at place q of another, min x y z, max x y z; never if one holds NaN. */
function meets(first: Float32Array, p: number, second: Float32Array, q: number): boolean {
  return (
    first[p] <= second[q + 3] &&
    first[p + 3] >= second[q] &&
    first[p + 1] <= second[q + 4] &&
    first[p + 4] >= second[q + 1] &&
    first[p + 2] <= second[q + 5] &&
    first[p + 5] >= second[q + 2]
  );
}

/** Triangle numbers sorted by the Morton code of their centres, ten bits per axis, equal codes in index order. */
function curveOrder({ positions, triangles }: TriangleMesh): Uint32Array {
  const count = triangles.length / 3;
  // three times the centre; computed twice, because a list of the centres would be the largest array here
  const centre = (t: number, k: number): number =>
    positions[3 * triangles[3 * t] + k] +
    positions[3 * triangles[3 * t + 1] + k] +
    positions[3 * triangles[3 * t + 2] + k];
  const min = [Infinity, Infinity, Infinity];
  const max = [-Infinity, -Infinity, -Infinity];
  for (let t = 0; t < count; t++) {
    for (let k = 0; k < 3; k++) {
      const c = centre(t, k);
      if (c < min[k]) min[k] = c;
      if (c > max[k]) max[k] = c;
    }
  }
  const extent = Math.max(max[0] - min[0], max[1] - min[1], max[2] - min[2]);
  const factor = extent > 0 ? 1023 / extent : 0;
  const codes = new Uint32Array(count);
  for (let t = 0; t < count; t++) {
    codes[t] =
      spread((centre(t, 0) - min[0]) * factor) |
      (spread((centre(t, 1) - min[1]) * factor) << 1) |
      (spread((centre(t, 2) - min[2]) * factor) << 2);
  }
  let from: Uint32Array = new Uint32Array(count);
  for (let t = 0; t < count; t++) from[t] = t;
  let to: Uint32Array = new Uint32Array(count);
  for (let shift = 0; shift < 30; shift += 10) {
    const start = new Uint32Array(1025);
    for (let i = 0; i < count; i++) start[((codes[i] >>> shift) & 1023) + 1]++;
    for (let d = 0; d < 1024; d++) start[d + 1] += start[d];
    for (let i = 0; i < count; i++) to[start[(codes[from[i]] >>> shift) & 1023]++] = from[i];
    [from, to] = [to, from];
  }
  return from;
}

/** Spreads ten bits with two zeros between them. */
function spread(value: number): number {
  let x = value & 1023;
  x = (x | (x << 16)) & 0x30000ff;
  x = (x | (x << 8)) & 0x300f00f;
  x = (x | (x << 4)) & 0x30c30c3;
  return (x | (x << 2)) & 0x9249249;
}
