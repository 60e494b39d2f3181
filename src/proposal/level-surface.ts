import type { TriangleMesh } from '../mesh/mesh.js';
import { CELL_EDGES, CELL_POLYGONS } from '../volume/cell-polygons.js';
import type { EvenGrid } from '../grid/even-grid.js';

/** Vertices stay this fraction of a step away from grid places, so that no triangle is degenerate. */
const LEAST_SHARE = 0.03;

/**
 * Closed surface of the region where a field is below 0 on a regular grid, mm, outward: each vertex is at the zero between two places.
 * The field must be positive on the outermost layer.
 */
export function levelSurface(
  { originMm, stepMm, size: [nx, ny, nz] }: EvenGrid,
  field: Float32Array,
): TriangleMesh {
  const positions: number[] = [];
  const triangles: number[] = [];
  const strides = [ny * nz, nz, 1];
  const shifts = [0, 1, 2, 3, 4, 5, 6, 7].map(
    (c) => (c & 1) * strides[0] + ((c >> 1) & 1) * strides[1] + (c >> 2) * strides[2],
  );
  // numbers of the vertices on the edges along x, y and z that start in this layer of the grid, and in the next
  let near = [0, 1, 2].map(() => new Int32Array(strides[0]).fill(-1));
  let far = [0, 1, 2].map(() => new Int32Array(strides[0]).fill(-1));
  const corner = (edge: number, i: number, j: number, k: number): number => {
    const [c, other] = CELL_EDGES[edge];
    const axis = Math.log2(other - c);
    const [on, y, z] = [c & 1, j + ((c >> 1) & 1), k + (c >> 2)];
    const list = (on === 0 ? near : far)[axis];
    const at = y * nz + z;
    if (list[at] < 0) {
      const place = (i + on) * strides[0] + at;
      const [a, b] = [field[place], field[place + strides[axis]]];
      const index = [i + on, y, z];
      index[axis] += Math.min(1 - LEAST_SHARE, Math.max(LEAST_SHARE, a / (a - b)));
      for (let d = 0; d < 3; d++) positions.push(originMm[d] + index[d] * stepMm);
      list[at] = positions.length / 3 - 1;
    }
    return list[at];
  };
  const rows = signsOfRows(field, nx * ny, nz);
  for (let i = 0; i + 1 < nx; i++) {
    for (let j = 0; j + 1 < ny; j++) {
      const row = i * ny + j;
      if ((rows[row] | rows[row + 1] | rows[row + ny] | rows[row + ny + 1]) !== MIXED) continue;
      for (let k = 0; k + 1 < nz; k++) {
        const at = i * strides[0] + j * nz + k;
        let cell = 0;
        for (let c = 0; c < 8; c++) if (field[at + shifts[c]] < 0) cell |= 1 << c;
        if (cell === 0 || cell === 255) continue;
        for (const edges of CELL_POLYGONS[cell]) {
          const corners = edges.map((edge) => corner(edge, i, j, k));
          for (let t = 1; t + 1 < corners.length; t++) triangles.push(corners[0], corners[t], corners[t + 1]);
        }
      }
    }
    [near, far] = [far, near];
    for (const list of far) list.fill(-1);
  }
  return { positions: Float64Array.from(positions), triangles: Uint32Array.from(triangles) };
}

const OUTSIDE = 1;
const INSIDE = 2;
const MIXED = OUTSIDE | INSIDE;

/** The signs that occur in the rows of a field. */
function signsOfRows(field: Float32Array, rows: number, count: number): Uint8Array {
  return Uint8Array.from({ length: rows }, (_, row) => {
    let signs = 0;
    for (let n = row * count; n < (row + 1) * count && signs !== MIXED; n++)
      signs |= field[n] < 0 ? INSIDE : OUTSIDE;
    return signs;
  });
}
