/** Median of a list; NaN for an empty one. */
export function median(values: readonly number[]): number {
  if (values.length === 0) return Number.NaN;
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;
}

export const mean = (values: readonly number[]): number =>
  values.reduce((sum, v) => sum + v, 0) / values.length;

/**
 * Straight line fitted by least squares to values `stepMm` apart: its slope per mm, the standard error of the slope and the standard
 * deviation of the residuals (n - 2 degrees of freedom). All 0 for fewer than three values.
 */
export function straightLine(
  values: readonly number[],
  stepMm: number,
): { slope: number; error: number; scatter: number } {
  const n = values.length;
  if (n < 3) return { slope: 0, error: 0, scatter: 0 };
  const centre = (n - 1) / 2;
  const level = mean(values);
  const spread = (n * (n * n - 1)) / 12;
  const slope = values.reduce((sum, v, i) => sum + (i - centre) * (v - level), 0) / spread;
  const squares = values.reduce((sum, v, i) => sum + (v - level - slope * (i - centre)) ** 2, 0);
  const scatter = Math.sqrt(squares / (n - 2));
  return { slope: slope / stepMm, error: slopeError(scatter, n, stepMm), scatter };
}

/** Standard error of the slope of a straight line through `n` values `stepMm` apart with residual deviation `scatter`. */
export const slopeError = (scatter: number, n: number, stepMm: number): number =>
  scatter / Math.sqrt((n * (n * n - 1)) / 12) / stepMm;

/** Running median over `half` places to either side. */
export function runningMedian(values: readonly number[], half: number): number[] {
  return values.map((_, i) => median(values.slice(Math.max(0, i - half), i + half + 1)));
}

/** The median of a stream of values. */
export class RunningMedian {
  private readonly sorted: number[] = [];

  add(value: number): void {
    let low = 0;
    let high = this.sorted.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.sorted[middle] < value) low = middle + 1;
      else high = middle;
    }
    this.sorted.splice(low, 0, value);
  }

  /** NaN before the first value. */
  get value(): number {
    const half = this.sorted.length >> 1;
    return this.sorted.length % 2 ? this.sorted[half] : (this.sorted[half - 1] + this.sorted[half]) / 2;
  }
}
