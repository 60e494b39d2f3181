import { compiledPart, PAGE_BYTES, started, whereRoom } from './compiled-part.js';
import type { TriangleMesh } from './mesh.js';

/** Half a unit in the last place of a 32-bit number: boxes are padded by this share of their distance from the origin. */
const ROUNDED = 2 ** -24;
/** Number of values for a triangle's box. */
const BOX = 6;

/** The triangles of a mesh with their boxes, which a box tree sorts into parts. */
export interface BoxOrder {
  /** Triangles in their current order. */
  readonly order: Uint32Array;
  /** For each triangle, in this order: centre x y z and padded half side x y z of its box. */
  readonly boxes: Float32Array;
  /**
   * Output of `layAround`: low and high corner of a box around the triangles and of one around their centres, each as x y z and an unused
   * fourth value.
   */
  readonly laid: Float32Array;
  /** Computes the boxes around `count` triangles, starting at index `from`. */
  layAround(from: number, count: number): void;
  /**
   * Partitions these triangles by whether their centre is before `middle` along an axis (Hoare's partition) and returns the index of the
   * first one that is not.
   */
  part(from: number, count: number, axis: number, middle: number): number;
}

/** For fewer triangles the compiled version saves less time than setting up its memory costs. */
const LEAST_COMPILED = 4000;

/** The compiled version if it is worth using, was built and the machine supports it; otherwise the plain one. */
export function boxOrder(
  mesh: TriangleMesh,
  module = compiledPart(new URL('./box-order.wasm', import.meta.url)),
): BoxOrder {
  if (!module || mesh.triangles.length < 3 * LEAST_COMPILED) return new PlainBoxOrder(mesh);
  return whereRoom(() => new CompiledBoxOrder(module, mesh)) ?? new PlainBoxOrder(mesh);
}

export class PlainBoxOrder implements BoxOrder {
  readonly order: Uint32Array;
  readonly boxes: Float32Array;
  readonly laid = new Float32Array(16);

  constructor(mesh: TriangleMesh) {
    this.order = new Uint32Array(mesh.triangles.length / 3);
    this.boxes = new Float32Array(BOX * this.order.length);
    enter(mesh, this.order, this.boxes);
  }

  layAround(from: number, count: number): void {
    const { boxes, laid } = this;
    for (let k = 0; k < 3; k++) {
      let [low, high, first, last] = [Infinity, -Infinity, Infinity, -Infinity];
      for (let b = BOX * from + k; b < BOX * (from + count); b += BOX) {
        const centre = boxes[b];
        const half = boxes[b + 3];
        if (centre - half < low) low = centre - half;
        if (centre + half > high) high = centre + half;
        if (centre < first) first = centre;
        if (centre > last) last = centre;
      }
      laid[k] = low;
      laid[4 + k] = high;
      laid[8 + k] = first;
      laid[12 + k] = last;
    }
  }

  part(from: number, count: number, axis: number, middle: number): number {
    const { boxes, order } = this;
    let left = from;
    let right = from + count - 1;
    for (;;) {
      while (left <= right && boxes[BOX * left + axis] < middle) left++;
      while (left <= right && boxes[BOX * right + axis] >= middle) right--;
      if (left >= right) return left;
      const t = order[left];
      order[left] = order[right];
      order[right] = t;
      for (let k = 0; k < BOX; k++) {
        const side = boxes[BOX * left + k];
        boxes[BOX * left + k] = boxes[BOX * right + k];
        boxes[BOX * right + k] = side;
      }
      left++;
      right--;
    }
  }
}

/** Exports of build/assembly/box-order.ts. */
interface OrderExports {
  around(boxesAt: number, from: number, count: number, laidAt: number): void;
  parted(boxesAt: number, orderAt: number, from: number, count: number, axis: number, middle: number): number;
}

/** Bytes of `laid`; the boxes follow it. */
const LAID_BYTES = 64;

/** The same with the compiled program, whose memory holds the output of `layAround`, the boxes and the order. */
export class CompiledBoxOrder implements BoxOrder {
  readonly order: Uint32Array;
  readonly boxes: Float32Array;
  readonly laid: Float32Array;
  private readonly program: OrderExports;

  constructor(module: WebAssembly.Module, mesh: TriangleMesh) {
    const count = mesh.triangles.length / 3;
    const bytes = LAID_BYTES + 4 * (BOX + 1) * count;
    const memory = new WebAssembly.Memory({ initial: Math.ceil((bytes + 16) / PAGE_BYTES) });
    this.program = started<OrderExports>(module, memory);
    this.laid = new Float32Array(memory.buffer, 0, 16);
    this.boxes = new Float32Array(memory.buffer, LAID_BYTES, BOX * count);
    this.order = new Uint32Array(memory.buffer, this.boxes.byteOffset + this.boxes.byteLength, count);
    enter(mesh, this.order, this.boxes);
  }

  layAround(from: number, count: number): void {
    this.program.around(LAID_BYTES, from, count, 0);
  }

  part(from: number, count: number, axis: number, middle: number): number {
    return this.program.parted(LAID_BYTES, this.order.byteOffset, from, count, axis, middle);
  }
}

/** Fills in the triangles in their own order. */
function enter({ positions, triangles }: TriangleMesh, order: Uint32Array, boxes: Float32Array): void {
  for (let t = 0; t < order.length; t++) {
    order[t] = t;
    const p = 3 * triangles[3 * t];
    const q = 3 * triangles[3 * t + 1];
    const r = 3 * triangles[3 * t + 2];
    const b = BOX * t;
    layBox(boxes, b, positions[p], positions[q], positions[r]);
    layBox(boxes, b + 1, positions[p + 1], positions[q + 1], positions[r + 1]);
    layBox(boxes, b + 2, positions[p + 2], positions[q + 2], positions[r + 2]);
  }
}

/** Centre and half side along one axis, for a triangle with these coordinates. */
function layBox(boxes: Float32Array, at: number, a: number, b: number, c: number): void {
  const one = Math.fround(a);
  const two = Math.fround(b);
  const three = Math.fround(c);
  let low = Math.min(one, two);
  if (three < low) low = three;
  let high = Math.max(one, two);
  if (three > high) high = three;
  const half = (high - low) / 2;
  boxes[at] = low + half;
  boxes[at + 3] = half + (Math.abs(low) + half) * ROUNDED;
}
