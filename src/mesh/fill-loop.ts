import FlatQueue from 'flatqueue';
import {
  cross,
  distance,
  dot,
  length,
  lerp,
  segmentDistance,
  subtract,
  type Vec3,
} from '../foundation/vector.js';
import type { BoundaryLoop } from './boundary-loops.js';
import type { TriangleMesh } from './mesh.js';
import { layNormal } from './triangle-normal.js';

/** Triangles that fill an opening without new vertices, and the width of the opening. */
export interface LoopFill {
  /** Corner triples, oriented with the wall. */
  faces: number[];
  /** Diameter of the largest circle that fits between the rims, mm; never too small, at most a few per cent too large. */
  widthMm: number;
}

const nextInTriangle = (h: number): number => (h % 3 === 2 ? h - 2 : h + 1);

/**
 * Fills one closed loop by repeatedly cutting off its sharpest corner, which closes a slit from its tips inwards, with triangles across it
 * and never along it. The angle is measured in the plane of the wall at the corner, so a slit may run around a vessel. Undefined if no
 * filling without a third triangle at an edge was found. Time n·log n.
 *
 * `isEdge`: whether two vertices are already joined by the wall.
 */
export function fillLoop(
  mesh: TriangleMesh,
  loop: BoundaryLoop,
  isEdge: (a: number, b: number) => boolean,
): LoopFill | undefined {
  // The wall runs along its half-edges, a filling runs against them.
  const ring = runsWithWall(mesh, loop) ? Array.from(loop.vertices).reverse() : Array.from(loop.vertices);
  const n = ring.length;
  if (!loop.closed || n < 3) return undefined;
  const points = ring.map((v) => vertexOf(mesh, v));
  const normals = wallNormals(mesh, loop, ring);
  if (n === 3) return { faces: ring, widthMm: inscribedMm(points) };
  const next = Int32Array.from({ length: n }, (_, i) => (i + 1) % n);
  const before = Int32Array.from({ length: n }, (_, i) => (i + n - 1) % n);
  const stamp = new Int32Array(n);
  const queue = new FlatQueue<number>();
  const entries: { at: number; stamp: number }[] = [];
  const enter = (i: number): void => {
    stamp[i]++;
    const turn = cornerAngle(points[before[i]], points[i], points[next[i]], normals[i]);
    queue.push(entries.push({ at: i, stamp: stamp[i] }) - 1, turn);
  };
  for (let i = 0; i < n; i++) enter(i);
  const added = new Set<string>();
  const faces: number[] = [];
  let reachMm = 0;
  let left = n;
  while (left > 3) {
    const entry = queue.pop();
    if (entry === undefined) return undefined;
    const { at, stamp: made } = entries[entry];
    if (made !== stamp[at]) continue;
    const a = before[at];
    const c = next[at];
    const key = a < c ? `${a} ${c}` : `${c} ${a}`;
    // such a corner is reconsidered when a neighbour is cut off
    if (added.has(key) || isEdge(ring[a], ring[c])) continue;
    added.add(key);
    faces.push(ring[a], ring[at], ring[c]);
    reachMm = Math.max(reachMm, toRim(points, a, c));
    stamp[at]++;
    next[a] = c;
    before[c] = a;
    left--;
    enter(a);
    enter(c);
    if (left === 3) faces.push(ring[a], ring[c], ring[next[c]]);
  }
  return { faces, widthMm: 2 * reachMm };
}

/** Whether the loop's vertices are in the direction of the wall's half-edges. */
function runsWithWall({ triangles }: TriangleMesh, loop: BoundaryLoop): boolean {
  const h = loop.halfEdges[0];
  return triangles[h] === loop.vertices[0] && triangles[nextInTriangle(h)] === loop.vertices[1];
}

function vertexOf({ positions }: TriangleMesh, v: number): Vec3 {
  return [positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]];
}

/** Outward normals at the corners of a ring: the sum of those of the wall's triangles at its two rim edges. */
function wallNormals(mesh: TriangleMesh, loop: BoundaryLoop, ring: readonly number[]): Vec3[] {
  const sums = new Map<number, Vec3>(ring.map((v) => [v, [0, 0, 0]]));
  const laid = new Float64Array(3);
  for (const h of loop.halfEdges) {
    const twice = layNormal(mesh, (h / 3) | 0, laid);
    if (!(twice > 0)) continue;
    for (const v of [mesh.triangles[h], mesh.triangles[nextInTriangle(h)]]) {
      const sum = sums.get(v);
      if (sum) for (let k = 0; k < 3; k++) sum[k] += laid[k] / twice;
    }
  }
  return ring.map((v) => sums.get(v)!);
}

/**
 * Angle between the two sides at a corner, on the side of the opening, 0 to 2 pi. A slightly folded corner, as where the two sides of a
 * crack overlap, counts as sharp, but after those that are not folded.
 */
function cornerAngle(a: Vec3, b: Vec3, c: Vec3, normal: Vec3): number {
  const back = subtract(a, b);
  const on = subtract(c, b);
  const across = cross(on, back);
  const sine = length(across);
  const angle = Math.atan2(sine, dot(on, back));
  if (dot(across, normal) >= 0) return angle;
  return angle < FOLDED ? Math.PI + angle : 2 * Math.PI - angle;
}

/** Corners folded by less than this belong to an overlap, radians. Numerical setting. */
const FOLDED = Math.PI / 4;

/** Distance of the middle of a new side from the rim edges at its two ends, mm. */
function toRim(points: readonly Vec3[], a: number, c: number): number {
  const n = points.length;
  const middle = lerp(points[a], points[c], 0.5);
  let least = Number.POSITIVE_INFINITY;
  for (const i of [a, (a + n - 1) % n, c, (c + n - 1) % n])
    least = Math.min(least, segmentDistance(middle, points[i], points[(i + 1) % n]));
  return least;
}

/** Diameter of the circle inscribed in a triangle, mm. */
function inscribedMm([a, b, c]: readonly Vec3[]): number {
  const round = distance(a, b) + distance(b, c) + distance(c, a);
  return round > 0 ? (2 * length(cross(subtract(b, a), subtract(c, a)))) / round : 0;
}
