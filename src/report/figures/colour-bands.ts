/** Cuts a surface along the lines where a value on it crosses given levels. */
import type { TriangleMesh } from '../../mesh/mesh.js';

/** One corner of a piece: x, y, z, mm, and the value there. */
type Corner = readonly [number, number, number, number];

/**
 * The pieces of a mesh by the band of a value on its vertices, interpolated linearly in each triangle: piece i holds the values from
 * `levels[i - 1]` to `levels[i]`, the first everything below, the last everything above. `levels` are ascending. `keep` selects the
 * triangles.
 */
export function cutIntoBands(
  mesh: TriangleMesh,
  values: Float64Array,
  levels: readonly number[],
  keep: (triangle: number) => boolean = () => true,
): TriangleMesh[] {
  const bands: number[][] = Array.from({ length: levels.length + 1 }, () => []);
  const { positions: p, triangles } = mesh;
  for (let t = 0; t < triangles.length; t += 3) {
    if (!keep(t / 3)) continue;
    const corners = [triangles[t]!, triangles[t + 1]!, triangles[t + 2]!].map(
      (v): Corner => [p[3 * v]!, p[3 * v + 1]!, p[3 * v + 2]!, values[v]!],
    );
    const [low, high] = [Math.min(...corners.map((c) => c[3])), Math.max(...corners.map((c) => c[3]))];
    for (const [i, band] of bands.entries()) {
      const [from, to] = [levels[i - 1] ?? -Infinity, levels[i] ?? Infinity];
      if (high < from || low >= to) continue;
      const piece = clipped(clipped(corners, from, 1), to, -1);
      for (let k = 1; k + 1 < piece.length; k++)
        for (const corner of [piece[0]!, piece[k]!, piece[k + 1]!])
          band.push(corner[0], corner[1], corner[2]);
    }
  }
  return bands.map((band) => ({
    positions: Float64Array.from(band),
    triangles: Uint32Array.from({ length: band.length / 3 }, (_, i) => i),
  }));
}

/** The part of a polygon where the value is at least (`side` 1) or at most (-1) the level. */
function clipped(corners: readonly Corner[], level: number, side: 1 | -1): Corner[] {
  if (!Number.isFinite(level)) return [...corners];
  const out: Corner[] = [];
  for (const [i, here] of corners.entries()) {
    const next = corners[(i + 1) % corners.length]!;
    const [a, b] = [side * (here[3] - level), side * (next[3] - level)];
    if (a >= 0) out.push(here);
    if (a * b < 0) {
      const share = a / (a - b);
      out.push([0, 1, 2, 3].map((k) => here[k]! + share * (next[k]! - here[k]!)) as unknown as Corner);
    }
  }
  return out;
}
