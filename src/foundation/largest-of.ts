/** The largest of any number of values; -Infinity of none. `Math.max(...values)` overflows the stack on some 100,000. */
export function largestOf(values: Iterable<number>): number {
  let most = Number.NEGATIVE_INFINITY;
  for (const value of values) if (value > most) most = value;
  return most;
}
