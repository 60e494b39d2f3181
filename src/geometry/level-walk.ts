import type { Surface } from './surface.js';

/** A closed line on the surface along which a value at the vertices crosses zero. */
export interface LevelLoop {
  /** x0 y0 z0 x1 …, mm. */
  points: Float64Array;
  /** The triangle of each point's segment. */
  triangles: Uint32Array;
}

/** Buffer for a line of unknown length, reused between walks. */
let points = new Float64Array(3 * 1024);
let visited = new Uint32Array(1024);

function growScratch(): void {
  const morePoints = new Float64Array(2 * points.length);
  morePoints.set(points);
  points = morePoints;
  const moreVisited = new Uint32Array(2 * visited.length);
  moreVisited.set(visited);
  visited = moreVisited;
}

/**
 * Walks the zero line of `value` over the triangles' edges, starting in triangle `start`.
 *
 * The cost depends on the length of the line, not the size of the mesh. A vertex at zero counts as above, so that every crossed triangle
 * has exactly one entry and one exit edge, without a tolerance. Returns undefined if `start` is not crossed or the line runs into a rim.
 */
export function walkLevel(
  surface: Surface,
  value: (vertex: number) => number,
  start: number,
): LevelLoop | undefined {
  const { positions, triangles, twin } = surface;
  let half = exitEdge(triangles, value, start);
  if (half < 0) return undefined;
  const first = half;
  let va = value(triangles[half]);
  let vb = value(triangles[after(half)]);
  let n = 0;
  for (let step = 0; step < triangles.length; step++) {
    const t = (half / 3) | 0;
    const a = triangles[half];
    const b = triangles[after(half)];
    const f = va / (va - vb);
    if (n === visited.length) growScratch();
    const p = 3 * n;
    const x = positions[3 * a];
    const y = positions[3 * a + 1];
    const z = positions[3 * a + 2];
    points[p] = x + (positions[3 * b] - x) * f;
    points[p + 1] = y + (positions[3 * b + 1] - y) * f;
    points[p + 2] = z + (positions[3 * b + 2] - z) * f;
    visited[n++] = t;
    const opposite = twin[half];
    if (opposite < 0) return undefined;
    const side = after(opposite);
    if (triangles[opposite] === b) {
      // the line enters over b-a; the third corner decides over which of the other two edges it leaves
      const tip = after(side);
      const vc = value(triangles[tip]);
      if (vc >= 0) {
        half = tip;
        va = vc;
      } else {
        half = side;
        vb = vc;
      }
    } else {
      half = exitEdge(triangles, value, (opposite / 3) | 0);
      if (half < 0) return undefined;
      va = value(triangles[half]);
      vb = value(triangles[after(half)]);
    }
    if (half === first) return { points: points.slice(0, 3 * n), triangles: visited.slice(0, n) };
  }
  return undefined;
}

/** The next half-edge of the same triangle. */
const after = (h: number): number => (h % 3 === 2 ? h - 2 : h + 1);

/** The half-edge of triangle `t` that runs from above zero to below it, where the line leaves; -1 if uncrossed. */
function exitEdge(triangles: Uint32Array, value: (vertex: number) => number, t: number): number {
  const s0 = value(triangles[3 * t]) >= 0;
  const s1 = value(triangles[3 * t + 1]) >= 0;
  const s2 = value(triangles[3 * t + 2]) >= 0;
  if (s0 && !s1) return 3 * t;
  if (s1 && !s2) return 3 * t + 1;
  if (s2 && !s0) return 3 * t + 2;
  return -1;
}
