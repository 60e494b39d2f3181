import type { Vec3 } from '../foundation/vector.js';
import { type BoxOrder, boxOrder } from './box-order.js';
import { type BoxQueries, type BoxTreeHit, RAY, RAY_DISTANCE, RAY_TRIANGLE } from './box-queries.js';
import type { TriangleMesh } from './mesh.js';
import {
  asked,
  distanceAt,
  layNearest,
  layPoint,
  layRay,
  near,
  placeOnRay,
  sides,
} from './triangle-queries.js';

/** A box with at most this many triangles, or this deep in the tree, is not divided. */
const LEAF = 10;
const DEEPEST = 40;

/** A box or triangle farther than the best answer by more than this factor cannot replace it, whatever the rounding. */
const BEYOND = 1 + 1e-9;
/** Widens the padded box of a single triangle by more than the rounding of its half side. */
const WIDER = 1 + 1e-6;

/** Values in `nodes` for each box: its first triangle in `order`, number of triangles, first of its two parts, axis of division, depth. */
const NODE = 5;
const COUNT = 1;
const PARTS = 2;
const AXIS = 3;
const DEPTH = 4;
/** Instead of the first part: not yet needed; or the box has none. */
const NOT_YET = 0;
const NONE = -1;

/**
 * For a ray: smallest and largest distance, distance of the first hit so far, and the distance beyond which a hit is of no use. For a
 * point: square of its reach, smallest square so far, and the square beyond which an answer is of no use.
 */
const limits = new Float64Array(4);
/** Position along the ray of the first hit in the box examined last. */
const ownFirst = new Float64Array(1);
/** Closest point so far; for a ray only the position of the first hit along it. */
const nearest = new Float64Array(3);

/** The queries of a box tree with plain numbers. */
export class PlainBoxTree implements BoxQueries {
  private readonly mesh: TriangleMesh;
  private readonly sorted: BoxOrder;
  /** Triangles, with those of each box next to each other, and their boxes in this order. */
  private readonly order: Uint32Array;
  private readonly boxes: Float32Array;
  private nodes: Int32Array;
  /** For each box: min x y z, max x y z. */
  private bounds: Float32Array;
  /** For each box: where it is divided. */
  private middle: Float64Array;
  private nodeCount = 1;
  private triangle = -1;

  constructor(mesh: TriangleMesh, sorted: BoxOrder = boxOrder(mesh)) {
    this.mesh = mesh;
    const count = mesh.triangles.length / 3;
    this.sorted = sorted;
    this.order = sorted.order;
    this.boxes = sorted.boxes;
    const room = Math.max(64, count >> 4);
    this.nodes = new Int32Array(NODE * room);
    this.bounds = new Float32Array(6 * room);
    this.middle = new Float64Array(room);
    this.layNode(0, 0, count, 0);
  }

  get around(): Float32Array {
    return this.bounds.subarray(0, 6);
  }

  first(from: Vec3, direction: Vec3, leastMm: number, mostMm: number): BoxTreeHit | undefined {
    layRay(from, direction);
    limitRay(leastMm, mostMm);
    this.triangle = -1;
    if (!this.meetsRay(0) || !this.firstIn(0) || this.triangle < 0) return undefined;
    const t = nearest[0];
    return {
      point: [from[0] + direction[0] * t, from[1] + direction[1] * t, from[2] + direction[2] * t],
      distance: limits[2],
      triangle: this.triangle,
    };
  }

  firsts(rays: Float64Array, count: number, leastMm: number, mostMm: number): void {
    for (let r = 0; r < RAY * count; r += RAY) {
      const from: Vec3 = [rays[r], rays[r + 1], rays[r + 2]];
      const hit = this.first(from, [rays[r + 3], rays[r + 4], rays[r + 5]], leastMm, mostMm);
      rays[r + RAY_DISTANCE] = hit?.distance ?? Number.POSITIVE_INFINITY;
      rays[r + RAY_TRIANGLE] = hit?.triangle ?? -1;
    }
  }

  each(from: Vec3, direction: Vec3, visit: (triangle: number) => void): void {
    layRay(from, direction);
    limitRay(0, Number.POSITIVE_INFINITY);
    if (this.meetsRay(0)) this.eachIn(0, visit);
  }

  closest(to: Vec3, mostMm: number): BoxTreeHit | undefined {
    layPoint(to);
    limits[0] = mostMm * mostMm;
    limits[1] = Number.POSITIVE_INFINITY;
    limits[2] = Number.POSITIVE_INFINITY;
    this.triangle = -1;
    this.closestIn(0);
    if (this.triangle < 0) return undefined;
    return {
      point: [nearest[0], nearest[1], nearest[2]],
      distance: Math.sqrt(limits[1]),
      triangle: this.triangle,
    };
  }

  /** Looks for a nearer hit in a box; sets the position along the ray of the box's own first hit, if it has one. */
  private firstIn(node: number): boolean {
    const n = NODE * node;
    if (this.partsOf(node) === NONE) return this.firstOf(this.nodes[n], this.nodes[n + COUNT]);
    const axis = this.nodes[n + AXIS];
    const forward = asked[3 + axis] >= 0;
    const one = this.nodes[n + PARTS] + (forward ? 0 : 1);
    const other = forward ? one + 1 : one - 1;
    const hasOwn = this.meetsRay(one) && this.firstIn(one);
    const own = ownFirst[0];
    if (hasOwn) {
      const place = asked[axis] + asked[3 + axis] * own;
      const { bounds } = this;
      if (forward ? place <= bounds[6 * other + axis] : place >= bounds[6 * other + 3 + axis]) return true;
    }
    const hasOther = this.meetsRay(other) && this.firstIn(other);
    if (!hasOwn) return hasOther;
    if (!hasOther || distanceAt(own) <= distanceAt(ownFirst[0])) ownFirst[0] = own;
    return true;
  }

  private firstOf(from: number, count: number): boolean {
    const { order } = this;
    let isHit = false;
    let least = Number.POSITIVE_INFINITY;
    for (let i = from; i < from + count; i++) {
      const t = placeOnRay(this.mesh, order[i]);
      if (!(t >= 0)) continue;
      const distance = distanceAt(t);
      if (!(distance < least) || distance < limits[0] || distance > limits[1]) continue;
      isHit = true;
      ownFirst[0] = t;
      least = distance;
      if (distance >= limits[2]) continue;
      limits[2] = distance;
      limits[3] = Math.min(limits[1], distance * BEYOND);
      nearest[0] = t;
      this.triangle = order[i];
    }
    return isHit;
  }

  private eachIn(node: number, visit: (triangle: number) => void): void {
    const parts = this.partsOf(node);
    if (parts !== NONE) {
      if (this.meetsRay(parts)) this.eachIn(parts, visit);
      if (this.meetsRay(parts + 1)) this.eachIn(parts + 1, visit);
      return;
    }
    const from = this.nodes[NODE * node];
    const to = from + this.nodes[NODE * node + COUNT];
    for (let i = from; i < to; i++) if (placeOnRay(this.mesh, this.order[i]) >= 0) visit(this.order[i]);
  }

  private closestIn(node: number): void {
    const parts = this.partsOf(node);
    if (parts === NONE) {
      this.closestOf(this.nodes[NODE * node], this.nodes[NODE * node + COUNT]);
      return;
    }
    const left = this.squareTo(parts);
    const right = this.squareTo(parts + 1);
    const isRightFirst = right < left;
    const one = isRightFirst ? parts + 1 : parts;
    const other = isRightFirst ? parts : parts + 1;
    const sooner = isRightFirst ? right : left;
    const later = isRightFirst ? left : right;
    if (sooner < limits[1] && sooner < limits[0]) this.closestIn(one);
    if (later < limits[1] && later < limits[0]) this.closestIn(other);
  }

  private closestOf(from: number, count: number): void {
    const { boxes, order, mesh } = this;
    const x = asked[0];
    const y = asked[1];
    const z = asked[2];
    for (let i = from; i < from + count; i++) {
      const b = 6 * i;
      const ox = Math.max(0, Math.abs(x - boxes[b]) - WIDER * boxes[b + 3]);
      const oy = Math.max(0, Math.abs(y - boxes[b + 1]) - WIDER * boxes[b + 4]);
      const oz = Math.max(0, Math.abs(z - boxes[b + 2]) - WIDER * boxes[b + 5]);
      if (ox * ox + oy * oy + oz * oz > limits[2]) continue;
      const square = layNearest(mesh, order[i]);
      if (!(square < limits[1])) continue;
      limits[1] = square;
      limits[2] = square * BEYOND;
      nearest.set(near);
      this.triangle = order[i];
    }
  }

  /** Square of the distance from the point to a box. */
  private squareTo(node: number): number {
    const { bounds } = this;
    const b = 6 * node;
    const dx = Math.max(bounds[b], Math.min(bounds[b + 3], asked[0])) - asked[0];
    const dy = Math.max(bounds[b + 1], Math.min(bounds[b + 4], asked[1])) - asked[1];
    const dz = Math.max(bounds[b + 2], Math.min(bounds[b + 5], asked[2])) - asked[2];
    return dx * dx + dy * dy + dz * dz;
  }

  /** Whether the ray meets a box at a distance where a hit is still of use (slabs; a ray within a slab's face gives NaN there). */
  private meetsRay(node: number): boolean {
    const { bounds } = this;
    const b = 6 * node;
    const x = sides[0];
    let from = (bounds[b + x] - asked[0]) * asked[6];
    let to = (bounds[b + 3 - x] - asked[0]) * asked[6];
    const y = sides[1];
    const fromY = (bounds[b + y] - asked[1]) * asked[7];
    const toY = (bounds[b + 5 - y] - asked[1]) * asked[7];
    if (from > toY || fromY > to) return false;
    if (fromY > from || Number.isNaN(from)) from = fromY;
    if (toY < to || Number.isNaN(to)) to = toY;
    const z = sides[2];
    const fromZ = (bounds[b + z] - asked[2]) * asked[8];
    const toZ = (bounds[b + 7 - z] - asked[2]) * asked[8];
    if (from > toZ || fromZ > to) return false;
    if (fromZ > from || Number.isNaN(from)) from = fromZ;
    if (toZ < to || Number.isNaN(to)) to = toZ;
    return from <= limits[3] && to >= limits[0];
  }

  /** The first of the two parts of a box, or `NONE`; divides the box if this has not been done yet. */
  private partsOf(node: number): number {
    const parts = this.nodes[NODE * node + PARTS];
    return parts === NOT_YET ? this.divide(node) : parts;
  }

  private divide(node: number): number {
    const n = NODE * node;
    const from = this.nodes[n];
    const count = this.nodes[n + COUNT];
    const depth = this.nodes[n + DEPTH];
    const cut =
      count <= LEAF || depth >= DEEPEST
        ? from
        : this.sorted.part(from, count, this.nodes[n + AXIS], this.middle[node]);
    if (cut === from || cut === from + count) {
      this.nodes[n + PARTS] = NONE;
      return NONE;
    }
    const parts = this.nodeCount;
    this.nodeCount += 2;
    if (this.nodeCount > this.middle.length) {
      this.nodes = longer(this.nodes);
      this.bounds = longer(this.bounds);
      this.middle = longer(this.middle);
    }
    this.nodes[n + PARTS] = parts;
    this.layNode(parts, from, cut - from, depth + 1);
    this.layNode(parts + 1, cut, from + count - cut, depth + 1);
    return parts;
  }

  /** Adds a box with `count` triangles of `order`. */
  private layNode(node: number, from: number, count: number, depth: number): void {
    this.sorted.layAround(from, count);
    const { bounds } = this;
    const { laid } = this.sorted;
    const b = 6 * node;
    for (let k = 0; k < 3; k++) {
      bounds[b + k] = laid[k];
      bounds[b + 3 + k] = laid[4 + k];
    }
    const x = laid[12] - laid[8];
    const y = laid[13] - laid[9];
    const z = laid[14] - laid[10];
    const axis = z > x && z > y ? 2 : y > x ? 1 : 0;
    this.middle[node] = (laid[8 + axis] + laid[12 + axis]) / 2;
    const n = NODE * node;
    this.nodes[n] = from;
    this.nodes[n + COUNT] = count;
    this.nodes[n + PARTS] = NOT_YET;
    this.nodes[n + AXIS] = axis;
    this.nodes[n + DEPTH] = depth;
  }
}

function limitRay(leastMm: number, mostMm: number): void {
  limits[0] = leastMm;
  limits[1] = mostMm;
  limits[2] = Number.POSITIVE_INFINITY;
  limits[3] = mostMm;
}

function longer<T extends Int32Array | Float32Array | Float64Array>(list: T): T {
  const long = new (list.constructor as new (length: number) => T)(2 * list.length);
  long.set(list);
  return long;
}
