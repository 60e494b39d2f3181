import { distance, type Vec3 } from '../foundation/vector.js';
import type { SurfaceDistances } from './geodesic.js';
import { walkLevel } from './level-walk.js';
import type { Surface } from './surface.js';

/** Centre and mean radius of one ring around a vessel at equal surface distance. */
export interface Ring {
  centre: Vec3;
  radiusMm: number;
}

/**
 * A first, rough centreline: the centres of the rings of equal surface distance crossed by the shortest path from `tip` back to the
 * sources. Paths along the surface keep nearly touching vessels separate.
 * Rings run from the tip towards the sources.
 */
export function ringsAlongPath(
  surface: Surface,
  distances: SurfaceDistances,
  tip: number,
  stepMm: number,
): Ring[] {
  const path: number[] = [];
  for (let v = tip; v >= 0; v = distances.from[v]) path.push(v);
  const triangleOf = trianglesOnPath(surface, path);
  const rings: Ring[] = [];
  const { distanceMm } = distances;
  let level = distanceMm[tip] - stepMm / 2;
  for (let i = 0; i + 1 < path.length; i++) {
    while (level > 0 && level < distanceMm[path[i]] && level >= distanceMm[path[i + 1]]) {
      const here = level;
      const triangle = triangleOf[i];
      const loop = triangle < 0 ? undefined : walkLevel(surface, (v) => distanceMm[v] - here, triangle);
      if (loop) rings.push(ringOf(loop.points));
      level -= stepMm;
    }
  }
  return rings;
}

/** One triangle for each edge of the path. */
function trianglesOnPath(surface: Surface, path: number[]): Int32Array {
  const place = new Int32Array(surface.vertexCount).fill(-1);
  path.forEach((v, i) => {
    place[v] = i;
  });
  const found = new Int32Array(path.length).fill(-1);
  const { triangles } = surface;
  for (let h = 0; h < triangles.length; h++) {
    const i = place[triangles[h]];
    if (i < 0) continue;
    const j = place[triangles[h % 3 === 2 ? h - 2 : h + 1]];
    if (j < 0) continue;
    if (j === i + 1) found[i] = (h / 3) | 0;
    else if (j === i - 1) found[j] = (h / 3) | 0;
  }
  return found;
}

function ringOf(points: Float64Array): Ring {
  const n = points.length / 3;
  const centre: Vec3 = [0, 0, 0];
  let perimeter = 0;
  const at = (i: number): Vec3 => [points[3 * i], points[3 * i + 1], points[3 * i + 2]];
  for (let i = 0; i < n; i++) {
    const a = at(i);
    const b = at((i + 1) % n);
    const edge = distance(a, b);
    perimeter += edge;
    for (let k = 0; k < 3; k++) centre[k] += (edge * (a[k] + b[k])) / 2;
  }
  if (perimeter === 0) return { centre: at(0), radiusMm: 0 };
  for (let k = 0; k < 3; k++) centre[k] /= perimeter;
  return { centre, radiusMm: perimeter / (2 * Math.PI) };
}
