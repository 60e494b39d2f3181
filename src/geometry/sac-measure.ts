import { distance, dot, type Vec3 } from '../foundation/vector.js';
import { principalAxes } from './principal-axes.js';

/** Measurements of a closed body, in the coordinates of its vertices. */
export interface BodyMeasure {
  volumeMm3: number;
  surfaceMm2: number;
  longestMm: number;
  longestEnds: [Vec3, Vec3];
  /** Extents along the principal axes of inertia, largest first. */
  axesMm: [number, number, number];
  centre: Vec3;
}

/**
 * Volume, centroid and second moments by the divergence theorem over the triangles (in index order), area,
 * the longest distance between two vertices and the extents along the principal axes of inertia.
 * `positions` 3 numbers per vertex, `triangles` 3 indices per triangle, outward, closed.
 */
export function measureBody(positions: Float64Array, triangles: Uint32Array): BodyMeasure {
  let volume6 = 0;
  let area2 = 0;
  const first = new Float64Array(3);
  const second = new Float64Array(6);
  for (let t = 0; t < triangles.length; t += 3) {
    const i = 3 * triangles[t];
    const j = 3 * triangles[t + 1];
    const k = 3 * triangles[t + 2];
    const ax = positions[i];
    const ay = positions[i + 1];
    const az = positions[i + 2];
    const bx = positions[j];
    const by = positions[j + 1];
    const bz = positions[j + 2];
    const cx = positions[k];
    const cy = positions[k + 1];
    const cz = positions[k + 2];
    const nx = (by - ay) * (cz - az) - (bz - az) * (cy - ay);
    const ny = (bz - az) * (cx - ax) - (bx - ax) * (cz - az);
    const nz = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);
    area2 += Math.sqrt(nx * nx + ny * ny + nz * nz);
    const det = ax * nx + ay * ny + az * nz;
    volume6 += det;
    const x = ax + bx + cx;
    const y = ay + by + cy;
    const z = az + bz + cz;
    first[0] += det * x;
    first[1] += det * y;
    first[2] += det * z;
    second[0] += det * (x * x + ax * ax + bx * bx + cx * cx);
    second[1] += det * (x * y + ax * ay + bx * by + cx * cy);
    second[2] += det * (x * z + ax * az + bx * bz + cx * cz);
    second[3] += det * (y * y + ay * ay + by * by + cy * cy);
    second[4] += det * (y * z + ay * az + by * bz + cy * cz);
    second[5] += det * (z * z + az * az + bz * bz + cz * cz);
  }
  const volumeMm3 = volume6 / 6;
  const centre: Vec3 = [first[0] / (4 * volume6), first[1] / (4 * volume6), first[2] / (4 * volume6)];
  const [xx, xy, xz, yy, yz, zz] = second.map((s) => s / (20 * volume6));
  const axes = principalAxes([
    [xx - centre[0] * centre[0], xy - centre[0] * centre[1], xz - centre[0] * centre[2]],
    [xy - centre[0] * centre[1], yy - centre[1] * centre[1], yz - centre[1] * centre[2]],
    [xz - centre[0] * centre[2], yz - centre[1] * centre[2], zz - centre[2] * centre[2]],
  ]);
  const used = usedVertices(positions, triangles);
  const axesMm = axes.map((axis) => extent(used, axis)).sort((p, q) => q - p) as [number, number, number];
  const longestEnds = farthestPair(used, axes);
  return {
    volumeMm3,
    surfaceMm2: area2 / 2,
    longestMm: distance(...longestEnds),
    longestEnds,
    axesMm,
    centre,
  };
}

const vertex = (p: Float64Array, i: number): Vec3 => [p[3 * i], p[3 * i + 1], p[3 * i + 2]];

function usedVertices(positions: Float64Array, triangles: Uint32Array): Vec3[] {
  const used = new Uint8Array(positions.length / 3);
  for (let i = 0; i < triangles.length; i++) used[triangles[i]] = 1;
  const points: Vec3[] = [];
  used.forEach((u, v) => {
    if (u) points.push(vertex(positions, v));
  });
  return points;
}

function extent(points: readonly Vec3[], axis: Vec3): number {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const p of points) {
    const d = dot(p, axis);
    if (d < low) low = d;
    if (d > high) high = d;
  }
  return high - low;
}

/**
 * The two vertices farthest apart, by iteration: from a point to the vertex farthest from it until the distance converges, started from
 * the extremes of thirteen directions. Linear in the vertices.
 */
function farthestPair(points: readonly Vec3[], axes: readonly Vec3[]): [Vec3, Vec3] {
  let best: [Vec3, Vec3] = [points[0], points[0]];
  let longest = -1;
  for (const direction of startDirections(axes)) {
    let from = points.reduce((far, p) => (dot(p, direction) > dot(far, direction) ? p : far), points[0]);
    for (let guard = 0; guard < 12; guard++) {
      let to = from;
      let span = -1;
      const [fx, fy, fz] = from;
      for (const p of points) {
        const x = p[0] - fx;
        const y = p[1] - fy;
        const z = p[2] - fz;
        const d = x * x + y * y + z * z;
        if (d > span) {
          span = d;
          to = p;
        }
      }
      if (span <= longest) break;
      longest = span;
      best = [from, to];
      from = to;
    }
  }
  return best;
}

function startDirections(axes: readonly Vec3[]): Vec3[] {
  const out: Vec3[] = [];
  for (let i = -1; i <= 1; i++)
    for (let j = -1; j <= 1; j++)
      for (let k = -1; k <= 1; k++) {
        if (i < 0 || (i === 0 && (j < 0 || (j === 0 && k <= 0)))) continue;
        out.push([0, 1, 2].map((c) => i * axes[0][c] + j * axes[1][c] + k * axes[2][c]) as Vec3);
      }
  return out;
}
