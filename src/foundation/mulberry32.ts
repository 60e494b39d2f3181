/**
 * Seeded numbers from 0 to below 1, the same on every machine: a 32-bit counter and an avalanche mix in integer arithmetic (the
 * "mulberry32" generator, public domain, from memory). Good enough for intervals and test shapes, not for secrets.
 */
export function mulberry32(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}
