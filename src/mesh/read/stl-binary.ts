import type { TriangleMesh } from '../mesh.js';
import { checkFinite } from './mesh-builder.js';
import { checkTriangleCount, EXPORT_AGAIN, refuse } from './mesh-file.js';
import { STL_TRIANGLE_BYTES, type StlWelder, stlWelder } from './stl-welder.js';

/** 80 bytes of free text and the number of triangles. */
export const STL_HEADER_BYTES = 84;

/** The number of triangles a binary header claims; undefined under 84 bytes. */
export function claimedTriangles(start: Uint8Array): number | undefined {
  if (start.length < STL_HEADER_BYTES) return undefined;
  return new DataView(start.buffer, start.byteOffset, start.byteLength).getUint32(80, true);
}

/** Whether the header's count matches the file's size exactly; ignores the text in the header. */
export function isBinaryStlSize(start: Uint8Array, size: number): boolean {
  const count = claimedTriangles(start);
  return count !== undefined && size === STL_HEADER_BYTES + STL_TRIANGLE_BYTES * count;
}

/**
 * Binary STL fed in pieces of any size. The claimed count is checked against `size` before memory is allocated; equal corners are joined
 * while reading, so the triangle soup is never in memory. Normals and attributes are not used: the order of the corners determines the
 * side.
 */
export class BinaryStlReader {
  private readonly file: string;
  private readonly size: number;
  private readonly header = new Uint8Array(STL_HEADER_BYTES);
  private headerLength = 0;
  private readonly rest = new Uint8Array(STL_TRIANGLE_BYTES);
  private restLength = 0;
  private welder: StlWelder | undefined;
  private triangles = new Uint32Array(0);
  private count = 0;
  private read = 0;

  constructor(file: string, size: number) {
    this.file = file;
    this.size = size;
  }

  push(piece: Uint8Array): void {
    let at = 0;
    if (this.headerLength < STL_HEADER_BYTES) {
      const taken = piece.subarray(0, STL_HEADER_BYTES - this.headerLength);
      this.header.set(taken, this.headerLength);
      this.headerLength += taken.length;
      at = taken.length;
      if (this.headerLength === STL_HEADER_BYTES) this.begin();
    }
    if (this.restLength > 0) {
      const taken = piece.subarray(at, at + STL_TRIANGLE_BYTES - this.restLength);
      this.rest.set(taken, this.restLength);
      this.restLength += taken.length;
      at += taken.length;
      if (this.restLength < STL_TRIANGLE_BYTES) return;
      this.restLength = 0;
      this.take(this.rest, 0, 1);
    }
    const whole = Math.floor((piece.length - at) / STL_TRIANGLE_BYTES);
    if (whole > 0) this.take(piece, at, whole);
    const left = piece.subarray(at + whole * STL_TRIANGLE_BYTES);
    this.rest.set(left);
    this.restLength = left.length;
  }

  end(): TriangleMesh {
    if (this.headerLength < STL_HEADER_BYTES || this.read < this.count || this.restLength > 0) {
      refuse(
        this.file,
        this.read > 0 ? `triangle ${this.read + 1}` : '',
        `the file ends after ${this.read} of ${this.count} triangles`,
        `Copy the file again or export it again`,
      );
    }
    return { positions: this.welder!.positions(), triangles: this.triangles };
  }

  private begin(): void {
    const count = claimedTriangles(this.header) ?? 0;
    const room = Math.floor((this.size - STL_HEADER_BYTES) / STL_TRIANGLE_BYTES);
    if (this.size !== STL_HEADER_BYTES + STL_TRIANGLE_BYTES * count) {
      refuse(
        this.file,
        'header of a binary STL',
        `it claims ${count} triangles, ${this.size} bytes hold ${room}`,
        count > room ? 'The file is cut off: copy it again or export it again' : EXPORT_AGAIN,
      );
    }
    checkTriangleCount(this.file, count);
    if (count === 0) refuse(this.file, '', 'it contains no triangles', EXPORT_AGAIN);
    this.count = count;
    this.triangles = new Uint32Array(3 * count);
    // a closed body of n triangles has n/2 + 2 corners; a few more from several bodies and open ends do not make the table grow
    this.welder = stlWelder(Math.ceil(0.51 * count) + 16);
  }

  private take(bytes: Uint8Array, at: number, triangles: number): void {
    if (this.read + triangles > this.count) {
      refuse(this.file, '', `more than the ${this.count} triangles of its header`, EXPORT_AGAIN);
    }
    const taken = this.welder!.take(bytes.subarray(at), triangles, this.triangles, 3 * this.read);
    this.read += taken;
    if (taken < triangles) this.refuseTriangle(bytes, at + taken * STL_TRIANGLE_BYTES);
  }

  /** Throws with the corner of the triangle at an offset that is not finite. */
  private refuseTriangle(bytes: Uint8Array, at: number): void {
    const view = new DataView(bytes.buffer, bytes.byteOffset + at, STL_TRIANGLE_BYTES);
    for (let p = 12; p < 48; p += 12) {
      const [x, y, z] = [0, 4, 8].map((k) => view.getFloat32(p + k, true));
      checkFinite(this.file, x, y, z, () => `triangle ${this.read + 1}`);
    }
  }
}

/** Binary STL from bytes in memory; see `BinaryStlReader`. */
export function readBinaryStl(bytes: Uint8Array, file: string): TriangleMesh {
  const reader = new BinaryStlReader(file, bytes.length);
  reader.push(bytes);
  return reader.end();
}
