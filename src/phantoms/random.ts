/** A seeded stream of numbers; the same seed gives the same stream on every machine. */
export interface RandomStream {
  /** Uniform in [0, 1). */
  next(): number;
  /** Uniform in [low, high). */
  between(low: number, high: number): number;
  /** Uniform whole number in [low, high], both included. */
  whole(low: number, high: number): number;
}

/**
 * Seeded pseudo-random numbers from a 32-bit counter and an avalanche mix in whole-number arithmetic
 * (the "mulberry32" generator, public domain, from memory). Good enough for test shapes, not for statistics.
 */
export function randomStream(seed: number): RandomStream {
  let state = seed >>> 0;
  const next = (): number => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
  return {
    next,
    between: (low, high) => low + (high - low) * next(),
    whole: (low, high) => low + Math.floor((high - low + 1) * next()),
  };
}
