import type { Vec3 } from '../foundation/vector.js';
import type { BoxQueries, BoxTreeHit } from './box-queries.js';
import { CompiledBoxTree } from './compiled-box-tree.js';
import { compiledPart, whereRoom } from './compiled-part.js';
import type { TriangleMesh } from './mesh.js';
import { PlainBoxTree } from './plain-box-tree.js';

/** Trees of larger meshes are not cached: the memory would cost more than rebuilding them. */
const MOST_KEPT_TRIANGLES = 100_000;

const kept = new WeakMap<TriangleMesh, BoxTree>();

/** The tree of a mesh. A second call for the same mesh returns the same tree, because meshes are immutable. */
export function boxTree(mesh: TriangleMesh): BoxTree {
  const known = kept.get(mesh);
  if (known) return known;
  const tree = new BoxTree(mesh);
  if (mesh.triangles.length / 3 <= MOST_KEPT_TRIANGLES) kept.set(mesh, tree);
  return tree;
}

/**
 * For smaller meshes the compiled version saves less time than setting up its memory costs; for larger ones its copy of the mesh costs
 * memory.
 */
const LEAST_COMPILED = 200;
const MOST_COMPILED = 100_000;

/** Whether a memory was refused. There may be thousands of trees, and the engine takes about 30 ms to refuse each. */
let isOutOfRoom = false;

/** The compiled version if it is worth using, was built and the machine supports it; otherwise the plain one. */
export function boxQueries(
  mesh: TriangleMesh,
  module = compiledPart(new URL('./box-tree.wasm', import.meta.url)),
): BoxQueries {
  const count = mesh.triangles.length / 3;
  // a part of a large mesh may keep all positions of that mesh
  const isSmall = count <= MOST_COMPILED && mesh.positions.length <= 9 * count;
  if (!module || !isSmall || count < LEAST_COMPILED || isOutOfRoom) return new PlainBoxTree(mesh);
  const compiled = whereRoom(() => new CompiledBoxTree(module, mesh));
  isOutOfRoom = compiled === undefined;
  return compiled ?? new PlainBoxTree(mesh);
}

/**
 * The box tree of a mesh's triangles, for rays and nearest points. It uses 32-bit numbers, so the mesh must be near the origin. A box is
 * divided in the middle of the longest side of its triangles' centres (strategy CENTER of three-mesh-bvh 0.9; the answers are the same to
 * the last bit, even if two triangles are equally near), but only when a query first reaches it: a few queries of a large mesh divide only
 * a small part of it.
 */
export class BoxTree {
  private readonly queries: BoxQueries;
  /** Min x y z, max x y z. */
  private readonly around: Float32Array;

  constructor(mesh: TriangleMesh, queries: BoxQueries = boxQueries(mesh)) {
    this.queries = queries;
    this.around = queries.around;
  }

  /** Lowest and highest corner of the box around all triangles. */
  get low(): Vec3 {
    return [this.around[0], this.around[1], this.around[2]];
  }

  get high(): Vec3 {
    return [this.around[3], this.around[4], this.around[5]];
  }

  /** Whether a point is in the box around all triangles. */
  holds(point: Vec3): boolean {
    for (let k = 0; k < 3; k++)
      if (!(point[k] >= this.around[k] && point[k] <= this.around[3 + k])) return false;
    return true;
  }

  /** The first triangle along a ray, from either side, between two distances; `direction` is a unit vector. */
  first(from: Vec3, direction: Vec3, leastMm = 0, mostMm = Number.POSITIVE_INFINITY): BoxTreeHit | undefined {
    return this.queries.first(from, direction, leastMm, mostMm);
  }

  /** The same for the first `count` of many rays (`RAY`); writes where they end. */
  firsts(rays: Float64Array, count: number, leastMm: number, mostMm: number): void {
    this.queries.firsts(rays, count, leastMm, mostMm);
  }

  /** Every triangle along a ray, from either side; `visit` must not query a tree. */
  each(from: Vec3, direction: Vec3, visit: (triangle: number) => void): void {
    this.queries.each(from, direction, visit);
  }

  /**
   * The closest point. If none is within `mostMm`, the answer is either none or some point farther away, from a box that had to be opened,
   * which need not be the closest.
   */
  closest(to: Vec3, mostMm = Number.POSITIVE_INFINITY): BoxTreeHit | undefined {
    return this.queries.closest(to, mostMm);
  }
}
