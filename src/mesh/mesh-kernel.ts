import type { Vec3 } from '../foundation/vector.js';
import { compiledPart, enlarge, started, whereRoom } from './compiled-part.js';
import type { TriangleMesh } from './mesh.js';

/** A pairing in which the edges whose two triangles run in the same direction, if any, are not listed yet. */
export interface Paired {
  /** Length 3·triangles: the opposite half-edge, `RIM` (-1) or `UNPAIRED` (-2). */
  twin: Int32Array;
  /** Undirected edges. */
  edgeCount: number;
  /** Vertex pairs a0 b0 a1 b1 … of the edges used by more than two triangles. */
  nonManifoldEdges: number[];
  /** Component number of each triangle, in order of the first triangle. Triangles that share an edge belong together. */
  component: Uint32Array;
  /** Number of triangles of each component. */
  componentSizes: Uint32Array;
  /** False if the two triangles of some edge run in the same direction. */
  isConsistent: boolean;
}

/** Exports of build/assembly/topology.ts, whose parts explain each of them. */
interface TopologyExports {
  join(
    positions: number,
    vertices: number,
    triangles: number,
    corners: number,
    numbers: number,
    table: number,
    slots: number,
    joined: number,
  ): number;
  usedVertices(): number;
  pair(
    triangles: number,
    halfEdges: number,
    vertices: number,
    heads: number,
    firstUses: number,
    twins: number,
    parents: number,
    shared: number,
    sizes: number,
  ): void;
  edgeCount(): number;
  sharedCount(): number;
  isPairedConsistently(): number;
  componentCount(): number;
  isFreeOfCopies(twins: number, halfEdges: number): number;
  degenerate(positions: number, triangles: number, corners: number, limit: number, found: number): number;
  pinched(
    triangles: number,
    twins: number,
    corners: number,
    vertices: number,
    seen: number,
    fans: number,
    found: number,
  ): number;
  agree(
    triangles: number,
    twins: number,
    count: number,
    signs: number,
    queue: number,
    oneSided: number,
  ): number;
  volumesOf(
    positions: number,
    triangles: number,
    count: number,
    signs: number,
    component: number,
    ox: number,
    oy: number,
    oz: number,
    volumes: number,
    components: number,
  ): void;
  boxOf(
    positions: number,
    vertices: number,
    triangles: number,
    corners: number,
    used: number,
    out: number,
  ): void;
  measured(
    positions: number,
    triangles: number,
    corners: number,
    ox: number,
    oy: number,
    oz: number,
    out: number,
  ): void;
  crowded(positions: number, triangles: number, corners: number): number;
  order(
    positions: number,
    vertices: number,
    triangles: number,
    corners: number,
    numbers: number,
    moved: number,
  ): number;
  grid(
    positions: number,
    vertices: number,
    ox: number,
    oy: number,
    oz: number,
    step: number,
    out: number,
  ): void;
  apart(positions: number, vertices: number, table: number, slots: number): number;
}

/** Above either limit the compiled program gains little, and its copy of the mesh costs memory that it does not release. */
const MOST_TRIANGLES = 100_000;
const MOST_VERTICES = 100_000;

/** Memory that the compiled program uses for itself. */
const OWN_BYTES = 1024;
/** Most memory that any of the functions uses per triangle and per vertex, and in addition to these. */
const TRIANGLE_BYTES = 48;
const VERTEX_BYTES = 72;
const LEAST_BYTES = OWN_BYTES + 1024;

let kept: MeshKernel | undefined;

/** The compiled program with room for a mesh; undefined if the plain code must be used. */
export function meshKernel({ positions, triangles }: TriangleMesh): MeshKernel | undefined {
  if (triangles.length > 3 * MOST_TRIANGLES || positions.length > 3 * MOST_VERTICES) return undefined;
  const module = kept ? undefined : compiledPart(new URL('./topology.wasm', import.meta.url));
  if (module) kept = whereRoom(() => new MeshKernel(module));
  return kept?.holds(positions.length / 3, triangles.length / 3) ? kept : undefined;
}

/**
 * The compiled program in one memory that all meshes use in turn: each function copies its input to the start of the memory, and copies its
 * results out. Each has a plain version that gives the same results to the last bit.
 */
export class MeshKernel {
  private readonly memory = new WebAssembly.Memory({ initial: 1 });
  private readonly program: TopologyExports;
  /** Where free memory begins. */
  private end = OWN_BYTES;

  constructor(module: WebAssembly.Module) {
    this.program = started<TopologyExports>(module, this.memory);
  }

  /** Makes room for a mesh; false if the memory cannot grow so far. */
  holds(vertices: number, triangles: number): boolean {
    const bytes = LEAST_BYTES + VERTEX_BYTES * vertices + TRIANGLE_BYTES * triangles;
    return whereRoom(() => enlarge(this.memory, bytes)) ?? false;
  }

  /** The distinct vertices that triangles use, the triangles with these vertices, and how many vertices were used before. */
  join({ positions, triangles }: TriangleMesh): { mesh: TriangleMesh; used: number } {
    const vertices = positions.length / 3;
    const slots = slotsFor(vertices);
    this.end = OWN_BYTES;
    const positionsAt = this.put(positions);
    const trianglesAt = this.put(triangles);
    const numbers = this.room(4 * vertices);
    const joined = this.room(24 * vertices);
    const table = this.room(4 * slots);
    const corners = triangles.length;
    const count = this.program.join(
      positionsAt,
      vertices,
      trianglesAt,
      corners,
      numbers,
      table,
      slots,
      joined,
    );
    return {
      mesh: { positions: this.doubles(joined, 3 * count), triangles: this.words(trianglesAt, corners) },
      used: this.program.usedVertices(),
    };
  }

  pairEdges({ positions, triangles }: TriangleMesh): Paired {
    const halfEdges = triangles.length;
    const count = halfEdges / 3;
    const vertices = positions.length / 3;
    this.end = OWN_BYTES;
    const trianglesAt = this.put(triangles);
    const heads = this.room(4 * vertices);
    const firstUses = this.room(4 * vertices);
    const twins = this.room(4 * halfEdges);
    const parents = this.room(4 * count);
    const shared = this.room(8 * count);
    const sizes = this.room(4 * count);
    this.program.pair(trianglesAt, halfEdges, vertices, heads, firstUses, twins, parents, shared, sizes);
    return {
      twin: this.signedWords(twins, halfEdges),
      edgeCount: this.program.edgeCount(),
      nonManifoldEdges: this.numbers(shared, 2 * this.program.sharedCount()),
      component: this.words(parents, count),
      componentSizes: this.words(sizes, this.program.componentCount()),
      isConsistent: this.program.isPairedConsistently() !== 0,
    };
  }

  isFreeOfCopies(twin: Int32Array): boolean {
    this.end = OWN_BYTES;
    return this.program.isFreeOfCopies(this.put(twin), twin.length) !== 0;
  }

  degenerateTriangles(mesh: TriangleMesh, limit: number): number[] {
    const { positions, triangles, corners } = this.putMesh(mesh);
    const found = this.room((4 * corners) / 3);
    return this.numbers(found, this.program.degenerate(positions, triangles, corners, limit, found));
  }

  pinchedVertices({ positions, triangles }: TriangleMesh, twin: Int32Array): number[] {
    const vertices = positions.length / 3;
    const corners = triangles.length;
    this.end = OWN_BYTES;
    const trianglesAt = this.put(triangles);
    const twins = this.put(twin);
    const seen = this.room(corners);
    const fans = this.room(vertices);
    const found = this.room(4 * vertices);
    return this.numbers(
      found,
      this.program.pinched(trianglesAt, twins, corners, vertices, seen, fans, found),
    );
  }

  agreedSigns(triangles: Uint32Array, twin: Int32Array): { sign: Int8Array; oneSidedEdges: number[] } {
    const count = triangles.length / 3;
    this.end = OWN_BYTES;
    const trianglesAt = this.put(triangles);
    const twins = this.put(twin);
    const signs = this.room(count);
    const queue = this.room(4 * count);
    const oneSided = this.room(12 * count);
    const failures = this.program.agree(trianglesAt, twins, count, signs, queue, oneSided);
    return {
      sign: new Int8Array(this.memory.buffer, signs, count).slice(),
      oneSidedEdges: this.numbers(oneSided, 2 * failures),
    };
  }

  /** Signed volume of the triangles of each component, relative to a point. */
  componentVolumes(
    mesh: TriangleMesh,
    sign: Int8Array,
    { component, componentSizes }: Pick<Paired, 'component' | 'componentSizes'>,
    [ox, oy, oz]: Vec3,
  ): Float64Array {
    const { positions, triangles } = this.putMesh(mesh);
    const signs = this.put(sign);
    const components = this.put(component);
    const volumes = this.room(8 * componentSizes.length);
    const count = sign.length;
    const many = componentSizes.length;
    this.program.volumesOf(positions, triangles, count, signs, components, ox, oy, oz, volumes, many);
    return this.doubles(volumes, many);
  }

  /** Low and high corner of the box around the used vertices, six numbers. */
  box(mesh: TriangleMesh): Float64Array {
    const { positions, triangles, corners } = this.putMesh(mesh);
    const vertices = mesh.positions.length / 3;
    const used = this.room(vertices);
    const out = this.room(48);
    this.program.boxOf(positions, vertices, triangles, corners, used, out);
    return this.doubles(out, 6);
  }

  /** Six times the volume, relative to a point, and twice the area. */
  measure(mesh: TriangleMesh, [ox, oy, oz]: Vec3): Float64Array {
    const { positions, triangles, corners } = this.putMesh(mesh);
    const out = this.room(16);
    this.program.measured(positions, triangles, corners, ox, oy, oz, out);
    return this.doubles(out, 2);
  }

  crowding(mesh: TriangleMesh): number {
    const { positions, triangles, corners } = this.putMesh(mesh);
    return this.program.crowded(positions, triangles, corners);
  }

  inOrderOfUse(mesh: TriangleMesh): TriangleMesh {
    const { positions, triangles, corners } = this.putMesh(mesh);
    const vertices = mesh.positions.length / 3;
    const numbers = this.room(4 * vertices);
    const moved = this.room(24 * vertices);
    const count = this.program.order(positions, vertices, triangles, corners, numbers, moved);
    return { positions: this.doubles(moved, 3 * count), triangles: this.words(triangles, corners) };
  }

  /** Each coordinate in steps from the corner of a 16-bit grid. */
  onGrid(
    positions: Float64Array,
    [ox, oy, oz]: ArrayLike<number> & Iterable<number>,
    step: number,
  ): Uint16Array {
    this.end = OWN_BYTES;
    const positionsAt = this.put(positions);
    const out = this.room(2 * positions.length);
    this.program.grid(positionsAt, positions.length / 3, ox, oy, oz, step, out);
    return new Uint16Array(this.memory.buffer, out, positions.length).slice();
  }

  /** Whether no two vertices have the same text when written with five digits; undefined if a coordinate needs another way of rounding. */
  areApart(positions: Float64Array): boolean | undefined {
    const vertices = positions.length / 3;
    const slots = slotsFor(vertices);
    this.end = OWN_BYTES;
    const positionsAt = this.put(positions);
    const answer = this.program.apart(positionsAt, vertices, this.room(4 * slots), slots);
    return answer === 2 ? undefined : answer === 1;
  }

  private putMesh(mesh: TriangleMesh): { positions: number; triangles: number; corners: number } {
    this.end = OWN_BYTES;
    const positions = this.put(mesh.positions);
    return { positions, triangles: this.put(mesh.triangles), corners: mesh.triangles.length };
  }

  private put(values: Float64Array | Uint32Array | Int32Array | Int8Array): number {
    const at = this.room(values.byteLength);
    const { buffer } = this.memory;
    if (values instanceof Float64Array) new Float64Array(buffer, at).set(values);
    else if (values instanceof Int8Array) new Int8Array(buffer, at).set(values);
    else new Uint32Array(buffer, at).set(values);
    return at;
  }

  private room(bytes: number): number {
    const at = this.end;
    this.end = 8 * Math.ceil((at + bytes) / 8);
    return at;
  }

  private doubles(at: number, length: number): Float64Array {
    return new Float64Array(this.memory.buffer, at, length).slice();
  }

  private words(at: number, length: number): Uint32Array {
    return new Uint32Array(this.memory.buffer, at, length).slice();
  }

  private signedWords(at: number, length: number): Int32Array {
    return new Int32Array(this.memory.buffer, at, length).slice();
  }

  private numbers(at: number, length: number): number[] {
    return Array.from(new Uint32Array(this.memory.buffer, at, length));
  }
}

/** Size of a hash table for this many points, so that at most half of it is used. */
function slotsFor(points: number): number {
  let slots = 32;
  while (slots < 2 * points) slots *= 2;
  return slots;
}
