/**
 * Standard normal distribution function.
 *
 * Source   Abramowitz & Stegun, Handbook of Mathematical Functions (1964), 7.1.26, from memory; error below 1e-7
 * Checked  tests/witness/blurred-disc.test.ts against tabulated values
 */
export function normalBelow(x: number): number {
  const t = 1 / (1 + 0.2316418888 * Math.abs(x));
  const tail =
    0.5 *
    t *
    (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429)))) *
    Math.exp(-0.5 * x * x);
  return x > 0 ? 1 - tail : tail;
}
