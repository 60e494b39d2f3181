/**
 * How the surface passes through a cell of eight voxel centres. Corner c is at x = c & 1, y = (c >> 1) & 1, z = c >> 2; bit c of a cell's
 * number is set if the corner is inside. After marching cubes (Lorensen and Cline, SIGGRAPH 1987:163, from memory), with the table made
 * from one rule: on a face with diagonally opposite inside corners these are kept apart. Both cells at a face apply the same rule, so the
 * surface is closed and no edge has more than two triangles.
 */

/** The two corners of each of a cell's twelve edges: four along x, four along y, four along z. */
export const CELL_EDGES: readonly (readonly [number, number])[] = [1, 2, 4].flatMap((step) =>
  [0, 1, 2, 3, 4, 5, 6, 7].filter((c) => (c & step) === 0).map((c) => [c, c | step] as const),
);

/** Corners of each face, counter-clockwise as seen from outside the cell. */
const FACES = [
  [0, 4, 6, 2],
  [1, 3, 7, 5],
  [0, 1, 5, 4],
  [2, 6, 7, 3],
  [0, 2, 3, 1],
  [4, 5, 7, 6],
];

const edgeBetween = (a: number, b: number): number =>
  CELL_EDGES.findIndex(([p, q]) => (p === a && q === b) || (p === b && q === a));

const facesOf = (edge: number): number[] =>
  FACES.flatMap((face, f) => (CELL_EDGES[edge].every((c) => face.includes(c)) ? [f] : []));

/**
 * Polygons of each of the 256 cells: the cell's edges in order, outward for a right-handed grid, starting at a corner from which a fan of
 * triangles can be drawn.
 */
export const CELL_POLYGONS: readonly (readonly number[][])[] = Array.from({ length: 256 }, (_, cell) =>
  polygonsOf(cell),
);

function polygonsOf(cell: number): number[][] {
  const inside = (c: number): boolean => ((cell >> c) & 1) === 1;
  const next = new Map<number, number>();
  for (const face of FACES) {
    for (let i = 0; i < 4; i++) {
      if (inside(face[i]) || !inside(face[(i + 1) % 4])) continue;
      // the face's rim enters the inside here; the surface runs to the exit
      let j = i + 1;
      while (inside(face[(j + 1) % 4])) j++;
      const enter = edgeBetween(face[i], face[(i + 1) % 4]);
      const leave = edgeBetween(face[j % 4], face[(j + 1) % 4]);
      next.set(enter, leave);
    }
  }
  const polygons: number[][] = [];
  while (next.size > 0) {
    const edges: number[] = [];
    let edge = next.keys().next().value as number;
    while (next.has(edge)) {
      edges.push(edge);
      const following = next.get(edge)!;
      next.delete(edge);
      edge = following;
    }
    const start = fanStart(edges);
    polygons.push([...edges.slice(start), ...edges.slice(0, start)]);
  }
  return polygons;
}

/**
 * A corner from which no diagonal is in a face of the cell, where a neighbour might have the same one; each polygon has such a corner.
 */
function fanStart(edges: readonly number[]): number {
  const n = edges.length;
  return edges.findIndex((edge, s) =>
    edges.every((other, i) => {
      const apart = (i - s + n) % n;
      if (apart < 2 || apart > n - 2) return true;
      const faces = facesOf(edge);
      return !facesOf(other).some((f) => faces.includes(f));
    }),
  );
}
