import {
  add,
  cross,
  dot,
  normalize,
  perpendicular,
  scale,
  subtract,
  type Vec3,
} from '../../src/foundation/vector.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';

/**
 * Mean of the smallest and the largest width of what a plane cuts of a mesh near a point: every triangle is cut by itself, and the
 * widths are tried in 720 directions. Shares no code with the sections that the check points come from.
 */
export function caliper(
  { positions, triangles }: TriangleMesh,
  at: Vec3,
  along: Vec3,
  reachMm: number,
): number {
  const u = perpendicular(along);
  const v = cross(along, u);
  const points: [number, number][] = [];
  const corner = (i: number): Vec3 => {
    const p = 3 * triangles[i];
    return subtract([positions[p], positions[p + 1], positions[p + 2]], at);
  };
  for (let t = 0; t < triangles.length; t += 3) {
    const corners = [corner(t), corner(t + 1), corner(t + 2)];
    const heights = corners.map((c) => dot(c, along));
    for (let k = 0; k < 3; k++) {
      const [a, b] = [k, (k + 1) % 3];
      if (heights[a] < 0 === heights[b] < 0) continue;
      const f = heights[a] / (heights[a] - heights[b]);
      const p = corners[a].map((c, i) => c + f * (corners[b][i] - c)) as Vec3;
      const [x, y] = [dot(p, u), dot(p, v)];
      if (Math.hypot(x, y) < reachMm) points.push([x, y]);
    }
  }
  const widths = Array.from({ length: 720 }, (_, i) => {
    const [c, s] = [Math.cos((Math.PI * i) / 720), Math.sin((Math.PI * i) / 720)];
    const along1 = points.map(([x, y]) => c * x + s * y);
    return Math.max(...along1) - Math.min(...along1);
  });
  return (Math.min(...widths) + Math.max(...widths)) / 2;
}

/**
 * Distance of two flat jaws of a caliper that close on a mesh in a direction, by default that of the line from `from` to `to`: what
 * lies within `jawMm` of the line through their middle, and no farther out than `pastMm` past its ends, counts.
 */
export function jaws(
  { positions }: TriangleMesh,
  from: Vec3,
  to: Vec3,
  jawMm: number,
  pastMm = 1,
  direction = normalize(subtract(to, from)),
): number {
  const middle = scale(add(from, to), 0.5);
  const half = dot(subtract(to, from), direction) / 2;
  let [low, high] = [Infinity, -Infinity];
  for (let p = 0; p < positions.length; p += 3) {
    const [x, y, z] = [positions[p] - middle[0], positions[p + 1] - middle[1], positions[p + 2] - middle[2]];
    const h = x * direction[0] + y * direction[1] + z * direction[2];
    if (Math.abs(h) > half + pastMm || x * x + y * y + z * z - h * h > jawMm * jawMm) continue;
    if (h < low) low = h;
    if (h > high) high = h;
  }
  return high - low;
}

/** Where a line meets a triangle's plane inside of it, by Cramer's rule. */
export function meets(
  from: Vec3,
  along: Vec3,
  a: Vec3,
  b: Vec3,
  c: Vec3,
): { distance: number; normal: Vec3 } | undefined {
  const [u, v, w] = [subtract(b, a), subtract(c, a), subtract(from, a)];
  const p = cross(along, v);
  const det = dot(u, p);
  if (Math.abs(det) < 1e-12) return undefined;
  const f = dot(w, p) / det;
  if (f < 0 || f > 1) return undefined;
  const q = cross(w, u);
  const g = dot(along, q) / det;
  if (g < 0 || f + g > 1) return undefined;
  return { distance: dot(v, q) / det, normal: normalize(cross(u, v)) };
}
