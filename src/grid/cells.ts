import { cellOf, type EvenGrid, placeMm } from './even-grid.js';

/**
 * The cells of a regular grid whose middles are inside a closed surface, numbered in the order of the grid: z fastest, then y, then x.
 * The outermost layer of the grid is always outside; the rest takes two bits per cell.
 */
export interface Cells extends EvenGrid {
  count: number;
  /** Place in the grid of each cell: (x · size[1] + y) · size[2] + z. */
  placeOf: Uint32Array;
  /** One bit for each place of the grid */
  bits: Uint32Array;
  /** and the number of cells before each word of them. */
  before: Uint32Array;
}

/** The cells whose bits are set. */
export function cellsOf(grid: EvenGrid, bits: Uint32Array): Cells {
  const before = new Uint32Array(bits.length);
  let count = 0;
  for (let word = 0; word < bits.length; word++) {
    before[word] = count;
    count += bitsSet(bits[word]);
  }
  const placeOf = new Uint32Array(count);
  let n = 0;
  for (let word = 0; word < bits.length; word++)
    for (let w = bits[word]; w !== 0; w &= w - 1) placeOf[n++] = 32 * word + (31 - Math.clz32(w & -w));
  const { originMm, stepMm, size } = grid;
  return { originMm, stepMm, size, count, placeOf, bits, before };
}

/** The cells at the places for which `isIn` holds; the outermost layer is left out. */
export function cellsWhere(grid: EvenGrid, isIn: (place: number) => boolean): Cells {
  const [nx, ny, nz] = grid.size;
  const bits = new Uint32Array(Math.ceil((nx * ny * nz) / 32) + 1);
  for (let x = 1; x < nx - 1; x++)
    for (let y = 1; y < ny - 1; y++) {
      const row = (x * ny + y) * nz;
      for (let place = row + 1; place < row + nz - 1; place++)
        if (isIn(place)) bits[place >>> 5] |= 1 << (place & 31);
    }
  return cellsOf(grid, bits);
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
export const middleOf = (cells: Cells, cell: number): [number, number, number] =>
  placeMm(cells, cells.placeOf[cell]);

/** The cell nearest to a point, at most `reach` cells away along each axis; -1 if there is none. */
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
  const [x, y, z] = cellOf(cells.size, cells.placeOf[cell]);
  for (let i = Math.max(0, x - reach); i <= Math.min(nx - 1, x + reach); i++)
    for (let j = Math.max(0, y - reach); j <= Math.min(ny - 1, y + reach); j++)
      for (let k = Math.max(0, z - reach); k <= Math.min(nz - 1, z + reach); k++) {
        const other = cellAt(cells, (i * ny + j) * nz + k);
        if (other >= 0) yield other;
      }
}
