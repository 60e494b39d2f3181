/*
 * A plane cutter and an inside test that are independent of the program's own: every triangle is tested; nothing is searched
 * in a tree, walked from neighbour to neighbour or fitted. Slow.
 */

type Point = readonly [number, number, number];

interface Mesh {
  positions: ArrayLike<number>;
  triangles: ArrayLike<number>;
}

/**
 * Winding number of a closed surface around a point, by the solid angles of its triangles (van Oosterom and Strackee, IEEE
 * Trans Biomed Eng 1983;30:125; as a winding number: Jacobson, Kavan and Sorkine-Hornung, ACM Trans Graph 2013;32:33; both
 * from memory).
 */
export function solidAngleWinding({ positions, triangles }: Mesh, p: Point): number {
  let sum = 0;
  const seen = seenFrom(positions, p);
  for (let t = 0; t < triangles.length; t += 3) {
    const [i, j, k] = [4 * triangles[t], 4 * triangles[t + 1], 4 * triangles[t + 2]];
    const [ax, ay, az, a] = [seen[i], seen[i + 1], seen[i + 2], seen[i + 3]];
    const [bx, by, bz, b] = [seen[j], seen[j + 1], seen[j + 2], seen[j + 3]];
    const [cx, cy, cz, c] = [seen[k], seen[k + 1], seen[k + 2], seen[k + 3]];
    const det = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx);
    const ab = ax * bx + ay * by + az * bz;
    const bc = bx * cx + by * cy + bz * cz;
    const ca = cx * ax + cy * ay + cz * az;
    sum += Math.atan2(det, a * b * c + ab * c + bc * a + ca * b);
  }
  return sum / (2 * Math.PI);
}

/** x, y, z and distance of each vertex from a point. */
function seenFrom(positions: ArrayLike<number>, p: Point): Float64Array {
  const seen = new Float64Array((4 * positions.length) / 3);
  for (let i = 0, o = 0; i < positions.length; i += 3, o += 4) {
    const [x, y, z] = [positions[i] - p[0], positions[i + 1] - p[1], positions[i + 2] - p[2]];
    seen[o] = x;
    seen[o + 1] = y;
    seen[o + 2] = z;
    seen[o + 3] = Math.sqrt(x * x + y * y + z * z);
  }
  return seen;
}

/** What a plane through a point cuts out of a surface around that point. */
export interface PlaneCut {
  areaMm2: number;
  equivalentMm: number;
  minMm: number;
  maxMm: number;
}

/**
 * The outline around `point` of the section across `normal`: every triangle that the plane crosses gives a segment, segments
 * are joined where they share an edge of the mesh, and the smallest closed outline around the point counts. Widths by turning
 * a caliper in steps of a tenth of a degree. Undefined where no outline surrounds it.
 */
export function planeCut({ positions, triangles }: Mesh, point: Point, normal: Point): PlaneCut | undefined {
  const n = unit(normal);
  const u = unit(Math.abs(n[0]) < 0.7 ? cross(n, [1, 0, 0]) : cross(n, [0, 1, 0]));
  const v = cross(n, u);
  const heights = new Float64Array(positions.length / 3);
  for (let i = 0; i < heights.length; i++) {
    const h =
      (positions[3 * i] - point[0]) * n[0] +
      (positions[3 * i + 1] - point[1]) * n[1] +
      (positions[3 * i + 2] - point[2]) * n[2];
    heights[i] = h === 0 ? 1e-12 : h;
  }
  const pieces = new Map<string, { key: string; u: number; v: number }[]>();
  for (let t = 0; t < triangles.length; t += 3) {
    const isAbove = heights[triangles[t]] > 0;
    if (isAbove === heights[triangles[t + 1]] > 0 && isAbove === heights[triangles[t + 2]] > 0) continue;
    const corners = [triangles[t], triangles[t + 1], triangles[t + 2]];
    const h = corners.map((v) => heights[v]);
    const ends: { key: string; u: number; v: number }[] = [];
    for (let k = 0; k < 3; k++) {
      const [i, j] = [k, (k + 1) % 3];
      if (h[i] > 0 === h[j] > 0) continue;
      const [a, b] = [corners[i], corners[j]];
      const f = h[i] / (h[i] - h[j]);
      const at = [0, 1, 2].map(
        (c) => positions[3 * a + c] + f * (positions[3 * b + c] - positions[3 * a + c]) - point[c],
      );
      ends.push({ key: a < b ? `${a} ${b}` : `${b} ${a}`, u: dot(at, u), v: dot(at, v) });
    }
    for (const [from, to] of [ends, [...ends].reverse()]) {
      const list = pieces.get(from.key);
      if (list) list.push(to);
      else pieces.set(from.key, [to]);
    }
  }
  const taken = new Set<string>();
  let best: [number, number][] | undefined;
  for (const key of pieces.keys()) {
    if (taken.has(key)) continue;
    const outline: [number, number][] = [];
    let here = key;
    for (;;) {
      taken.add(here);
      const next = pieces.get(here)!.find((to) => !taken.has(to.key));
      if (!next) break;
      outline.push([next.u, next.v]);
      here = next.key;
    }
    const first = pieces.get(here)!.find((to) => to.key === key);
    if (!first) continue;
    outline.push([first.u, first.v]);
    if (goesRound(outline) && (!best || areaOf(outline) < areaOf(best))) best = outline;
  }
  if (!best) return undefined;
  const areaMm2 = areaOf(best);
  let [minMm, maxMm] = [Number.POSITIVE_INFINITY, 0];
  for (let k = 0; k < 1800; k++) {
    const [c, s] = [Math.cos((k * Math.PI) / 1800), Math.sin((k * Math.PI) / 1800)];
    const along = best.map(([x, y]) => x * c + y * s);
    const width = Math.max(...along) - Math.min(...along);
    minMm = Math.min(minMm, width);
    maxMm = Math.max(maxMm, width);
  }
  return { areaMm2, equivalentMm: 2 * Math.sqrt(areaMm2 / Math.PI), minMm, maxMm };
}

function areaOf(outline: readonly (readonly [number, number])[]): number {
  let doubled = 0;
  outline.forEach(([x, y], i) => {
    const [nx, ny] = outline[(i + 1) % outline.length];
    doubled += x * ny - nx * y;
  });
  return Math.abs(doubled) / 2;
}

function goesRound(outline: readonly (readonly [number, number])[]): boolean {
  let turned = 0;
  outline.forEach(([x, y], i) => {
    const [nx, ny] = outline[(i + 1) % outline.length];
    turned += Math.atan2(x * ny - y * nx, x * nx + y * ny);
  });
  return Math.abs(turned) > Math.PI;
}

const dot = (a: ArrayLike<number>, b: ArrayLike<number>): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];

const cross = (a: Point, b: Point): [number, number, number] => [
  a[1] * b[2] - a[2] * b[1],
  a[2] * b[0] - a[0] * b[2],
  a[0] * b[1] - a[1] * b[0],
];

function unit(a: Point): [number, number, number] {
  const l = Math.hypot(...a);
  return [a[0] / l, a[1] / l, a[2] / l];
}
