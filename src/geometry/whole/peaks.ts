import type { Surface } from '../surface.js';

/** A place of the surface that is farther from the sources than its surroundings. */
export interface Peak {
  vertex: number;
  /** Its distance, mm. */
  distanceMm: number;
  /** How far back towards the sources the path to a higher peak leads, mm. */
  heightMm: number;
}

/** Number of levels for sorting distances; heights are accurate to one part in this many. */
const LEVELS = 1 << 16;
const MOST_PEAKS = 256;

/**
 * The peaks of a distance given at the vertices, highest first, at most 256 and none below `leastMm`. Edges are joined starting from the
 * farthest; where two regions meet, the peak of the lower one ends (persistence of a
 * 0-dimensional class: Edelsbrunner, Letscher and Zomorodian, Discrete Comput Geom 2002;28:511, from memory).
 * Linear in the triangles. Vertices at infinity are ignored.
 */
export function peaksOf(surface: Surface, distanceMm: Float64Array, leastMm: number): Peak[] {
  const { triangles, twin, vertexCount } = surface;
  let farthest = 0;
  for (let v = 0; v < vertexCount; v++) {
    const d = distanceMm[v];
    if (d > farthest && d < Number.POSITIVE_INFINITY) farthest = d;
  }
  const end = (h: number): number => triangles[h % 3 === 2 ? h - 2 : h + 1];
  const lower = (h: number): number => Math.min(distanceMm[triangles[h]], distanceMm[end(h)]);
  const scale = farthest || 1;
  // negative where the edge does not count or its other half does
  const levelOf = (h: number): number => {
    const g = twin[h];
    if (g >= 0 && g <= h) return -1;
    const low = lower(h);
    if (!(low < Number.POSITIVE_INFINITY)) return -1;
    return LEVELS - 1 - Math.min(LEVELS - 1, Math.floor((low / scale) * LEVELS));
  };
  const start = new Uint32Array(LEVELS + 1);
  for (let h = 0; h < triangles.length; h++) {
    const level = levelOf(h);
    if (level >= 0) start[level + 1]++;
  }
  for (let i = 0; i < LEVELS; i++) start[i + 1] += start[i];
  const sorted = new Uint32Array(start[LEVELS]);
  for (let h = 0; h < triangles.length; h++) {
    const level = levelOf(h);
    if (level >= 0) sorted[start[level]++] = h;
  }

  const parent = new Int32Array(vertexCount);
  const peak = new Int32Array(vertexCount);
  for (let v = 0; v < vertexCount; v++) parent[v] = peak[v] = v;
  const root = (of: number): number => {
    let v = of;
    while (parent[v] !== v) {
      parent[v] = parent[parent[v]];
      v = parent[v];
    }
    return v;
  };
  const ended = new Uint8Array(vertexCount);
  const peaks: Peak[] = [];
  const finish = (vertex: number, level: number): void => {
    ended[vertex] = 1;
    const heightMm = distanceMm[vertex] - level;
    if (heightMm >= leastMm) peaks.push({ vertex, distanceMm: distanceMm[vertex], heightMm });
  };
  for (let i = 0; i < sorted.length; i++) {
    const h = sorted[i];
    const a = root(triangles[h]);
    const b = root(end(h));
    if (a === b) continue;
    const p = peak[a];
    const q = peak[b];
    const keepsA = distanceMm[p] > distanceMm[q] || (distanceMm[p] === distanceMm[q] && p < q);
    finish(keepsA ? q : p, lower(h));
    parent[keepsA ? b : a] = keepsA ? a : b;
  }
  for (let i = 0; i < sorted.length; i++) {
    const left = peak[root(triangles[sorted[i]])];
    if (!ended[left]) finish(left, 0);
  }
  return peaks.sort((x, y) => y.heightMm - x.heightMm || x.vertex - y.vertex).slice(0, MOST_PEAKS);
}
