import { mulberry32 } from '../foundation/mulberry32.js';

/** A seeded stream of numbers; the same seed gives the same stream on every machine. */
export interface RandomStream {
  /** Uniform in [0, 1). */
  next(): number;
  /** Uniform in [low, high). */
  between(low: number, high: number): number;
  /** Uniform integer in [low, high], both included. */
  whole(low: number, high: number): number;
}

/** The stream for a seed; for test shapes. */
export function randomStream(seed: number): RandomStream {
  const next = mulberry32(seed);
  return {
    next,
    between: (low, high) => low + (high - low) * next(),
    whole: (low, high) => low + Math.floor((high - low + 1) * next()),
  };
}
