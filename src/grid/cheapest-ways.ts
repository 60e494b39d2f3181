import FlatQueue from 'flatqueue';
import { type Cells, cellAt } from './cells.js';

/** The cheapest path from each reached cell back to the source. */
export interface Ways {
  /** The next cell on the path to the source; -1 at the source, -2 if not reached. */
  next: Int32Array;
}

/**
 * Cheapest paths through the cells from `source` until all `targets` are reached (Dijkstra over the 26 neighbours).
 * A step costs its length times the mean of `costPerMm` at its two ends.
 */
export function cheapestWays(
  cells: Cells,
  source: number,
  targets: readonly number[],
  costPerMm: (cell: number) => number,
): Ways {
  const { count, placeOf, size, stepMm } = cells;
  const next = new Int32Array(count).fill(-2);
  const spent = new Float64Array(count).fill(Number.POSITIVE_INFINITY);
  const [steps, lengths] = neighbours(size, stepMm);
  const left = new Set(targets);
  const queue = new FlatQueue<number>();
  spent[source] = 0;
  next[source] = -1;
  queue.push(source, 0);
  while (queue.length > 0 && left.size > 0) {
    const cost = queue.peekValue()!;
    const cell = queue.pop()!;
    if (cost > spent[cell]) continue;
    left.delete(cell);
    const own = costPerMm(cell);
    const place = placeOf[cell];
    for (let k = 0; k < steps.length; k++) {
      const other = cellAt(cells, place + steps[k]);
      if (other < 0) continue;
      const c = cost + (lengths[k] * (own + costPerMm(other))) / 2;
      if (c >= spent[other]) continue;
      spent[other] = c;
      next[other] = cell;
      queue.push(other, c);
    }
  }
  return { next };
}

/** The cells from `cell` to the source, both included; undefined if it was not reached. */
export function wayFrom({ next }: Ways, cell: number): number[] | undefined {
  if (next[cell] === -2) return undefined;
  const way: number[] = [];
  for (let c = cell; c >= 0; c = next[c]) way.push(c);
  return way;
}

/** Steps to the 26 neighbours of a place of a grid, and their lengths, mm. */
export function neighbours([, ny, nz]: Cells['size'], stepMm: number): [number[], number[]] {
  const steps: number[] = [];
  const lengths: number[] = [];
  for (let x = -1; x <= 1; x++)
    for (let y = -1; y <= 1; y++)
      for (let z = -1; z <= 1; z++) {
        if (x === 0 && y === 0 && z === 0) continue;
        steps.push((x * ny + y) * nz + z);
        lengths.push(stepMm * Math.hypot(x, y, z));
      }
  return [steps, lengths];
}
