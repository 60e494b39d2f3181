/** The largest of any number of values; -Infinity for none. `Math.max(...values)` overflows the stack at about 100,000 values. */
export function largestOf(values: Iterable<number>): number {
  let most = Number.NEGATIVE_INFINITY;
  for (const value of values) if (value > most) most = value;
  return most;
}
