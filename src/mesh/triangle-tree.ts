import type { TriangleMesh } from './mesh.js';

const LEAF = 4;

/**
 * Boxes about the triangles in a complete binary tree, the triangles sorted along a space-filling curve (Morton
 * 1966, as in the linear bounding-volume tree of Lauterbach et al. 2009; both from memory). Made for all-pairs
 * questions on one mesh: linear to build, no recursion.
 */
export class TriangleTree {
  /** Triangles in curve order. */
  readonly order: Uint32Array;
  readonly leafCount: number;
  private readonly firstLeaf: number;
  private readonly depth: number;
  /** Six numbers a node, from node 1 (root): min x y z, max x y z. */
  private readonly bounds: Float64Array;
  private readonly stack = new Int32Array(128);

  constructor(mesh: TriangleMesh) {
    this.order = curveOrder(mesh);
    this.leafCount = Math.ceil(this.order.length / LEAF);
    this.firstLeaf = 1;
    this.depth = 0;
    while (this.firstLeaf < this.leafCount) {
      this.firstLeaf *= 2;
      this.depth++;
    }
    this.bounds = new Float64Array(12 * this.firstLeaf);
    for (let n = 0; n < 2 * this.firstLeaf; n++) {
      this.bounds.fill(Infinity, 6 * n, 6 * n + 3);
      this.bounds.fill(-Infinity, 6 * n + 3, 6 * n + 6);
    }
    const { positions, triangles } = mesh;
    for (let i = 0; i < this.order.length; i++) {
      const n = 6 * (this.firstLeaf + Math.floor(i / LEAF));
      for (let c = 0; c < 3; c++) {
        const p = 3 * triangles[3 * this.order[i] + c];
        for (let k = 0; k < 3; k++) {
          const x = positions[p + k];
          if (x < this.bounds[n + k]) this.bounds[n + k] = x;
          if (x > this.bounds[n + 3 + k]) this.bounds[n + 3 + k] = x;
        }
      }
    }
    for (let n = this.firstLeaf - 1; n >= 1; n--) {
      for (let k = 0; k < 6; k++) {
        const a = this.bounds[12 * n + k];
        const b = this.bounds[12 * n + 6 + k];
        this.bounds[6 * n + k] = k < 3 ? Math.min(a, b) : Math.max(a, b);
      }
    }
  }

  /** Triangles of leaf i: `order[from]` to `order[to - 1]`. */
  leafRange(i: number): [number, number] {
    return [LEAF * i, Math.min(this.order.length, LEAF * i + LEAF)];
  }

  /** Calls `visit` for each leaf from `leaf` on whose box meets the box of `leaf`; stops where it returns false. */
  overlapping(leaf: number, visit: (other: number) => boolean): boolean {
    const { bounds, stack, firstLeaf, depth } = this;
    const q = 6 * (firstLeaf + leaf);
    let top = 0;
    stack[top++] = 1;
    stack[top++] = depth;
    while (top > 0) {
      const shift = stack[--top];
      const node = stack[--top];
      // the last leaf below this node comes before the one asked for
      if (((node + 1) << shift) - 1 - firstLeaf < leaf) continue;
      const n = 6 * node;
      if (
        bounds[n] > bounds[q + 3] ||
        bounds[n + 3] < bounds[q] ||
        bounds[n + 1] > bounds[q + 4] ||
        bounds[n + 4] < bounds[q + 1] ||
        bounds[n + 2] > bounds[q + 5] ||
        bounds[n + 5] < bounds[q + 2]
      )
        continue;
      if (shift === 0) {
        if (!visit(node - firstLeaf)) return false;
        continue;
      }
      stack[top++] = 2 * node + 1;
      stack[top++] = shift - 1;
      stack[top++] = 2 * node;
      stack[top++] = shift - 1;
    }
    return true;
  }
}

/** Triangle numbers sorted by the Morton code of their centres, ten bits an axis, equal codes in index order. */
function curveOrder({ positions, triangles }: TriangleMesh): Uint32Array {
  const count = triangles.length / 3;
  const centre = new Float64Array(3 * count);
  const min = [Infinity, Infinity, Infinity];
  const max = [-Infinity, -Infinity, -Infinity];
  for (let t = 0; t < count; t++) {
    for (let k = 0; k < 3; k++) {
      const c =
        positions[3 * triangles[3 * t] + k] +
        positions[3 * triangles[3 * t + 1] + k] +
        positions[3 * triangles[3 * t + 2] + k];
      centre[3 * t + k] = c;
      if (c < min[k]) min[k] = c;
      if (c > max[k]) max[k] = c;
    }
  }
  const extent = Math.max(max[0] - min[0], max[1] - min[1], max[2] - min[2]);
  const factor = extent > 0 ? 1023 / extent : 0;
  const codes = new Uint32Array(count);
  for (let t = 0; t < count; t++) {
    codes[t] =
      spread((centre[3 * t] - min[0]) * factor) |
      (spread((centre[3 * t + 1] - min[1]) * factor) << 1) |
      (spread((centre[3 * t + 2] - min[2]) * factor) << 2);
  }
  let from: Uint32Array = Uint32Array.from({ length: count }, (_, t) => t);
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

/** Ten bits with two zeros between neighbours. */
function spread(value: number): number {
  let x = value & 1023;
  x = (x | (x << 16)) & 0x30000ff;
  x = (x | (x << 8)) & 0x300f00f;
  x = (x | (x << 4)) & 0x30c30c3;
  return (x | (x << 2)) & 0x9249249;
}
