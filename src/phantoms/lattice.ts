import type { Vec3 } from '../foundation/vector.js';

const SPAN = 8192;
const HALF = SPAN / 2;

/** Cell or lattice point number from three integer coordinates in [-4096, 4095]. */
export const keyOf = (i: number, j: number, k: number): number =>
  ((k + HALF) * SPAN + (j + HALF)) * SPAN + (i + HALF);

/** The three integer coordinates of a number made by `keyOf`. */
export function coordinatesOf(key: number): Vec3 {
  const i = key % SPAN;
  const rest = (key - i) / SPAN;
  const j = rest % SPAN;
  return [i - HALF, j - HALF, (rest - j) / SPAN - HALF];
}

/** Corner c of a cell is at (c & 1, c >> 1 & 1, c >> 2). */
export const CORNER_OFFSETS = Array.from(
  { length: 8 },
  (_, c) => keyOf(c & 1, (c >> 1) & 1, c >> 2) - keyOf(0, 0, 0),
);

/** The 12 edges of a cell as corner pairs. */
export const CELL_EDGES: readonly (readonly [number, number])[] = [0, 1, 2, 3, 4, 5, 6, 7].flatMap((c) =>
  [1, 2, 4].filter((bit) => (c & bit) === 0).map((bit) => [c, c | bit] as const),
);

const FACES: readonly (readonly [number, number, number, number])[] = [1, 2, 4].flatMap((bit) => {
  const [p, q] = [1, 2, 4].filter((other) => other !== bit);
  return [0, bit].map((base) => [base, base | p, base | p | q, base | q] as const);
});

/** Values on a lattice, computed on demand, and the cells that the surface crosses. */
export interface BandLattice {
  cellMm: number;
  /** Position of a lattice point, mm. */
  pointOf(key: number): Vec3;
  values: Map<number, number>;
  cells: Set<number>;
}

/**
 * Cells that a field's zero surface crosses, found by spreading from the cells at `seeds` through crossed faces; no other cell is
 * visited. Then outside corners are made inside until the inside set is well composed (no two of its cubes meet in an edge or
 * corner alone), so that the dual surface is a manifold.
 * Source: Latecki, Eckhardt and Rosenfeld, Computer Vision and Image Understanding 1995;61:70 (from memory).
 */
export function surfaceBand(field: (p: Vec3) => number, seeds: readonly Vec3[], cellMm: number): BandLattice {
  const values = new Map<number, number>();
  const cells = new Set<number>();
  // offset from round numbers, so that flat ends and symmetric shapes do not coincide with lattice points
  const shift = 0.3719 * cellMm;
  const pointOf = (key: number): Vec3 => {
    const [i, j, k] = coordinatesOf(key);
    return [i * cellMm + shift, j * cellMm + shift, k * cellMm + shift];
  };
  const valueAt = (key: number): number => {
    let value = values.get(key);
    if (value === undefined) {
      value = field(pointOf(key));
      values.set(key, value);
    }
    return value;
  };
  const isInside = (key: number): boolean => valueAt(key) < 0;
  const isCrossed = (cell: number): boolean => {
    const first = isInside(cell);
    for (let c = 1; c < 8; c++) if (isInside(cell + CORNER_OFFSETS[c]) !== first) return true;
    return false;
  };
  const stack: number[] = [];
  const visit = (cell: number): void => {
    if (cells.has(cell) || !isCrossed(cell)) return;
    cells.add(cell);
    stack.push(cell);
  };
  const spread = (): void => {
    for (let cell = stack.pop(); cell !== undefined; cell = stack.pop()) {
      const [i, j, k] = coordinatesOf(cell);
      visit(keyOf(i - 1, j, k));
      visit(keyOf(i + 1, j, k));
      visit(keyOf(i, j - 1, k));
      visit(keyOf(i, j + 1, k));
      visit(keyOf(i, j, k - 1));
      visit(keyOf(i, j, k + 1));
    }
  };
  for (const seed of seeds) {
    const [i, j, k] = seed.map((x) => Math.floor((x - shift) / cellMm));
    visit(keyOf(i, j, k));
    spread();
  }

  const queue = [...cells];
  for (let cell = queue.pop(); cell !== undefined; cell = queue.pop()) {
    const turned = cornerToTurn(CORNER_OFFSETS.map((offset) => valueAt((cell as number) + offset)));
    if (turned === undefined) continue;
    const corner = cell + CORNER_OFFSETS[turned];
    values.set(corner, -1e-9);
    for (const offset of CORNER_OFFSETS) {
      const beside = corner - offset;
      if (isCrossed(beside)) cells.add(beside);
      else cells.delete(beside);
      queue.push(beside);
    }
    queue.push(cell);
  }
  return { cellMm, pointOf, values, cells };
}

/** The outside corner nearest to the surface that makes a cell ill composed (diagonal pairs on a face or across the cell), if any. */
function cornerToTurn(v: readonly number[]): number | undefined {
  const inside = v.map((value) => value < 0);
  for (const [a, b, c, d] of FACES) {
    if (inside[a] === inside[c] && inside[b] === inside[d] && inside[a] !== inside[b]) {
      const [p, q] = inside[a] ? [b, d] : [a, c];
      return v[p] <= v[q] ? p : q;
    }
  }
  const insideCount = inside.filter(Boolean).length;
  if (insideCount !== 2 && insideCount !== 6) return undefined;
  for (let c = 0; c < 4; c++) {
    const across = 7 - c;
    if (inside[c] !== inside[across] || inside[c] !== (insideCount === 2)) continue;
    const outside = [0, 1, 2, 3, 4, 5, 6, 7].filter((corner) => !inside[corner]);
    return outside.reduce((best, corner) => (v[corner] < v[best] ? corner : best));
  }
  return undefined;
}
