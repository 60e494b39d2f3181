import type { Vec3 } from '../foundation/vector.js';
import { type BoxQueries, type BoxTreeHit, RAY } from './box-queries.js';
import { PAGE_BYTES, started } from './compiled-part.js';
import type { TriangleMesh } from './mesh.js';

/** Exports of build/assembly/box-tree.ts. */
interface TreeExports {
  enter(
    trianglesAt: number,
    positionsAt: number,
    boxesAt: number,
    orderAt: number,
    nodesAt: number,
    count: number,
  ): void;
  first(
    fromX: number,
    fromY: number,
    fromZ: number,
    alongX: number,
    alongY: number,
    alongZ: number,
    leastMm: number,
    mostMm: number,
  ): number;
  firsts(raysAt: number, count: number, leastMm: number, mostMm: number): void;
  each(
    fromX: number,
    fromY: number,
    fromZ: number,
    alongX: number,
    alongY: number,
    alongZ: number,
    listAt: number,
  ): number;
  closest(x: number, y: number, z: number, mostMm: number): number;
}

/** Where the program writes the point and the distance of an answer, and the triangles along a ray or, in the same place, many rays. */
const ANSWER_AT = 64;
const LIST_AT = 96;
const RAYS_AT_ONCE = 256;
/** Bytes of a triangle's box and of a box of the tree. */
const BOX_BYTES = 24;
const NODE_BYTES = 48;

/** The same as `PlainBoxTree` with the compiled program, whose memory holds a copy of the mesh in 32-bit numbers. */
export class CompiledBoxTree implements BoxQueries {
  readonly around: Float32Array;
  private readonly program: TreeExports;
  private readonly answer: Float64Array;
  private readonly list: Uint32Array;
  private readonly rays: Float64Array;

  constructor(module: WebAssembly.Module, { positions, triangles }: TriangleMesh) {
    const count = triangles.length / 3;
    const boxesAt = LIST_AT + Math.max(4 * count, 8 * RAY * RAYS_AT_ONCE);
    const orderAt = boxesAt + BOX_BYTES * count;
    const trianglesAt = orderAt + 4 * count;
    const positionsAt = trianglesAt + 12 * count;
    const nodesAt = 8 * Math.ceil((positionsAt + 4 * positions.length) / 8);
    // no box of the tree is empty, so there are fewer than two per triangle; boxes that are never created take no memory
    const bytes = nodesAt + NODE_BYTES * (2 * count + 1);
    const memory = new WebAssembly.Memory({ initial: Math.ceil(bytes / PAGE_BYTES) });
    const { buffer } = memory;
    this.program = started<TreeExports>(module, memory);
    this.answer = new Float64Array(buffer, ANSWER_AT, 4);
    this.list = new Uint32Array(buffer, LIST_AT, count);
    this.rays = new Float64Array(buffer, LIST_AT, RAY * RAYS_AT_ONCE);
    new Uint32Array(buffer, trianglesAt).set(triangles);
    new Float32Array(buffer, positionsAt).set(positions);
    this.program.enter(trianglesAt, positionsAt, boxesAt, orderAt, nodesAt, count);
    const [x0, x1, y0, y1, z0, z1] = new Float32Array(buffer, nodesAt, 6);
    this.around = Float32Array.of(x0, y0, z0, x1, y1, z1);
  }

  first(from: Vec3, direction: Vec3, leastMm: number, mostMm: number): BoxTreeHit | undefined {
    return this.hit(
      this.program.first(
        from[0],
        from[1],
        from[2],
        direction[0],
        direction[1],
        direction[2],
        leastMm,
        mostMm,
      ),
    );
  }

  firsts(rays: Float64Array, count: number, leastMm: number, mostMm: number): void {
    for (let i = 0; i < count; i += RAYS_AT_ONCE) {
      const some = Math.min(RAYS_AT_ONCE, count - i);
      this.rays.set(rays.subarray(RAY * i, RAY * (i + some)));
      this.program.firsts(LIST_AT, some, leastMm, mostMm);
      rays.set(this.rays.subarray(0, RAY * some), RAY * i);
    }
  }

  each(from: Vec3, direction: Vec3, visit: (triangle: number) => void): void {
    const count = this.program.each(
      from[0],
      from[1],
      from[2],
      direction[0],
      direction[1],
      direction[2],
      LIST_AT,
    );
    for (let i = 0; i < count; i++) visit(this.list[i]);
  }

  closest(to: Vec3, mostMm: number): BoxTreeHit | undefined {
    return this.hit(this.program.closest(to[0], to[1], to[2], mostMm));
  }

  private hit(triangle: number): BoxTreeHit | undefined {
    if (triangle < 0) return undefined;
    const { answer } = this;
    return { point: [answer[0], answer[1], answer[2]], distance: answer[3], triangle };
  }
}
