/** Median of a list; NaN for an empty one. */
export function median(values: readonly number[]): number {
  if (values.length === 0) return Number.NaN;
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;
}

export const mean = (values: readonly number[]): number =>
  values.reduce((sum, v) => sum + v, 0) / values.length;

/** Standard deviation of evenly spaced values about the straight line fitted to them; 0 for fewer than three. */
export function scatterAboutLine(values: readonly number[]): number {
  const n = values.length;
  if (n < 3) return 0;
  const centre = (n - 1) / 2;
  const level = mean(values);
  const slope = values.reduce((sum, v, i) => sum + (i - centre) * (v - level), 0) / ((n * (n * n - 1)) / 12);
  const squares = values.reduce((sum, v, i) => sum + (v - level - slope * (i - centre)) ** 2, 0);
  return Math.sqrt(squares / (n - 2));
}

/** Median of each value's neighbourhood of `half` places to either side. */
export function runningMedian(values: readonly number[], half: number): number[] {
  return values.map((_, i) => median(values.slice(Math.max(0, i - half), i + half + 1)));
}
