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
 * Mean of the smallest and the largest width of the outermost closed line around a point in the section of a mesh by a plane:
 * every triangle is cut on its own, pieces that share an edge of the mesh are joined, and the widths are tried in 720
 * directions. NaN where no line surrounds the point. Shares no code with the sections that the check points come from.
 */
export function caliper({ positions, triangles }: TriangleMesh, at: Vec3, along: Vec3): number {
  const u = perpendicular(along);
  const v = cross(along, u);
  const height = (i: number): number =>
    (positions[3 * i] - at[0]) * along[0] +
    (positions[3 * i + 1] - at[1]) * along[1] +
    (positions[3 * i + 2] - at[2]) * along[2];
  // Where the plane cuts the edges of the mesh, and which cuts each triangle connects.
  const numbers = new Map<string, number>();
  const cuts: [number, number][] = [];
  const pieces: [number, number][] = [];
  const cutOf = (i: number, j: number): number => {
    const [a, b] = i < j ? [i, j] : [j, i];
    const key = `${a} ${b}`;
    const known = numbers.get(key);
    if (known !== undefined) return known;
    const f = height(a) / (height(a) - height(b));
    const p = [0, 1, 2].map(
      (k) => positions[3 * a + k] + f * (positions[3 * b + k] - positions[3 * a + k]) - at[k],
    ) as Vec3;
    cuts.push([dot(p, u), dot(p, v)]);
    numbers.set(key, cuts.length - 1);
    return cuts.length - 1;
  };
  for (let t = 0; t < triangles.length; t += 3) {
    const corners = [triangles[t], triangles[t + 1], triangles[t + 2]];
    const below = corners.map((i) => height(i) < 0);
    const crossed = [0, 1, 2].filter((k) => below[k] !== below[(k + 1) % 3]);
    if (crossed.length === 2)
      pieces.push(crossed.map((k) => cutOf(corners[k], corners[(k + 1) % 3])) as [number, number]);
  }
  const line = cuts.map((_, i) => i);
  const lineOf = (i: number): number => {
    let root = i;
    while (line[root] !== root) root = line[root];
    line[i] = root;
    return root;
  };
  for (const [a, b] of pieces) line[lineOf(a)] = lineOf(b);
  // Around the point: a ray from it crosses the line an odd number of times.
  const crossings = new Map<number, number>();
  for (const [a, b] of pieces) {
    const [[ax, ay], [bx, by]] = [cuts[a], cuts[b]];
    if (ay > 0 !== by > 0 && ax + ((bx - ax) * -ay) / (by - ay) > 0)
      crossings.set(lineOf(a), (crossings.get(lineOf(a)) ?? 0) + 1);
  }
  const outer = [...crossings]
    .filter(([, count]) => count % 2 === 1)
    .map(([root]) => widthsOf(cuts.filter((_, i) => lineOf(i) === root)));
  return outer.length === 0
    ? Number.NaN
    : Math.max(...outer.map(({ smallest, largest }) => (smallest + largest) / 2));
}

function widthsOf(points: readonly [number, number][]): { smallest: number; largest: number } {
  const widths = Array.from({ length: 720 }, (_, i) => {
    const [c, s] = [Math.cos((Math.PI * i) / 720), Math.sin((Math.PI * i) / 720)];
    const heights = points.map(([x, y]) => c * x + s * y);
    return Math.max(...heights) - Math.min(...heights);
  });
  return { smallest: Math.min(...widths), largest: Math.max(...widths) };
}

/**
 * Distance between two flat jaws of a caliper that close on a mesh in a direction, by default that of the line from `from` to
 * `to`: what lies within `jawMm` of the line through their middle, and no farther out than `pastMm` past its ends, counts.
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

/** Where a line meets the plane of a triangle inside it, by Cramer's rule. */
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

/**
 * Reading of a caliper rocked about a width by up to four degrees: about both axes across it, or about one alone, `axis`. The
 * reading to take is the extreme one.
 */
export function rocked(mesh: TriangleMesh, from: Vec3, to: Vec3, jawMm: number, axis?: Vec3): number[] {
  const direction = normalize(subtract(to, from));
  const turns = axis
    ? [normalize(cross(axis, direction))]
    : [0, 1, 2, 3, 4, 5].map((i) => turned(direction, (Math.PI * i) / 6));
  return turns.flatMap((side) =>
    [-4, -2, -1, 1, 2, 4].map((deg) => {
      const tilt = (deg * Math.PI) / 180;
      const d = normalize(add(scale(direction, Math.cos(tilt)), scale(side, Math.sin(tilt))));
      return jaws(mesh, from, to, jawMm, 1.5, d);
    }),
  );
}

const turned = (direction: Vec3, angle: number): Vec3 => {
  const u = perpendicular(direction);
  return add(scale(u, Math.cos(angle)), scale(cross(direction, u), Math.sin(angle)));
};
