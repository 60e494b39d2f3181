import FlatQueue from 'flatqueue';

/** Offers a step from the present place to another; true where it makes the cheapest way to that place so far. */
export type Offer = (other: number, stepCost: number) => boolean;

/** What a search has found of each place: its cost, and the place before it on its cheapest way, -1 for a start. */
export interface Spread {
  spent: Map<number, number>;
  before: Map<number, number>;
}

/**
 * Visits places in the order of their cost from the nearest of `starts` (Dijkstra), each with the cost that it starts with, 0 where
 * that is left out. `visit` offers the steps that lead on from a place; it ends the search by returning true.
 * For few places of a large grid: all is kept in maps. `cheapestWays` does the same for all cells of a lumen in plain arrays.
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
