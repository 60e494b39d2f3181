import type { Triple } from '../page-types.js';

/** A plane of the picture: its middle and unit directions to the right and down. */
export interface CutPlane {
  centre: Triple;
  right: Triple;
  down: Triple;
}

export const dot = (a: Triple, b: Triple): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];

export const cross = (a: Triple, b: Triple): Triple => [
  a[1] * b[2] - a[2] * b[1],
  a[2] * b[0] - a[0] * b[2],
  a[0] * b[1] - a[1] * b[0],
];

/** Pieces of the line in which triangles cut a plane: x0 y0 x1 y1, mm from its middle, those that begin within a reach. */
export function cutPieces(
  positions: ArrayLike<number>,
  triangles: ArrayLike<number>,
  { centre, right, down }: CutPlane,
  reachMm: number,
): number[] {
  const away = cross(right, down);
  const offset = dot(away, centre);
  const pieces: number[] = [];
  const height = (v: number): number =>
    positions[3 * v] * away[0] + positions[3 * v + 1] * away[1] + positions[3 * v + 2] * away[2] - offset;
  for (let t = 0; t < triangles.length; t += 3) {
    const corners = [triangles[t], triangles[t + 1], triangles[t + 2]];
    const heights = [height(corners[0]), height(corners[1]), height(corners[2])];
    if (heights[0] >= 0 === heights[1] >= 0 && heights[1] >= 0 === heights[2] >= 0) continue;
    const piece: number[] = [];
    for (let k = 0; k < 3; k++) {
      const [a, b] = [k, (k + 1) % 3];
      if (heights[a] >= 0 === heights[b] >= 0) continue;
      const s = heights[a] / (heights[a] - heights[b]);
      const from: Triple = [0, 0, 0];
      for (let d = 0; d < 3; d++) {
        const p = positions[3 * corners[a] + d];
        from[d] = p + s * (positions[3 * corners[b] + d] - p) - centre[d];
      }
      piece.push(dot(from, right), dot(from, down));
    }
    if (Math.abs(piece[0]) <= reachMm && Math.abs(piece[1]) <= reachMm) pieces.push(...piece);
  }
  return pieces;
}
