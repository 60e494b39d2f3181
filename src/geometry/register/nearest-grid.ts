/** Cells along the longest edge of the grid. */
const CELLS = 56;
/** Margin around the points, as a fraction of the longest edge of their box. */
const MARGIN = 0.25;

/** Finds the nearest of a set of points in constant time, accurate to about a cell, which is enough for a search. */
export class NearestGrid {
  private readonly origin = [0, 0, 0];
  private readonly cells = [1, 1, 1];
  private readonly cellMm: number;
  /** Index of the nearest point for each cell. */
  private readonly nearestOf: Int32Array;

  private readonly points: Float64Array;

  /** `points`: 3 numbers per point, mm. */
  constructor(points: Float64Array) {
    this.points = points;
    const low = [Infinity, Infinity, Infinity];
    const high = [-Infinity, -Infinity, -Infinity];
    for (let i = 0; i < points.length; i++) {
      low[i % 3] = Math.min(low[i % 3], points[i]);
      high[i % 3] = Math.max(high[i % 3], points[i]);
    }
    const longest = Math.max(...high.map((h, k) => h - low[k]), 1e-9);
    const room = MARGIN * longest;
    this.cellMm = (longest + 2 * room) / CELLS;
    for (let k = 0; k < 3; k++) {
      this.origin[k] = low[k] - room;
      this.cells[k] = Math.ceil((high[k] - low[k] + 2 * room) / this.cellMm);
    }
    this.nearestOf = new Int32Array(this.cells[0] * this.cells[1] * this.cells[2]).fill(-1);
    this.seed();
    this.spread();
  }

  /** Index of approximately the nearest point; from outside the grid, of the one nearest to its edge. */
  nearest(x: number, y: number, z: number): number {
    return this.nearestOf[this.cellOf(x, y, z)];
  }

  private cellOf(x: number, y: number, z: number): number {
    const { cells, origin, cellMm } = this;
    const i = Math.min(cells[0] - 1, Math.max(0, Math.floor((x - origin[0]) / cellMm)));
    const j = Math.min(cells[1] - 1, Math.max(0, Math.floor((y - origin[1]) / cellMm)));
    const k = Math.min(cells[2] - 1, Math.max(0, Math.floor((z - origin[2]) / cellMm)));
    return (k * cells[1] + j) * cells[0] + i;
  }

  private seed(): void {
    const { points, cells } = this;
    for (let p = 0; p < points.length; p += 3) {
      const cell = this.cellOf(points[p], points[p + 1], points[p + 2]);
      const i = cell % cells[0];
      const j = Math.floor(cell / cells[0]) % cells[1];
      this.offer(cell, i, j, Math.floor(cell / (cells[0] * cells[1])), p / 3);
    }
  }

  /** Stores a point for a cell if it is nearer to the cell's centre than the stored one. */
  private offer(cell: number, i: number, j: number, k: number, point: number): void {
    const known = this.nearestOf[cell];
    if (known === point) return;
    if (known < 0 || this.squared(i, j, k, point) < this.squared(i, j, k, known))
      this.nearestOf[cell] = point;
  }

  private squared(i: number, j: number, k: number, point: number): number {
    const { points, origin, cellMm } = this;
    const x = origin[0] + (i + 0.5) * cellMm - points[3 * point];
    const y = origin[1] + (j + 0.5) * cellMm - points[3 * point + 1];
    const z = origin[2] + (k + 0.5) * cellMm - points[3 * point + 2];
    return x * x + y * y + z * z;
  }

  /**
   * Propagates nearest points from cell to cell, forwards and backwards (Danielsson, Computer Graphics and Image Processing 1980;14:227,
   * from memory).
   */
  private spread(): void {
    const [nx, ny, nz] = this.cells;
    for (const step of [1, -1]) {
      const order = (n: number): number[] => Array.from({ length: n }, (_, i) => (step > 0 ? i : n - 1 - i));
      const [xs, ys, zs] = [order(nx), order(ny), order(nz)];
      for (const k of zs)
        for (const j of ys)
          for (const i of xs) {
            const cell = (k * ny + j) * nx + i;
            for (const [a, b, c] of BEFORE) {
              const [x, y, z] = [i - step * a, j - step * b, k - step * c];
              if (x < 0 || y < 0 || z < 0 || x >= nx || y >= ny || z >= nz) continue;
              const known = this.nearestOf[(z * ny + y) * nx + x];
              if (known >= 0) this.offer(cell, i, j, k, known);
            }
          }
    }
  }
}

/** The 13 neighbours of a cell that precede it. */
const BEFORE: readonly (readonly [number, number, number])[] = [-1, 0, 1].flatMap((c) =>
  [-1, 0, 1].flatMap((b) =>
    [-1, 0, 1]
      .filter((a) => c > 0 || (c === 0 && (b > 0 || (b === 0 && a > 0))))
      .map((a) => [a, b, c] as const),
  ),
);
