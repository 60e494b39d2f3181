import { type Cells, cellsOf } from './cells.js';

/** Greatest number of places of a grid, whose bits and counts take 100 MB. */
const MOST_PLACES = 400_000_000;

/** The smallest step allowed for a grid around a box of these sides, mm. */
export function leastStepMm(sizeMm: readonly number[]): number {
  let step = Math.cbrt((sizeMm[0] * sizeMm[1] * sizeMm[2]) / MOST_PLACES) || 1e-3;
  const places = (h: number): number => sizeMm.reduce((n, s) => n * (Math.ceil(s / h) + 4), 1);
  while (places(step) > MOST_PLACES) step *= 1.05;
  return step;
}

/**
 * The cells of step `stepMm` inside a closed, outward surface, by rays along z: a cell is inside if the surface has been entered more
 * often than left (winding number above 0). Each edge is evaluated in the same direction for both its triangles, so that a ray through an
 * edge or a corner crosses exactly one of them, without tolerance. `positions` 3 numbers per vertex, mm; `triangles` 3 indices per
 * triangle. Linear in triangles and cells.
 */
export function fillCells(positions: Float64Array, triangles: Uint32Array, stepMm: number): Cells {
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  for (let i = 0; i < positions.length; i++) {
    const k = i % 3;
    if (positions[i] < low[k]) low[k] = positions[i];
    if (positions[i] > high[k]) high[k] = positions[i];
  }
  // a margin of a little over one layer, off the corners of models that were made on a grid
  const originMm = low.map((x, k) => x - (1.31 + 0.07 * k) * stepMm) as [number, number, number];
  const size = high.map((x, k) => Math.ceil((x - originMm[k]) / stepMm) + 2) as [number, number, number];
  const [nx, ny, nz] = size;
  const crossings = crossingsOf(positions, triangles, originMm, stepMm, size);

  const bits = new Uint32Array(Math.ceil((nx * ny * nz) / 32) + 1);
  const { start, at, up } = crossings;
  const order: number[] = [];
  for (let column = 0; column < nx * ny; column++) {
    if (start[column] === start[column + 1]) continue;
    order.length = 0;
    for (let i = start[column]; i < start[column + 1]; i++) order.push(i);
    order.sort((a, b) => at[a] - at[b]);
    let winding = 0;
    let from = 0;
    for (const i of order) {
      if (winding > 0)
        for (let z = Math.max(0, Math.ceil(from)); z < Math.min(nz, at[i]); z++) {
          const place = column * nz + z;
          bits[place >>> 5] |= 1 << (place & 31);
        }
      winding += up[i];
      from = at[i];
    }
  }
  return cellsOf({ originMm, stepMm, size }, bits);
}

/** Crossings of the columns' rays with the surface: from `start[column]` on, their height in cells and +1 at an entry. */
interface Crossings {
  start: Uint32Array;
  at: Float64Array;
  up: Int8Array;
}

function crossingsOf(
  positions: Float64Array,
  triangles: Uint32Array,
  originMm: readonly number[],
  stepMm: number,
  [nx, ny]: readonly number[],
): Crossings {
  const start = new Uint32Array(nx * ny + 1);
  const visit = (found: (column: number, z: number, up: number) => void): void => {
    const x = [0, 0, 0];
    const y = [0, 0, 0];
    const z = [0, 0, 0];
    for (let t = 0; t < triangles.length; t += 3) {
      for (let c = 0; c < 3; c++) {
        const p = 3 * triangles[t + c];
        x[c] = (positions[p] - originMm[0]) / stepMm;
        y[c] = (positions[p + 1] - originMm[1]) / stepMm;
        z[c] = (positions[p + 2] - originMm[2]) / stepMm;
      }
      const area = (x[1] - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (y[1] - y[0]);
      if (area === 0) continue;
      const i1 = Math.floor(Math.max(x[0], x[1], x[2]));
      const j1 = Math.floor(Math.max(y[0], y[1], y[2]));
      for (let i = Math.ceil(Math.min(x[0], x[1], x[2])); i <= i1; i++)
        for (let j = Math.ceil(Math.min(y[0], y[1], y[2])); j <= j1; j++) {
          let isWithin = true;
          for (let c = 0; c < 3 && isWithin; c++) {
            const d = c === 2 ? 0 : c + 1;
            const turned = triangles[t + c] > triangles[t + d];
            const [a, b] = turned ? [d, c] : [c, d];
            const isLeft = (x[b] - x[a]) * (j - y[a]) - (i - x[a]) * (y[b] - y[a]) >= 0;
            isWithin = (isLeft !== turned) === area > 0;
          }
          if (!isWithin) continue;
          const u = ((i - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (j - y[0])) / area;
          const v = ((x[1] - x[0]) * (j - y[0]) - (i - x[0]) * (y[1] - y[0])) / area;
          const height = z[0] + u * (z[1] - z[0]) + v * (z[2] - z[0]);
          found(i * ny + j, height, area > 0 ? -1 : 1);
        }
    }
  };
  visit((column) => {
    start[column + 1]++;
  });
  for (let c = 0; c < nx * ny; c++) start[c + 1] += start[c];
  const next = start.slice(0, nx * ny);
  const at = new Float64Array(start[nx * ny]);
  const up = new Int8Array(start[nx * ny]);
  visit((column, height, sign) => {
    const i = next[column]++;
    at[i] = height;
    up[i] = sign;
  });
  return { start, at, up };
}
