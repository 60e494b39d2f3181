import type { Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from './mesh.js';
import { crossingPoint } from './triangle-crossing.js';
import { layNormal } from './triangle-normal.js';
import { meets, TriangleTree } from './triangle-tree.js';

export interface SelfIntersectionOptions {
  /** Stop after this many crossing pairs. */
  most?: number;
}

export interface SelfIntersections {
  /** Crossing pairs of triangles found, at most `most`. */
  count: number;
  /** True where the search stopped at `most`: there may be more. */
  isCapped: boolean;
  /** False where the triangles overlap so much that the search was given up; `count` is then a lower bound. */
  isComplete: boolean;
  /** Triangle pairs s0 t0 s1 t1 … */
  pairs: number[];
  /** One point of each crossing, in the unit of the mesh. */
  points: Vec3[];
}

/** Triangle pairs looked at, per triangle, before the search is given up. A clean surface needs about 20. */
const MOST_PAIRS_PER_TRIANGLE = 2000;
const LEAST_PAIR_BUDGET = 10_000_000;

/**
 * Pairs of triangles of a welded mesh that cross or lie on each other. Neighbours meeting in their shared vertex
 * or edge are no crossing. Sorted boxes, then an exact-sign test in doubles; about linear on a surface.
 */
export function findSelfIntersections(
  mesh: TriangleMesh,
  options: SelfIntersectionOptions = {},
): SelfIntersections {
  const most = options.most ?? 1000;
  const result: SelfIntersections = { count: 0, isCapped: false, isComplete: true, pairs: [], points: [] };
  const triangleCount = mesh.triangles.length / 3;
  if (triangleCount < 2) return result;
  const tree = new TriangleTree(mesh);
  const { order } = tree;
  // boxes and planes stand in the order of the tree, so that neighbours in space are neighbours in memory
  const boxes = triangleBoxes(mesh, order);
  const { planes, noise } = trianglePlanes(mesh, order);
  let budget = Math.max(LEAST_PAIR_BUDGET, MOST_PAIRS_PER_TRIANGLE * triangleCount);
  const found: { low: number; high: number; point: Vec3 }[] = [];
  const testPair = (i: number, j: number): boolean => {
    const s = order[i];
    const t = order[j];
    if (isOnOneSide(mesh, planes, noise, s, i, t) || isOnOneSide(mesh, planes, noise, t, j, s)) return true;
    const low = Math.min(s, t);
    const high = Math.max(s, t);
    const point = crossingPoint(mesh, low, high);
    if (!point) return true;
    if (found.length === most) {
      result.isCapped = true;
      return false;
    }
    found.push({ low, high, point });
    return true;
  };
  tree.meetingLeaves((leaf, other) => {
    const from = tree.leafStart(leaf);
    const to = tree.leafEnd(leaf);
    const otherFrom = tree.leafStart(other);
    const otherTo = tree.leafEnd(other);
    budget -= (to - from) * (otherTo - otherFrom);
    if (budget < 0) {
      result.isComplete = false;
      return false;
    }
    for (let i = from; i < to; i++) {
      if (other !== leaf && !tree.meetsLeaf(other, boxes, i)) continue;
      for (let j = other === leaf ? i + 1 : otherFrom; j < otherTo; j++) {
        if (meets(boxes, 6 * i, boxes, 6 * j) && !testPair(i, j)) return false;
      }
    }
    return true;
  });
  found.sort((a, b) => a.low - b.low || a.high - b.high);
  for (const { low, high, point } of found) {
    result.pairs.push(low, high);
    result.points.push(point);
  }
  result.count = found.length;
  return result;
}

/** Six numbers a triangle: its box; a triangle with a repeated vertex gets one that meets no other. */
function triangleBoxes({ positions, triangles }: TriangleMesh, order: Uint32Array): Float64Array {
  const boxes = new Float64Array(6 * order.length);
  for (let i = 0; i < order.length; i++) {
    const t = 3 * order[i];
    const a = 3 * triangles[t];
    const b = 3 * triangles[t + 1];
    const c = 3 * triangles[t + 2];
    if (a === b || b === c || c === a) {
      boxes.fill(Number.NaN, 6 * i, 6 * i + 6);
      continue;
    }
    for (let k = 0; k < 3; k++) {
      const x = positions[a + k];
      const y = positions[b + k];
      const z = positions[c + k];
      boxes[6 * i + k] = Math.min(x, y, z);
      boxes[6 * i + 3 + k] = Math.max(x, y, z);
    }
  }
  return boxes;
}

/**
 * Plane of each triangle, four numbers: unscaled normal and its product with a corner. Behind them, one number for
 * the whole mesh: the rounding of such a product, relative to the normal.
 */
function trianglePlanes(mesh: TriangleMesh, order: Uint32Array): { planes: Float64Array; noise: number } {
  const { positions, triangles } = mesh;
  const count = order.length;
  const planes = new Float64Array(4 * count);
  let reach = 0;
  for (let i = 0; i < positions.length; i++) {
    const x = Math.abs(positions[i]);
    if (x > reach) reach = x;
  }
  const normal = new Float64Array(3);
  for (let i = 0; i < count; i++) {
    layNormal(mesh, order[i], normal);
    const a = 3 * triangles[3 * order[i]];
    planes[4 * i] = normal[0];
    planes[4 * i + 1] = normal[1];
    planes[4 * i + 2] = normal[2];
    planes[4 * i + 3] =
      normal[0] * positions[a] + normal[1] * positions[a + 1] + normal[2] * positions[a + 2];
  }
  return { planes, noise: 1e-14 * reach };
}

/**
 * Quick answer for most candidates, which are neighbours: the corners of t that s does not share lie clearly on
 * one side of s's plane, which stands at number `plane`. False means that the exact test must look.
 */
function isOnOneSide(
  { positions, triangles }: TriangleMesh,
  planes: Float64Array,
  noise: number,
  s: number,
  plane: number,
  t: number,
): boolean {
  const a = triangles[3 * s];
  const b = triangles[3 * s + 1];
  const c = triangles[3 * s + 2];
  const nx = planes[4 * plane];
  const ny = planes[4 * plane + 1];
  const nz = planes[4 * plane + 2];
  const d = planes[4 * plane + 3];
  const least = noise * (Math.abs(nx) + Math.abs(ny) + Math.abs(nz));
  let side = 0;
  for (let i = 3 * t; i < 3 * t + 3; i++) {
    const v = triangles[i];
    if (v === a || v === b || v === c) continue;
    const h = nx * positions[3 * v] + ny * positions[3 * v + 1] + nz * positions[3 * v + 2] - d;
    if (h > least && side >= 0) side = 1;
    else if (h < -least && side <= 0) side = -1;
    else return false;
  }
  return true;
}
