import type { Vec3 } from '../foundation/vector.js';

/** A volume below this share of the cubed extent counts as flat: the rounding error of a few operations. */
const FLAT = 1e-12;

/** Vertex coordinates of two triangles and the triangles themselves. */
export interface TrianglePair {
  positions: Float64Array;
  triangles: Uint32Array;
}

/** The six corners of the pair being tested, relative to the first and scaled so that the pair is about 1 wide. */
const p = new Float64Array(18);
/** Their vertices. */
const corners = new Uint32Array(6);
/** The offset and scale of the local coordinates. */
const origin = new Float64Array(3);
let size = 0;
/** The normal of the triangle that is the base of a volume. */
const normal = new Float64Array(3);
/** The most recently computed normals. */
const n = new Float64Array(3);
const m = new Float64Array(3);

/**
 * A point where triangles s and t of one mesh cross or overlap, or undefined. Neighbours that share a vertex or edge do not cross there;
 * for these only crossings away from the shared part count. Touching without penetrating does not count.
 * Most pairs tested are neighbours in one plane, so no objects are allocated.
 */
export function crossingPoint(
  { positions, triangles }: TrianglePair,
  s: number,
  t: number,
): Vec3 | undefined {
  let shared = 0;
  let mine = -1;
  let others = -1;
  for (let i = 0; i < 3; i++) {
    corners[i] = triangles[3 * s + i];
    corners[3 + i] = triangles[3 * t + i];
  }
  for (let i = 2; i >= 0; i--)
    for (let j = 5; j >= 3; j--)
      if (corners[i] === corners[j]) {
        shared++;
        mine = i;
        others = j - 3;
      }
  if (shared === 3) return undefined;
  layLocal(positions);
  if (shared === 2) return foldedOver();
  if (shared === 1)
    return (
      edgeThrough((mine + 1) % 3, (mine + 2) % 3, 3) ??
      edgeThrough(3 + ((others + 1) % 3), 3 + ((others + 2) % 3), 0) ??
      flatOverlap()
    );
  for (let k = 0; k < 3; k++) {
    const point = edgeThrough(k, (k + 1) % 3, 3) ?? edgeThrough(3 + k, 3 + ((k + 1) % 3), 0);
    if (point) return point;
  }
  return flatOverlap();
}

function layLocal(positions: Float64Array): void {
  for (let k = 0; k < 3; k++) origin[k] = positions[3 * corners[0] + k];
  size = 0;
  for (let i = 0; i < 18; i += 3) {
    const v = 3 * corners[i / 3];
    for (let k = 0; k < 3; k++) {
      const x = positions[v + k] - origin[k];
      p[i + k] = x;
      if (Math.abs(x) > size) size = Math.abs(x);
    }
  }
  if (size > 0) for (let i = 0; i < 18; i++) p[i] /= size;
}

const inMesh = (x: number, y: number, z: number): Vec3 => [
  origin[0] + size * x,
  origin[1] + size * y,
  origin[2] + size * z,
];

/** Six times the volume of the tetrahedron of four of the corners, or 0 if it is within rounding. */
function volume(a: number, b: number, c: number, d: number): number {
  layCross(normal, a, b, c);
  const i = 3 * a;
  const l = 3 * d;
  const w = normal[0] * (p[l] - p[i]) + normal[1] * (p[l + 1] - p[i + 1]) + normal[2] * (p[l + 2] - p[i + 2]);
  return Math.abs(w) < FLAT ? 0 : w;
}

/** The point where edge i-j passes through the triangle that starts at corner `base` (0 or 3), with its ends strictly on both sides. */
function edgeThrough(i: number, j: number, base: number): Vec3 | undefined {
  const a = base;
  const b = base + 1;
  const c = base + 2;
  const from = volume(a, b, c, i);
  const to = volume(a, b, c, j);
  if (from * to >= 0) return undefined;
  const u = volume(i, j, a, b);
  const v = volume(i, j, b, c);
  const w = volume(i, j, c, a);
  const inside = (u >= 0 && v >= 0 && w >= 0) || (u <= 0 && v <= 0 && w <= 0);
  if (!inside || (u === 0 && v === 0 && w === 0)) return undefined;
  const f = from / (from - to);
  const [q, r] = [3 * i, 3 * j];
  return inMesh(
    p[q] + f * (p[r] - p[q]),
    p[q + 1] + f * (p[r + 1] - p[q + 1]),
    p[q + 2] + f * (p[r + 2] - p[q + 2]),
  );
}

/** Two triangles on one edge that overlap like a closed book. */
function foldedOver(): Vec3 | undefined {
  let apexA = -1;
  let apexB = -1;
  for (let i = 2; i >= 0; i--) {
    if (!isCornerOf(corners[i], 3)) apexA = i;
    if (!isCornerOf(corners[3 + i], 0)) apexB = 3 + i;
  }
  if (apexA < 0 || apexB < 0) return undefined;
  const e0 = apexA === 0 ? 1 : 0;
  const e1 = apexA === 2 ? 1 : 2;
  if (volume(e0, e1, apexA, apexB) !== 0) return undefined;
  layCross(n, e0, e1, apexA);
  layCross(m, e0, e1, apexB);
  if (n[0] * m[0] + n[1] * m[1] + n[2] * m[2] <= FLAT) return undefined;
  const [q, r] = [3 * e0, 3 * e1];
  return inMesh((p[q] + p[r]) / 2, (p[q + 1] + p[r + 1]) / 2, (p[q + 2] + p[r + 2]) / 2);
}

const isCornerOf = (vertex: number, base: number): boolean =>
  vertex === corners[base] || vertex === corners[base + 1] || vertex === corners[base + 2];

/** Writes the cross product of the edges from corner a to b and to c. */
function layCross(into: Float64Array, a: number, b: number, c: number): void {
  const i = 3 * a;
  const j = 3 * b;
  const k = 3 * c;
  const ux = p[j] - p[i];
  const uy = p[j + 1] - p[i + 1];
  const uz = p[j + 2] - p[i + 2];
  const vx = p[k] - p[i];
  const vy = p[k + 1] - p[i + 1];
  const vz = p[k + 2] - p[i + 2];
  into[0] = uy * vz - uz * vy;
  into[1] = uz * vx - ux * vz;
  into[2] = ux * vy - uy * vx;
}

/** Two coplanar triangles that share some area: no line along a side separates them. */
function flatOverlap(): Vec3 | undefined {
  for (let k = 3; k < 6; k++) if (volume(0, 1, 2, k) !== 0) return undefined;
  layCross(n, 0, 1, 2);
  layCross(m, 3, 4, 5);
  if (isNought(n) || isNought(m)) return undefined;
  let drop = 0;
  for (let k = 1; k < 3; k++) if (Math.abs(n[k]) > Math.abs(n[drop])) drop = k;
  const u = (drop + 1) % 3;
  const v = (drop + 2) % 3;
  for (let k = 0; k < 3; k++) {
    if (parts(k, (k + 1) % 3, (k + 2) % 3, 3, u, v)) return undefined;
    if (parts(3 + k, 3 + ((k + 1) % 3), 3 + ((k + 2) % 3), 0, u, v)) return undefined;
  }
  const centre = (k: number): number => (p[k] + p[3 + k] + p[6 + k]) / 3;
  return inMesh(centre(0), centre(1), centre(2));
}

const isNought = (a: Float64Array): boolean =>
  Math.abs(a[0]) < FLAT && Math.abs(a[1]) < FLAT && Math.abs(a[2]) < FLAT;

/** Whether the line through corners i and j, in axes u and v, separates corner `own` from the three corners from `other` on. */
function parts(i: number, j: number, own: number, other: number, u: number, v: number): boolean {
  const inner = Math.sign(side(i, j, own, u, v));
  for (let q = other; q < other + 3; q++) if (!(side(i, j, q, u, v) * inner <= 1e-9)) return false;
  return true;
}

function side(i: number, j: number, q: number, u: number, v: number): number {
  const a = 3 * i;
  const b = 3 * j;
  const c = 3 * q;
  return (p[b + u] - p[a + u]) * (p[c + v] - p[a + v]) - (p[b + v] - p[a + v]) * (p[c + u] - p[a + u]);
}
