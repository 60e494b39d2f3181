import FlatQueue from 'flatqueue';

/** Offers a step from the current place to another; true if it gives the cheapest path to that place so far. */
export type Offer = (other: number, stepCost: number) => boolean;

/** The result for each place: its cost, and its predecessor on the cheapest path, -1 for a start. */
export interface Spread {
  spent: Map<number, number>;
  before: Map<number, number>;
}

/**
 * Visits places in the order of their cost from the nearest of `starts` (Dijkstra), each with its initial cost, default 0. `visit` offers
 * the steps from a place; it ends the search by returning true. Uses maps, for few places of a large grid; `cheapestWays` does the same
 * with arrays for all cells of a lumen.
 */
export function cheapestSpread(
  starts: readonly number[],
  visit: (place: number, cost: number, offer: Offer) => boolean | undefined,
  startCost: (place: number) => number = () => 0,
): Spread {
  const spent = new Map<number, number>();
  const before = new Map<number, number>();
  const queue = new FlatQueue<number>();
  for (const start of starts) {
    const cost = startCost(start);
    spent.set(start, cost);
    before.set(start, -1);
    queue.push(start, cost);
  }
  while (queue.length > 0) {
    const cost = queue.peekValue()!;
    const place = queue.pop()!;
    if (cost > spent.get(place)!) continue;
    const offer: Offer = (other, stepCost) => {
      const sum = cost + stepCost;
      if (sum >= (spent.get(other) ?? Number.POSITIVE_INFINITY)) return false;
      spent.set(other, sum);
      before.set(other, place);
      queue.push(other, sum);
      return true;
    };
    if (visit(place, cost, offer)) break;
  }
  return { spent, before };
}

/** The places from a start to `place`, both included. */
export function wayBefore(before: ReadonlyMap<number, number>, place: number): number[] {
  const way: number[] = [];
  for (let p = place; p !== -1 && p !== undefined; p = before.get(p)!) way.push(p);
  return way.reverse();
}
