const EMPTY = -1;
const number64 = new Float64Array(3);
const words = new Uint32Array(number64.buffer);

/**
 * Collects points and gives equal ones the same number. With a tolerance of 0, equal means the same number in all three coordinates (0 and
 * -0 are the same); else a point takes the first collected point within the tolerance, even across cells of the search grid. Uses typed
 * arrays throughout, so a triangle soup need not be in memory together with its welded form. Memory grows with the points kept, not with a
 * claimed size.
 */
export class VertexWelder {
  /** Number of distinct points so far. */
  count = 0;
  private coordinates: Float64Array;
  private table: Int32Array;
  /** Tolerance mode only: the next point in the same bucket. */
  private following: Int32Array;
  private readonly tolerance: number;
  private readonly cell: number;

  constructor(tolerance = 0, expected = 1024) {
    const capacity = Math.max(16, expected);
    this.tolerance = tolerance;
    this.cell = 2 * tolerance;
    this.coordinates = new Float64Array(3 * capacity);
    this.following = new Int32Array(tolerance > 0 ? capacity : 0);
    this.table = new Int32Array(powerOfTwo(2 * capacity)).fill(EMPTY);
  }

  /** The number of the point, a new one if it was not seen before. */
  add(x: number, y: number, z: number): number {
    return this.tolerance > 0 ? this.addNear(x, y, z) : this.addExact(x, y, z);
  }

  /** A copy of the distinct points, length 3·count. */
  positions(): Float64Array {
    return this.coordinates.slice(0, 3 * this.count);
  }

  private addExact(x: number, y: number, z: number): number {
    const c = this.coordinates;
    const mask = this.table.length - 1;
    let slot = hashPoint(x, y, z) & mask;
    for (;;) {
      const v = this.table[slot];
      if (v === EMPTY) break;
      const p = 3 * v;
      if (c[p] === x && c[p + 1] === y && c[p + 2] === z) return v;
      slot = (slot + 1) & mask;
    }
    return this.keep(x, y, z);
  }

  private addNear(x: number, y: number, z: number): number {
    const { cell, tolerance } = this;
    const limit = tolerance * tolerance;
    const mask = this.table.length - 1;
    let best = EMPTY;
    const low = [x, y, z].map((value) => Math.floor((value - tolerance) / cell));
    const high = [x, y, z].map((value) => Math.floor((value + tolerance) / cell));
    // The cell is twice the tolerance, so at most two cells per axis are within reach.
    for (let corner = 0; corner < 8; corner++) {
      const i = corner & 1 ? high[0] : low[0];
      const j = corner & 2 ? high[1] : low[1];
      const k = corner & 4 ? high[2] : low[2];
      if ((corner & 1 && i === low[0]) || (corner & 2 && j === low[1]) || (corner & 4 && k === low[2]))
        continue;
      for (let v = this.table[hashPoint(i, j, k) & mask]; v !== EMPTY; v = this.following[v]) {
        const p = 3 * v;
        const dx = this.coordinates[p] - x;
        const dy = this.coordinates[p + 1] - y;
        const dz = this.coordinates[p + 2] - z;
        if (dx * dx + dy * dy + dz * dz <= limit && (best === EMPTY || v < best)) best = v;
      }
    }
    if (best !== EMPTY) return best;
    return this.keep(x, y, z);
  }

  private keep(x: number, y: number, z: number): number {
    if (3 * this.count === this.coordinates.length) this.grow();
    const v = this.count++;
    this.coordinates[3 * v] = x;
    this.coordinates[3 * v + 1] = y;
    this.coordinates[3 * v + 2] = z;
    this.enter(v);
    return v;
  }

  /** Inserts a point into the table: chained by cell with a tolerance, by open addressing without. */
  private enter(v: number): void {
    const c = this.coordinates;
    const mask = this.table.length - 1;
    if (this.tolerance > 0) {
      const { cell } = this;
      const i = Math.floor(c[3 * v] / cell);
      const j = Math.floor(c[3 * v + 1] / cell);
      const k = Math.floor(c[3 * v + 2] / cell);
      const slot = hashPoint(i, j, k) & mask;
      this.following[v] = this.table[slot];
      this.table[slot] = v;
      return;
    }
    let slot = hashPoint(c[3 * v], c[3 * v + 1], c[3 * v + 2]) & mask;
    while (this.table[slot] !== EMPTY) slot = (slot + 1) & mask;
    this.table[slot] = v;
  }

  private grow(): void {
    const capacity = 2 * this.count;
    const coordinates = new Float64Array(3 * capacity);
    coordinates.set(this.coordinates);
    this.coordinates = coordinates;
    this.table = new Int32Array(powerOfTwo(2 * capacity)).fill(EMPTY);
    if (this.tolerance > 0) this.following = new Int32Array(capacity);
    for (let v = 0; v < this.count; v++) this.enter(v);
  }
}

function powerOfTwo(least: number): number {
  let n = 32;
  while (n < least) n *= 2;
  return n;
}

/** Mixes the 192 bits of three numbers into 32 (multiply-xor rounds; constants from memory, any odd ones work). */
function hashPoint(x: number, y: number, z: number): number {
  // + 0 turns -0 into 0: both are one point and one grid cell
  number64[0] = x + 0;
  number64[1] = y + 0;
  number64[2] = z + 0;
  let h = 0;
  for (let w = 0; w < 6; w++) {
    h = Math.imul(h ^ words[w], 0x9e3779b1);
    h ^= h >>> 15;
  }
  h = Math.imul(h, 0x85ebca6b);
  return h ^ (h >>> 13);
}
