import type { TriangleMesh } from '../mesh.js';
import { checkTriangleCount, EXPORT_AGAIN, MOST_TRIANGLES, refuse } from './mesh-file.js';

/** List of numbers in a typed array that doubles, so that memory depends on the data read, never on a claimed count. */
export class GrowingNumbers<T extends Float64Array | Uint32Array> {
  length = 0;
  private data: T;
  private readonly make: (length: number) => T;

  constructor(make: (length: number) => T) {
    this.make = make;
    this.data = make(256);
  }

  push(value: number): void {
    if (this.length === this.data.length) {
      const larger = this.make(2 * this.length);
      larger.set(this.data);
      this.data = larger;
    }
    this.data[this.length++] = value;
  }

  at(i: number): number {
    return this.data[i];
  }

  /** A copy of the numbers so far. */
  values(): T {
    return this.data.slice(0, this.length) as T;
  }
}

/** Collects vertices and triangles of one object and rejects data that cannot be a surface. */
export class MeshBuilder {
  readonly file: string;
  readonly positions = new GrowingNumbers((n) => new Float64Array(n));
  readonly triangles = new GrowingNumbers((n) => new Uint32Array(n));

  constructor(file: string) {
    this.file = file;
  }

  get vertexCount(): number {
    return this.positions.length / 3;
  }

  /** `where` is called only for the error. Vertices are numbered from 0 in the order of the calls. */
  vertex(x: number, y: number, z: number, where: () => string): void {
    checkFinite(this.file, x, y, z, where);
    if (this.vertexCount >= 3 * MOST_TRIANGLES) {
      refuse(this.file, where(), `more than ${3 * MOST_TRIANGLES} vertices`, 'Reduce the surface');
    }
    this.positions.push(x);
    this.positions.push(y);
    this.positions.push(z);
  }

  /** Indices are checked at the end, since some formats let faces come before vertices. */
  triangle(a: number, b: number, c: number): void {
    if (this.triangles.length >= 3 * MOST_TRIANGLES) checkTriangleCount(this.file, MOST_TRIANGLES + 1);
    this.triangles.push(a);
    this.triangles.push(b);
    this.triangles.push(c);
  }

  mesh(): TriangleMesh {
    return { positions: this.positions.values(), triangles: this.triangles.values() };
  }
}

/** The largest 32-bit float. */
export const LARGEST_COORDINATE = 3.4028234663852886e38;

/** Rejects NaN, infinities and numbers beyond 32-bit floats. */
export function checkFinite(file: string, x: number, y: number, z: number, where: () => string): void {
  const limit = LARGEST_COORDINATE;
  if (Math.abs(x) <= limit && Math.abs(y) <= limit && Math.abs(z) <= limit) return;
  refuse(file, where(), `the coordinates ${x}, ${y}, ${z} are not finite numbers`, EXPORT_AGAIN);
}

/** Rejects a vertex index out of range. */
export function checkIndices(file: string, mesh: TriangleMesh, context = ''): void {
  const count = mesh.positions.length / 3;
  for (let i = 0; i < mesh.triangles.length; i++) {
    if (mesh.triangles[i] < count) continue;
    refuse(
      file,
      `${context}triangle ${Math.floor(i / 3) + 1}`,
      `it names vertex ${mesh.triangles[i]} (counted from 0) of ${count} vertices`,
      EXPORT_AGAIN,
    );
  }
}

/** The mesh with only the used vertices, renumbered in order of use. */
export function compacted(positions: ArrayLike<number>, triangles: Uint32Array): TriangleMesh {
  const number = new Map<number, number>();
  const result = new Uint32Array(triangles.length);
  const used: number[] = [];
  for (let i = 0; i < triangles.length; i++) {
    const v = triangles[i];
    let n = number.get(v);
    if (n === undefined) {
      n = number.size;
      number.set(v, n);
      used.push(v);
    }
    result[i] = n;
  }
  const kept = new Float64Array(3 * used.length);
  for (let i = 0; i < used.length; i++) {
    for (let k = 0; k < 3; k++) kept[3 * i + k] = positions[3 * used[i] + k];
  }
  return { positions: kept, triangles: result };
}
