import type { Vec3 } from '../../foundation/vector.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { layNormal } from '../../mesh/triangle-normal.js';

/** Points spread over a surface, each representing the same area. Coordinates are mm relative to `centreMm`. */
export interface SurfaceSamples {
  count: number;
  /** 3 numbers per point. */
  points: Float64Array;
  /** Unit outward normal of each point's triangle, 3 numbers per point. */
  normals: Float64Array;
  /** Mean of the points, mm, in the axes of the mesh. */
  centreMm: Vec3;
  /** Root mean square distance of the points from their mean, mm. */
  radiusMm: number;
  areaMm2: number;
}

/** Steps of the two-dimensional additive low-discrepancy sequence based on the plastic number (Roberts 2018, from memory). */
const STEP_U = 0.7548776662466927;
const STEP_V = 0.5698402909980532;

/**
 * `count` points spread evenly over the area of a mesh: each equal share of the area, in the order of the triangles, gets one, at a
 * position in its triangle from an additive sequence. Same mesh, same points; linear in triangles. Undefined if the mesh has no area.
 */
export function sampleSurface(mesh: TriangleMesh, count: number): SurfaceSamples | undefined {
  const { positions, triangles } = mesh;
  const areas = new Float64Array(triangles.length / 3);
  const normal = new Float64Array(3);
  let total = 0;
  for (let t = 0; t < areas.length; t++) {
    areas[t] = layNormal(mesh, t, normal) / 2;
    total += areas[t];
  }
  if (!(total > 0) || !Number.isFinite(total)) return undefined;
  const points = new Float64Array(3 * count);
  const normals = new Float64Array(3 * count);
  let t = 0;
  let upTo = areas[0];
  for (let i = 0; i < count; i++) {
    const target = ((i + 0.5) / count) * total;
    while (upTo < target && t + 1 < areas.length) upTo += areas[++t];
    let [u, v] = [(i * STEP_U) % 1, (i * STEP_V) % 1];
    if (u + v > 1) [u, v] = [1 - u, 1 - v];
    const [a, b, c] = [3 * triangles[3 * t], 3 * triangles[3 * t + 1], 3 * triangles[3 * t + 2]];
    layNormal(mesh, t, normal);
    for (let k = 0; k < 3; k++) {
      points[3 * i + k] = positions[a + k] * (1 - u - v) + positions[b + k] * u + positions[c + k] * v;
      normals[3 * i + k] = areas[t] > 0 ? normal[k] / (2 * areas[t]) : 0;
    }
  }
  const centreMm: Vec3 = [0, 0, 0];
  for (let i = 0; i < points.length; i++) centreMm[i % 3] += points[i] / count;
  let squares = 0;
  for (let i = 0; i < points.length; i++) {
    points[i] -= centreMm[i % 3];
    squares += points[i] * points[i];
  }
  return { count, points, normals, centreMm, radiusMm: Math.sqrt(squares / count), areaMm2: total };
}

/** Every n-th sample, about `count` of them, still evenly spread. */
export function fewerSamples(samples: SurfaceSamples, count: number): SurfaceSamples {
  if (count >= samples.count) return samples;
  const points = new Float64Array(3 * count);
  const normals = new Float64Array(3 * count);
  for (let i = 0; i < count; i++) {
    const from = 3 * Math.floor(((i + 0.5) / count) * samples.count);
    points.set(samples.points.subarray(from, from + 3), 3 * i);
    normals.set(samples.normals.subarray(from, from + 3), 3 * i);
  }
  return { ...samples, count, points, normals };
}
