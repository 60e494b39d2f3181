import { compiledPart, enlarge, started, whereRoom } from './compiled-part.js';
import type { TriangleMesh } from './mesh.js';

/** Exports of build/assembly/mesh-passes.ts; memory addresses are in bytes. */
export interface PassProgram {
  slivers(positions: number, triangles: number, count: number, ratio: number, out: number): number;
  extent(positions: number, count: number, x: number, y: number, z: number, out: number): void;
  overhangs(
    positions: number,
    triangles: number,
    count: number,
    x: number,
    y: number,
    z: number,
    steep: number,
    bed: number,
    out: number,
  ): number;
  stl(positions: number, triangles: number, count: number, out: number): void;
  inUnits(positions: number, count: number, units: number): number;
  vertexRows(units: number, count: number, out: number): number;
  triangleRows(triangles: number, count: number, out: number): number;
}

export const passProgram = (): WebAssembly.Module | undefined =>
  compiledPart(new URL('./mesh-passes.wasm', import.meta.url));

/** For fewer triangles, copying the mesh takes as long as the pass; for more, the copy costs memory. */
const LEAST_COMPILED = 50;
const MOST_COMPILED = 100_000;

const NUMBER_BYTES = 8;
/** Bytes for the output of a pass, in front of the mesh. */
const HEAD_BYTES = 64;
/** Number of values in a row that `overhangs` writes. */
export const OVERHANG_ROW = 5;
/** Bytes of a triangle in a binary STL file, and greatest length of an element of a 3MF. */
const STL_BYTES = 50;
const ROW_BYTES = 64;

/**
 * Single passes over a small mesh by the compiled program. Each must be called right after the mesh was copied in: the memory is reused for
 * the next mesh. The plain versions are next to the callers.
 */
export class MeshPasses {
  readonly module: WebAssembly.Module;
  private readonly memory = new WebAssembly.Memory({ initial: 1 });
  private readonly program: PassProgram;
  private vertices = 0;
  private triangles = 0;
  private trianglesAt = 0;
  private outAt = 0;

  constructor(module: WebAssembly.Module) {
    this.module = module;
    this.program = started<PassProgram>(module, this.memory);
  }

  /** Undefined if the memory cannot grow so far. */
  copyIn({ positions, triangles }: TriangleMesh): this | undefined {
    this.vertices = positions.length / 3;
    this.triangles = triangles.length / 3;
    this.trianglesAt = HEAD_BYTES + NUMBER_BYTES * positions.length;
    this.outAt = NUMBER_BYTES * Math.ceil((this.trianglesAt + 4 * triangles.length) / NUMBER_BYTES);
    if (!this.hasRoom(Math.max(NUMBER_BYTES * OVERHANG_ROW, STL_BYTES) * this.triangles)) return undefined;
    new Float64Array(this.memory.buffer, HEAD_BYTES, positions.length).set(positions);
    new Uint32Array(this.memory.buffer, this.trianglesAt, triangles.length).set(triangles);
    return this;
  }

  /** Numbers of the triangles that are flatter than a ratio. */
  slivers(ratio: number): number[] {
    const found = this.program.slivers(HEAD_BYTES, this.trianglesAt, this.triangles, ratio, this.outAt);
    return [...new Uint32Array(this.memory.buffer, this.outAt, found)];
  }

  /** Smallest and largest height of the vertices along a direction. */
  extent(x: number, y: number, z: number): Float64Array {
    this.program.extent(HEAD_BYTES, this.vertices, x, y, z, 0);
    return new Float64Array(this.memory.buffer, 0, 2).slice();
  }

  /** Rows of centre x y z, area and projected area. */
  overhangs(x: number, y: number, z: number, steep: number, bed: number): Float64Array {
    const { program, trianglesAt, triangles, outAt } = this;
    const found = program.overhangs(HEAD_BYTES, trianglesAt, triangles, x, y, z, steep, bed, outAt);
    return new Float64Array(this.memory.buffer, outAt, OVERHANG_ROW * found).slice();
  }

  /** The triangles of a binary STL. */
  stl(): Uint8Array {
    this.program.stl(HEAD_BYTES, this.trianglesAt, this.triangles, this.outAt);
    return new Uint8Array(this.memory.buffer, this.outAt, STL_BYTES * this.triangles).slice();
  }

  /**
   * The elements of a 3MF with coordinates of five decimals; read them before the next pass. Undefined if a coordinate is not a 32-bit
   * float below 20 m.
   */
  elements(): Record<'vertices' | 'triangles', Uint8Array> | undefined {
    const { program, vertices, triangles, outAt } = this;
    const rowsAt = outAt + 12 * vertices;
    if (!this.hasRoom(rowsAt - outAt + ROW_BYTES * (vertices + triangles))) return undefined;
    const { buffer } = this.memory;
    if (program.inUnits(HEAD_BYTES, vertices, outAt) === 0) return undefined;
    const verticesEnd = program.vertexRows(outAt, vertices, rowsAt);
    const end = program.triangleRows(this.trianglesAt, triangles, verticesEnd);
    return {
      vertices: new Uint8Array(buffer, rowsAt, verticesEnd - rowsAt),
      triangles: new Uint8Array(buffer, verticesEnd, end - verticesEnd),
    };
  }

  /** Makes room for an answer; false if the memory cannot grow so far. */
  private hasRoom(bytes: number): boolean {
    return whereRoom(() => enlarge(this.memory, this.outAt + bytes)) ?? false;
  }
}

let running: MeshPasses | undefined;

/** The compiled passes with this mesh copied in; undefined if only the plain versions can be used. */
export function passesOver(mesh: TriangleMesh, module = passProgram()): MeshPasses | undefined {
  const count = mesh.triangles.length / 3;
  // a part of a large mesh may keep all positions of that mesh
  const isSmall = count <= MOST_COMPILED && mesh.positions.length <= 9 * count;
  if (!module || !isSmall || count < LEAST_COMPILED) return undefined;
  if (running?.module !== module) running = whereRoom(() => new MeshPasses(module));
  return running?.copyIn(mesh);
}
