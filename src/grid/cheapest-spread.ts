import FlatQueue from 'flatqueue';

/** Offers a step from the present place to another; true where it makes the cheapest way to that place so far. */
export type Offer = (other: number, stepCost: number) => boolean;

/**
 * Visits places in the order of their cost from the nearest of `starts` (Dijkstra) and returns the place before each on its
 * cheapest way, -1 for a start. `visit` offers the steps that lead on from a place; it ends the search by returning true.
 * For few places of a large grid: all is kept in maps. `cheapestWays` does the same for all cells of a lumen in plain arrays.
 */
export function cheapestSpread(
  starts: readonly number[],
  visit: (place: number, cost: number, offer: Offer) => boolean | undefined,
): Map<number, number> {
  const spent = new Map<number, number>();
  const before = new Map<number, number>();
  const queue = new FlatQueue<number>();
  for (const start of starts) {
    spent.set(start, 0);
    before.set(start, -1);
    queue.push(start, 0);
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
  return before;
}

/** The places from a start to `place`, both included. */
export function wayBefore(before: ReadonlyMap<number, number>, place: number): number[] {
  const way: number[] = [];
  for (let p = place; p !== -1 && p !== undefined; p = before.get(p)!) way.push(p);
  return way.reverse();
}
