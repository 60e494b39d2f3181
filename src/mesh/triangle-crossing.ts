import type { Vec3 } from '../foundation/vector.js';

/** A volume below this part of the cubed extent counts as flat: the noise of doubles after a few operations. */
const FLAT = 1e-12;

/** Vertex coordinates of two triangles and the triangles themselves. */
export interface TrianglePair {
  positions: Float64Array;
  triangles: Uint32Array;
}

/**
 * A point where triangles s and t of one mesh cross or lie on each other, or undefined. Neighbours that share a
 * vertex or an edge as they should do not cross; of those only what happens away from the shared part counts.
 * Touching without going through does not count.
 */
export function crossingPoint(mesh: TrianglePair, s: number, t: number): Vec3 | undefined {
  const { triangles: v } = mesh;
  const a = [v[3 * s], v[3 * s + 1], v[3 * s + 2]];
  const b = [v[3 * t], v[3 * t + 1], v[3 * t + 2]];
  const shared = a.filter((x) => b.includes(x));
  const local = localCopy(mesh.positions, a, b);
  if (shared.length === 3) return undefined;
  if (shared.length === 2) return foldedOver(local, a, b, shared);
  let point: Vec3 | undefined;
  if (shared.length === 1) {
    const i = a.indexOf(shared[0]);
    const j = b.indexOf(shared[0]);
    point =
      edgeThrough(local, (i + 1) % 3, (i + 2) % 3, 3) ??
      edgeThrough(local, 3 + ((j + 1) % 3), 3 + ((j + 2) % 3), 0);
  } else {
    for (let k = 0; k < 3 && !point; k++) {
      point = edgeThrough(local, k, (k + 1) % 3, 3) ?? edgeThrough(local, 3 + k, 3 + ((k + 1) % 3), 0);
    }
  }
  return point ? fromLocal(local, point) : flatOverlap(local);
}

interface Local {
  /** Six points relative to the first, scaled so that the pair is about 1 wide. */
  p: Vec3[];
  origin: Vec3;
  size: number;
}

function localCopy(positions: Float64Array, a: number[], b: number[]): Local {
  const o = 3 * a[0];
  const origin: Vec3 = [positions[o], positions[o + 1], positions[o + 2]];
  const p = [...a, ...b].map((v): Vec3 => {
    return [positions[3 * v] - origin[0], positions[3 * v + 1] - origin[1], positions[3 * v + 2] - origin[2]];
  });
  let size = 0;
  for (const point of p) size = Math.max(size, Math.abs(point[0]), Math.abs(point[1]), Math.abs(point[2]));
  if (size > 0) for (const point of p) for (let k = 0; k < 3; k++) point[k] /= size;
  return { p, origin, size };
}

function fromLocal({ origin, size }: Local, x: Vec3): Vec3 {
  return [origin[0] + size * x[0], origin[1] + size * x[1], origin[2] + size * x[2]];
}

/** Six times the volume of the tetrahedron a b c d, 0 where it is lost in rounding. */
function volume(a: Vec3, b: Vec3, c: Vec3, d: Vec3): number {
  const ux = b[0] - a[0];
  const uy = b[1] - a[1];
  const uz = b[2] - a[2];
  const vx = c[0] - a[0];
  const vy = c[1] - a[1];
  const vz = c[2] - a[2];
  const w =
    (uy * vz - uz * vy) * (d[0] - a[0]) +
    (uz * vx - ux * vz) * (d[1] - a[1]) +
    (ux * vy - uy * vx) * (d[2] - a[2]);
  return Math.abs(w) < FLAT ? 0 : w;
}

/** Where edge i-j goes through the triangle that starts at point `base` (0 or 3): its ends lie truly on both sides. */
function edgeThrough({ p }: Local, i: number, j: number, base: number): Vec3 | undefined {
  const [a, b, c] = [p[base], p[base + 1], p[base + 2]];
  const from = volume(a, b, c, p[i]);
  const to = volume(a, b, c, p[j]);
  if (from * to >= 0) return undefined;
  const u = volume(p[i], p[j], a, b);
  const v = volume(p[i], p[j], b, c);
  const w = volume(p[i], p[j], c, a);
  const inside = (u >= 0 && v >= 0 && w >= 0) || (u <= 0 && v <= 0 && w <= 0);
  if (!inside || (u === 0 && v === 0 && w === 0)) return undefined;
  const f = from / (from - to);
  return [0, 1, 2].map((k) => p[i][k] + f * (p[j][k] - p[i][k])) as Vec3;
}

/** Two triangles on one edge, lying on each other like a closed book. */
function foldedOver(local: Local, a: number[], b: number[], shared: number[]): Vec3 | undefined {
  const { p } = local;
  const apexA = p[a.findIndex((x) => !shared.includes(x))];
  const apexB = p[3 + b.findIndex((x) => !shared.includes(x))];
  const e0 = p[a.indexOf(shared[0])];
  const e1 = p[a.indexOf(shared[1])];
  if (!apexA || !apexB || volume(e0, e1, apexA, apexB) !== 0) return undefined;
  const n = cross3(e0, e1, apexA);
  const m = cross3(e0, e1, apexB);
  const side = n[0] * m[0] + n[1] * m[1] + n[2] * m[2];
  if (side <= FLAT) return undefined;
  return fromLocal(local, [(e0[0] + e1[0]) / 2, (e0[1] + e1[1]) / 2, (e0[2] + e1[2]) / 2]);
}

function cross3(a: Vec3, b: Vec3, c: Vec3): Vec3 {
  const u = [b[0] - a[0], b[1] - a[1], b[2] - a[2]];
  const v = [c[0] - a[0], c[1] - a[1], c[2] - a[2]];
  return [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
}

/** Two triangles in one plane that share some area: no line along a side parts them. */
function flatOverlap(local: Local): Vec3 | undefined {
  const { p } = local;
  for (let k = 3; k < 6; k++) if (volume(p[0], p[1], p[2], p[k]) !== 0) return undefined;
  const n = cross3(p[0], p[1], p[2]);
  const m = cross3(p[3], p[4], p[5]);
  if (n.every((x) => Math.abs(x) < FLAT) || m.every((x) => Math.abs(x) < FLAT)) return undefined;
  const drop = [0, 1, 2].reduce((best, k) => (Math.abs(n[k]) > Math.abs(n[best]) ? k : best), 0);
  const [u, v] = [(drop + 1) % 3, (drop + 2) % 3];
  const parts = (i: number, j: number, own: number, other: number): boolean => {
    const side = (q: Vec3): number =>
      (p[j][u] - p[i][u]) * (q[v] - p[i][v]) - (p[j][v] - p[i][v]) * (q[u] - p[i][u]);
    const inner = side(p[own]);
    return [p[other], p[other + 1], p[other + 2]].every((q) => side(q) * Math.sign(inner) <= 1e-9);
  };
  for (let k = 0; k < 3; k++) {
    if (parts(k, (k + 1) % 3, (k + 2) % 3, 3)) return undefined;
    if (parts(3 + k, 3 + ((k + 1) % 3), 3 + ((k + 2) % 3), 0)) return undefined;
  }
  const centre = (i: number): Vec3 => [0, 1, 2].map((k) => (p[i][k] + p[i + 1][k] + p[i + 2][k]) / 3) as Vec3;
  return fromLocal(local, centre(0));
}
