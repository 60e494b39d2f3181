import { cross, distance, dot, length, normalize, subtract, type Vec3 } from '../foundation/vector.js';
import { pairEdges } from '../mesh/edge-pairing.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { passesOver } from '../mesh/mesh-passes.js';
import { layNormal } from '../mesh/triangle-normal.js';

const MOST_PASSES = 20;
/** The new pair must face like the wider old triangle, within about 5 degrees. */
const SAME_WAY = 0.996;

/** Height of a triangle over its longest edge. */
function flatness(a: Vec3, b: Vec3, c: Vec3): number {
  const longest = Math.max(distance(a, b), distance(b, c), distance(c, a));
  return longest > 0 ? length(cross(subtract(b, a), subtract(c, a))) / (longest * longest) : 0;
}

const normal = new Float64Array(3);

/** Numbers of the triangles flatter than `ratio`. */
export const sliversOf = (mesh: TriangleMesh, ratio: number): number[] =>
  passesOver(mesh)?.slivers(ratio) ?? plainSlivers(mesh, ratio);

export function plainSlivers(mesh: TriangleMesh, ratio: number): number[] {
  const { positions: p, triangles } = mesh;
  const found: number[] = [];
  for (let t = 0; t < triangles.length; t += 3) {
    const square = Math.max(
      squareOf(p, triangles[t], triangles[t + 1]),
      squareOf(p, triangles[t], triangles[t + 2]),
      squareOf(p, triangles[t + 1], triangles[t + 2]),
    );
    const twice = layNormal(mesh, t / 3, normal);
    const longest = Math.sqrt(square);
    const flat = square > 0 ? twice / (longest * longest) : 0;
    if (flat < ratio) found.push(t / 3);
  }
  return found;
}

/** Squared distance between two vertices. */
function squareOf(p: Float64Array, v: number, w: number): number {
  const x = p[3 * w] - p[3 * v];
  const y = p[3 * w + 1] - p[3 * v + 1];
  const z = p[3 * w + 2] - p[3 * v + 2];
  return x * x + y * y + z * z;
}

const vertex = ({ positions }: TriangleMesh, v: number): Vec3 => [
  positions[3 * v],
  positions[3 * v + 1],
  positions[3 * v + 2],
];
const after = (h: number): number => (h % 3 === 2 ? h - 2 : h + 1);

/**
 * Flips the longest edge of triangles flatter than `ratio` if both new triangles are less flat and face as before. Vertices do not move;
 * a closed mesh stays closed. Slivers that cannot be flipped remain. A mesh without any is returned as it is.
 */
export function flipSlivers(mesh: TriangleMesh, ratio: number): TriangleMesh {
  let slivers = sliversOf(mesh, ratio);
  if (slivers.length === 0) return mesh;
  const triangles = mesh.triangles.slice();
  const current = { positions: mesh.positions, triangles };
  for (let pass = 0; pass < MOST_PASSES && slivers.length > 0; pass++) {
    const { twin } = pairEdges(current);
    const touched = new Set<number>();
    const around = edgesOf(current, slivers);
    let flips = 0;
    for (const t of slivers) if (flip(current, twin, t, touched, around)) flips++;
    if (flips === 0) break;
    slivers = sliversOf(current, ratio);
  }
  return current;
}

/** Neighbours of every vertex of a sliver, so that no edge is created twice. */
function edgesOf(
  { positions, triangles }: TriangleMesh,
  slivers: readonly number[],
): Map<number, Set<number>> {
  const around = new Map<number, Set<number>>();
  const isCorner = new Uint8Array(positions.length / 3);
  for (const t of slivers)
    for (let h = 3 * t; h < 3 * t + 3; h++) {
      around.set(triangles[h], new Set());
      isCorner[triangles[h]] = 1;
    }
  for (let h = 0; h < triangles.length; h++) {
    const v = triangles[h];
    if (isCorner[v] === 0) continue;
    const next = after(h);
    around.get(v)!.add(triangles[next]).add(triangles[after(next)]);
  }
  return around;
}

function flip(
  mesh: TriangleMesh,
  twin: Int32Array,
  t: number,
  touched: Set<number>,
  around: Map<number, Set<number>>,
): boolean {
  const { triangles } = mesh;
  const corner = (h: number): Vec3 => vertex(mesh, triangles[h]);
  const lengths = [0, 1, 2].map((k) => distance(corner(3 * t + k), corner(after(3 * t + k))));
  const h = 3 * t + lengths.indexOf(Math.max(...lengths));
  const g = twin[h];
  if (g < 0) return false;
  const s = (g / 3) | 0;
  if (touched.has(t) || touched.has(s)) return false;
  // a -> b is the edge; c is this triangle's far corner, d the other's.
  const [a, b, c, d] = [
    triangles[h],
    triangles[after(h)],
    triangles[after(after(h))],
    triangles[after(after(g))],
  ];
  if (c === d || around.get(c)?.has(d)) return false;
  const [pa, pb, pc, pd] = [a, b, c, d].map((v) => vertex(mesh, v));
  const before = Math.min(flatness(pa, pb, pc), flatness(pb, pa, pd));
  if (Math.min(flatness(pc, pa, pd), flatness(pd, pb, pc)) <= before) return false;
  const facing = normalize(cross(subtract(pa, pb), subtract(pd, pb)));
  const looks = (x: Vec3, y: Vec3, z: Vec3): number =>
    dot(normalize(cross(subtract(y, x), subtract(z, x))), facing);
  if (looks(pc, pa, pd) < SAME_WAY || looks(pd, pb, pc) < SAME_WAY) return false;
  triangles.set([c, a, d], 3 * t);
  triangles.set([d, b, c], 3 * s);
  touched.add(t).add(s);
  around.get(c)?.add(d);
  around.get(d)?.add(c);
  around.get(a)?.delete(b);
  around.get(b)?.delete(a);
  return true;
}
