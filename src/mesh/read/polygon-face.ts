import { cross, dot, normalize, perpendicular, type Vec3 } from '../../foundation/vector.js';
import { triangulatePolygon } from '../triangulate-polygon.js';

/**
 * Splits one face with four or more corners: in its plane by ear clipping if it is a simple polygon, else as a fan from the first corner.
 * `corners` are vertex numbers; returns vertex triples.
 */
export function splitFace(
  corners: readonly number[],
  coordinate: (vertex: number, axis: number) => number,
): number[] {
  const n = corners.length;
  if (n === 3) return [...corners];
  const points = corners.map((v): Vec3 => [coordinate(v, 0), coordinate(v, 1), coordinate(v, 2)]);
  const [ox, oy, oz] = points[0];
  const relative = points.map(([x, y, z]): Vec3 => [x - ox, y - oy, z - oz]);
  const area: Vec3 = [0, 0, 0];
  for (let i = 0; i < n; i++) {
    const c = cross(relative[i], relative[(i + 1) % n]);
    for (let k = 0; k < 3; k++) area[k] += c[k];
  }
  const normal = normalize(area);
  const u = perpendicular(normal);
  const v = cross(normal, u);
  const split =
    normal[0] || normal[1] || normal[2]
      ? triangulatePolygon(Float64Array.from(relative.flatMap((p) => [dot(p, u), dot(p, v)])))
      : undefined;
  if (split) return split.map((i) => corners[i]);
  const fan: number[] = [];
  for (let i = 1; i + 1 < n; i++) fan.push(corners[0], corners[i], corners[i + 1]);
  return fan;
}
