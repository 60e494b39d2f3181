import { type Cells, cellAt } from './cells.js';

/**
 * Depth of each cell, mm: the exact distance from its middle to the nearest middle outside, minus half a step. One axis after the other,
 * each run of cells by the lower envelope of its parabolas (Felzenszwalb and Huttenlocher, Theory Comput 2012;8:415, from memory); the two
 * places at the ends of a run are outside, so nothing beyond them matters. Linear in the cells.
 */
export function depthsMm(cells: Cells): Float32Array {
  const { count, placeOf, size, stepMm } = cells;
  const squared = new Float64Array(count).fill(Number.POSITIVE_INFINITY);
  const longest = Math.max(...size);
  const run = new Uint32Array(longest);
  const envelope = new Envelope(longest + 2);
  for (const stride of [1, size[2], size[1] * size[2]]) {
    for (let first = 0; first < count; first++) {
      if (cellAt(cells, placeOf[first] - stride) >= 0) continue;
      let n = 0;
      for (let cell = first; cell >= 0; cell = cellAt(cells, placeOf[cell] + stride)) run[n++] = cell;
      envelope.begin();
      envelope.add(0, 0);
      for (let i = 0; i < n; i++) envelope.add(i + 1, squared[run[i]]);
      envelope.add(n + 1, 0);
      for (let i = 0; i < n; i++) squared[run[i]] = envelope.at(i + 1);
    }
  }
  return Float32Array.from(squared, (d) => (Math.sqrt(d) - 0.5) * stepMm);
}

/** The lowest of the parabolas (x - place)² + height; places must be added and queried in ascending order. */
class Envelope {
  private readonly place: Float64Array;
  private readonly height: Float64Array;
  /** Where each parabola becomes the lowest. */
  private readonly from: Float64Array;
  private count = 0;
  private asked = 0;

  constructor(most: number) {
    this.place = new Float64Array(most);
    this.height = new Float64Array(most);
    this.from = new Float64Array(most);
  }

  begin(): void {
    this.count = 0;
    this.asked = 0;
  }

  add(place: number, height: number): void {
    if (height === Number.POSITIVE_INFINITY) return;
    let from = Number.NEGATIVE_INFINITY;
    while (this.count > 0) {
      const k = this.count - 1;
      const p = this.place[k];
      from = (height + place * place - (this.height[k] + p * p)) / (2 * (place - p));
      if (from > this.from[k]) break;
      this.count--;
      from = Number.NEGATIVE_INFINITY;
    }
    this.place[this.count] = place;
    this.height[this.count] = height;
    this.from[this.count++] = from;
  }

  at(x: number): number {
    while (this.asked + 1 < this.count && this.from[this.asked + 1] <= x) this.asked++;
    return (x - this.place[this.asked]) ** 2 + this.height[this.asked];
  }
}
