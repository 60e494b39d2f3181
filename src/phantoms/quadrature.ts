/** Nodes and weights on [-1, 1]. */
export interface QuadratureRule {
  nodes: number[];
  weights: number[];
}

const cache = new Map<number, QuadratureRule>();

/**
 * Gauss-Legendre rule with `count` nodes on [-1, 1]; exact for polynomials up to degree 2·count - 1.
 * Nodes are the roots of the Legendre polynomial, found by Newton steps from cos(pi (i + 3/4) / (n + 1/2)).
 * Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 25.4.29 (from memory).
 */
export function gaussLegendre(count: number): QuadratureRule {
  const known = cache.get(count);
  if (known) return known;
  const nodes: number[] = [];
  const weights: number[] = [];
  for (let i = 0; i < count; i++) {
    let x = Math.cos((Math.PI * (i + 0.75)) / (count + 0.5));
    let slope = 1;
    for (let step = 0; step < 100; step++) {
      let previous = 1;
      let current = x;
      for (let n = 2; n <= count; n++) {
        const following = ((2 * n - 1) * x * current - (n - 1) * previous) / n;
        previous = current;
        current = following;
      }
      slope = (count * (x * current - previous)) / (x * x - 1);
      const change = current / slope;
      x -= change;
      if (Math.abs(change) < 1e-15) break;
    }
    nodes.push(x);
    weights.push(2 / ((1 - x * x) * slope * slope));
  }
  const rule = { nodes, weights };
  cache.set(count, rule);
  return rule;
}

/** Integral of `f` over [from, to], composite Gauss-Legendre: `panels` panels of 8 nodes each. */
export function integrate(f: (x: number) => number, from: number, to: number, panels: number): number {
  const { nodes, weights } = gaussLegendre(8);
  const half = (to - from) / panels / 2;
  let sum = 0;
  for (let p = 0; p < panels; p++) {
    const middle = from + (2 * p + 1) * half;
    for (let i = 0; i < nodes.length; i++) sum += weights[i] * f(middle + half * nodes[i]);
  }
  return sum * half;
}
