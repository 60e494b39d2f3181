import type { Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { CELL_EDGES, CELL_POLYGONS } from '../volume/cell-polygons.js';

/** An even grid in patient axes (mm LPS); x runs fastest, then y, then z. */
export interface EvenGrid {
  originMm: Vec3;
  stepMm: number;
  size: [number, number, number];
}

/** Values are kept this far from the level, so that no triangle is without area: in parts of the difference across an edge. */
const LEAST_SHARE = 0.02;

/**
 * Closed surface of where a field is below 0 on an even grid, mm, outward: each corner lies where the field is 0 between two
 * places. The field must be positive on the outermost layer.
 */
export function levelSurface(
  { originMm, stepMm, size: [nx, ny, nz] }: EvenGrid,
  field: Float32Array,
): TriangleMesh {
  const positions: number[] = [];
  const triangles: number[] = [];
  const slice = nx * ny;
  const shifts = [0, 1, 2, 3, 4, 5, 6, 7].map((c) => (c & 1) + ((c >> 1) & 1) * nx + (c >> 2) * slice);
  // corners on the edges along x, y and z that start at a place of this slice and of the next
  let low = [0, 1, 2].map(() => new Int32Array(slice).fill(-1));
  let high = [0, 1, 2].map(() => new Int32Array(slice).fill(-1));
  const corner = (edge: number, i: number, j: number, k: number): number => {
    const [c, other] = CELL_EDGES[edge];
    const axis = other - c === 1 ? 0 : other - c === 2 ? 1 : 2;
    const [x, y, up] = [i + (c & 1), j + ((c >> 1) & 1), c >> 2];
    const list = (up === 0 ? low : high)[axis];
    const at = y * nx + x;
    if (list[at] < 0) {
      const place = (k + up) * slice + at;
      const [a, b] = [field[place], field[place + (axis === 0 ? 1 : axis === 1 ? nx : slice)]];
      const share = Math.min(1 - LEAST_SHARE, Math.max(LEAST_SHARE, a / (a - b)));
      const index = [x, y, k + up];
      index[axis] += share;
      for (let d = 0; d < 3; d++) positions.push(originMm[d] + index[d] * stepMm);
      list[at] = positions.length / 3 - 1;
    }
    return list[at];
  };
  for (let k = 0; k + 1 < nz; k++) {
    for (let j = 0; j + 1 < ny; j++)
      for (let i = 0; i + 1 < nx; i++) {
        const at = (k * ny + j) * nx + i;
        let cell = 0;
        for (let c = 0; c < 8; c++) if (field[at + shifts[c]] < 0) cell |= 1 << c;
        if (cell === 0 || cell === 255) continue;
        for (const edges of CELL_POLYGONS[cell]) {
          const corners = edges.map((edge) => corner(edge, i, j, k));
          for (let t = 1; t + 1 < corners.length; t++) triangles.push(corners[0], corners[t], corners[t + 1]);
        }
      }
    [low, high] = [high, low];
    for (const list of high) list.fill(-1);
  }
  return { positions: Float64Array.from(positions), triangles: Uint32Array.from(triangles) };
}
