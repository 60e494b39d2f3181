import type { Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from './mesh.js';
import { crossingPoint } from './triangle-crossing.js';
import { layNormal } from './triangle-normal.js';
import { TriangleTree } from './triangle-tree.js';

export interface SelfIntersectionOptions {
  /** Stop after this many crossing pairs. */
  most?: number;
}

export interface SelfIntersections {
  /** Crossing pairs of triangles found, at most `most`. */
  count: number;
  /** True if the search stopped at `most`, so that there may be more. */
  isCapped: boolean;
  /** False if the triangles overlap so much that the search was abandoned; `count` is then a lower bound. */
  isComplete: boolean;
  /** Triangle pairs s0 t0 s1 t1 … */
  pairs: number[];
  /** One point of each crossing, in the unit of the mesh. */
  points: Vec3[];
}

/** Limit on triangle pairs tested, per triangle. A clean surface needs about 20. */
const MOST_PAIRS_PER_TRIANGLE = 2000;
const LEAST_PAIR_BUDGET = 10_000_000;

/**
 * Pairs of triangles of a welded mesh that cross or overlap. Neighbours that meet in their shared vertex or edge do not count. Sorted
 * boxes, then an exact-sign test in doubles; about linear on a surface.
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
  const noise = 1e-14 * reachOf(mesh);
  // of the triangle that is compared with several, and of the other one
  const [plane, otherPlane] = [new Float64Array(4), new Float64Array(4)];
  let planeOf = -1;
  let budget = Math.max(LEAST_PAIR_BUDGET, MOST_PAIRS_PER_TRIANGLE * triangleCount);
  const found: { low: number; high: number; point: Vec3 }[] = [];
  const testPair = (i: number, j: number): boolean => {
    const s = order[i];
    const t = order[j];
    if (planeOf !== s) layPlane(mesh, s, plane);
    planeOf = s;
    if (isOnOneSide(mesh, plane, noise, s, t)) return true;
    layPlane(mesh, t, otherPlane);
    if (isOnOneSide(mesh, otherPlane, noise, t, s)) return true;
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
      if (other !== leaf && !tree.meetsLeaf(other, i)) continue;
      for (let j = other === leaf ? i + 1 : otherFrom; j < otherTo; j++) {
        if (tree.trianglesMeet(i, j) && !testPair(i, j)) return false;
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

/** Largest coordinate, without its sign. */
function reachOf({ positions }: TriangleMesh): number {
  let reach = 0;
  for (let i = 0; i < positions.length; i++) {
    const x = Math.abs(positions[i]);
    if (x > reach) reach = x;
  }
  return reach;
}

/** Writes a triangle's plane, four numbers: unscaled normal and its product with a corner. */
function layPlane(mesh: TriangleMesh, t: number, plane: Float64Array): void {
  layNormal(mesh, t, plane);
  const { positions, triangles } = mesh;
  const a = 3 * triangles[3 * t];
  plane[3] = plane[0] * positions[a] + plane[1] * positions[a + 1] + plane[2] * positions[a + 2];
}

/**
 * Quick answer for most candidates, which are neighbours: the corners of t that s does not share lie clearly on
 * one side of s's plane. False means that the exact test must look. `noise` is the rounding of a normal's product with a corner,
 * relative to the normal.
 */
function isOnOneSide(
  { positions, triangles }: TriangleMesh,
  plane: Float64Array,
  noise: number,
  s: number,
  t: number,
): boolean {
  const a = triangles[3 * s];
  const b = triangles[3 * s + 1];
  const c = triangles[3 * s + 2];
  const [nx, ny, nz, d] = [plane[0], plane[1], plane[2], plane[3]];
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
