/**
 * The cells of a regular grid whose middles lie inside a closed surface, numbered in the order of the grid: z fastest,
 * then y, then x. All else of the grid costs two bits a cell.
 */
export interface Cells {
  /** Middle of grid cell (0, 0, 0), mm. */
  originMm: readonly [number, number, number];
  stepMm: number;
  /** Cells along x, y and z; the outermost layer is outside everywhere. */
  size: readonly [number, number, number];
  count: number;
  /** Place in the grid of each cell: (x · size[1] + y) · size[2] + z. */
  placeOf: Uint32Array;
  /** One bit for each place of the grid … */
  bits: Uint32Array;
  /** … and the number of cells before each word of it. */
  before: Uint32Array;
}

/** Number of the cell at a place of the grid; -1 outside. */
export function cellAt(cells: Cells, place: number): number {
  const word = place >>> 5;
  const bit = place & 31;
  const w = cells.bits[word];
  if (((w >>> bit) & 1) === 0) return -1;
  return cells.before[word] + bitsSet(bit === 0 ? 0 : w & (0xffffffff >>> (32 - bit)));
}

function bitsSet(word: number): number {
  let w = word - ((word >>> 1) & 0x55555555);
  w = (w & 0x33333333) + ((w >>> 2) & 0x33333333);
  return Math.imul((w + (w >>> 4)) & 0x0f0f0f0f, 0x01010101) >>> 24;
}

/** Middle of a cell, mm. */
export function middleOf(cells: Cells, cell: number): [number, number, number] {
  const [, ny, nz] = cells.size;
  const place = cells.placeOf[cell];
  const z = place % nz;
  const y = ((place - z) / nz) % ny;
  const x = (place - z - nz * y) / (nz * ny);
  const { originMm, stepMm } = cells;
  return [originMm[0] + x * stepMm, originMm[1] + y * stepMm, originMm[2] + z * stepMm];
}

/** The cell nearest to a point, at most `reach` cells away along each axis; -1 where there is none. */
export function cellNear(cells: Cells, p: ArrayLike<number>, reach: number): number {
  const [nx, ny, nz] = cells.size;
  const [fx, fy, fz] = [0, 1, 2].map((k) => (p[k] - cells.originMm[k]) / cells.stepMm);
  let best = -1;
  let least = Number.POSITIVE_INFINITY;
  const span = (f: number, n: number): [number, number] => [
    Math.max(0, Math.round(f) - reach),
    Math.min(n - 1, Math.round(f) + reach),
  ];
  const [x0, x1] = span(fx, nx);
  const [y0, y1] = span(fy, ny);
  const [z0, z1] = span(fz, nz);
  for (let x = x0; x <= x1; x++)
    for (let y = y0; y <= y1; y++)
      for (let z = z0; z <= z1; z++) {
        const d = (x - fx) ** 2 + (y - fy) ** 2 + (z - fz) ** 2;
        if (d >= least) continue;
        const cell = cellAt(cells, (x * ny + y) * nz + z);
        if (cell < 0) continue;
        least = d;
        best = cell;
      }
  return best;
}

/** The cells at most `reach` steps from a cell along each axis. */
export function* cellsWithin(cells: Cells, cell: number, reach: number): Generator<number> {
  const [nx, ny, nz] = cells.size;
  const place = cells.placeOf[cell];
  const z = place % nz;
  const y = ((place - z) / nz) % ny;
  const x = (place - z - nz * y) / (nz * ny);
  for (let i = Math.max(0, x - reach); i <= Math.min(nx - 1, x + reach); i++)
    for (let j = Math.max(0, y - reach); j <= Math.min(ny - 1, y + reach); j++)
      for (let k = Math.max(0, z - reach); k <= Math.min(nz - 1, z + reach); k++) {
        const other = cellAt(cells, (i * ny + j) * nz + k);
        if (other >= 0) yield other;
      }
}
