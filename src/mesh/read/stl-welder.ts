import { compiledPart, PAGE_BYTES, started } from '../compiled-part.js';
import { VertexWelder } from '../vertex-welder.js';

/** Normal, three corners (12 little-endian 32-bit floats) and a 16-bit attribute. */
export const STL_TRIANGLE_BYTES = 50;

/** Numbers the corners of the triangles of a binary STL, in the order of the file; equal corners get the same number. */
export interface StlWelder {
  /**
   * Writes three numbers per triangle into `into` from index `to` on. Returns how many triangles were processed: all, or those before the
   * first with a coordinate that is not finite.
   */
  take(bytes: Uint8Array, triangles: number, into: Uint32Array, to: number): number;
  /** The distinct corners, 3 numbers each. */
  positions(): Float64Array;
}

/** The compiled welder if it was built and the machine supports it, else the plain one. */
export function stlWelder(expected: number): StlWelder {
  const module = compiledPart(new URL('./stl-weld.wasm', import.meta.url));
  return module ? new CompiledStlWelder(module, expected) : new PlainStlWelder(expected);
}

export class PlainStlWelder implements StlWelder {
  private readonly welder: VertexWelder;

  constructor(expected: number) {
    this.welder = new VertexWelder(0, expected);
  }

  take(bytes: Uint8Array, triangles: number, into: Uint32Array, to: number): number {
    const view = new DataView(bytes.buffer, bytes.byteOffset, triangles * STL_TRIANGLE_BYTES);
    for (let t = 0; t < triangles; t++) {
      for (let k = 0; k < 3; k++) {
        const p = t * STL_TRIANGLE_BYTES + 12 + 12 * k;
        const x = view.getFloat32(p, true);
        const y = view.getFloat32(p + 4, true);
        const z = view.getFloat32(p + 8, true);
        if (!Number.isFinite(x + y + z) && ![x, y, z].every(Number.isFinite)) return t;
        into[to + 3 * t + k] = this.welder.add(x, y, z);
      }
    }
    return triangles;
  }

  positions(): Float64Array {
    return this.welder.positions();
  }
}

/** Exports of build/assembly/stl-weld.ts. */
interface WeldExports {
  use(
    recentAt: number,
    tableAt: number,
    slots: number,
    pointsAt: number,
    capacity: number,
    known: number,
  ): void;
  pointCount(): number;
  take(from: number, triangles: number, to: number): number;
}

const POINT_BYTES = 12;
/** Numbers of the most recent points, and the hashes of the next corners. */
const RECENT_BYTES = 4 * (2 ** 14 + 64);
/** Triangles processed at once: 4 MiB of file. */
const MOST_TRIANGLES_AT_ONCE = Math.floor((4 * 2 ** 20) / STL_TRIANGLE_BYTES);

/**
 * The same with the compiled program. Its memory holds, in this order, a piece of the file, the numbers of its corners, the most recent
 * points, the hash table and the points; the last two are reallocated when they become too small.
 */
export class CompiledStlWelder implements StlWelder {
  private readonly memory: WebAssembly.Memory;
  private readonly program: WeldExports;
  /** Capacity of the first two parts of the memory, triangles. */
  private readonly atOnce: number;
  private readonly numbersAt: number;
  private readonly recentAt: number;
  private readonly tableAt: number;
  private pointsAt = 0;
  private capacity = 0;

  constructor(module: WebAssembly.Module, expected: number) {
    this.atOnce = Math.min(MOST_TRIANGLES_AT_ONCE, Math.max(1, 2 * expected));
    this.numbersAt = rounded(this.atOnce * STL_TRIANGLE_BYTES);
    this.recentAt = this.numbersAt + rounded(this.atOnce * 12);
    this.tableAt = this.recentAt + RECENT_BYTES;
    this.memory = new WebAssembly.Memory({ initial: 1 });
    this.program = started<WeldExports>(module, this.memory);
    this.layOut(Math.max(16, expected));
  }

  take(bytes: Uint8Array, triangles: number, into: Uint32Array, to: number): number {
    for (let done = 0; done < triangles; ) {
      const some = Math.min(this.atOnce, triangles - done);
      const from = done * STL_TRIANGLE_BYTES;
      new Uint8Array(this.memory.buffer).set(bytes.subarray(from, from + some * STL_TRIANGLE_BYTES));
      let taken = 0;
      while (taken < some) {
        const now = this.program.take(taken * STL_TRIANGLE_BYTES, some - taken, this.numbersAt + 12 * taken);
        taken += now;
        if (taken === some) break;
        if (this.program.pointCount() + 3 <= this.capacity) break;
        this.layOut(2 * this.capacity);
      }
      into.set(new Uint32Array(this.memory.buffer, this.numbersAt, 3 * taken), to + 3 * done);
      if (taken < some) return done + taken;
      done += some;
    }
    return triangles;
  }

  positions(): Float64Array {
    return new Float64Array(
      new Float32Array(this.memory.buffer, this.pointsAt, 3 * this.program.pointCount()),
    );
  }

  /** Reserves space for a number of points and keeps the existing ones. */
  private layOut(capacity: number): void {
    const known = this.capacity === 0 ? 0 : this.program.pointCount();
    let slots = 32;
    while (slots < 2 * capacity) slots *= 2;
    const pointsAt = this.tableAt + 4 * slots;
    const wanted = Math.ceil((pointsAt + POINT_BYTES * capacity) / PAGE_BYTES);
    const has = this.memory.buffer.byteLength / PAGE_BYTES;
    if (wanted > has) this.memory.grow(wanted - has);
    if (known > 0)
      new Uint8Array(this.memory.buffer).copyWithin(
        pointsAt,
        this.pointsAt,
        this.pointsAt + POINT_BYTES * known,
      );
    this.pointsAt = pointsAt;
    this.capacity = capacity;
    this.program.use(this.recentAt, this.tableAt, slots, pointsAt, capacity, known);
  }
}

const rounded = (bytes: number): number => 16 * Math.ceil(bytes / 16);
