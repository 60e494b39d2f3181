import { mulberry32 } from '../foundation/mulberry32.js';

/** A stream of random numbers that is the same on every machine and every run. */
export interface RandomStream {
  /** From 0 to below 1. */
  uniform(): number;
  /** Mean 0, standard deviation 1. */
  normal(): number;
}

/** The stream for a seed; used for intervals. */
export function seededRandom(seed: number): RandomStream {
  const uniform = mulberry32(seed);
  let spare: number | undefined;
  const normal = (): number => {
    if (spare !== undefined) {
      const value = spare;
      spare = undefined;
      return value;
    }
    const radius = Math.sqrt(-2 * Math.log(1 - uniform()));
    const angle = 2 * Math.PI * uniform();
    spare = radius * Math.sin(angle);
    return radius * Math.cos(angle);
  };
  return { uniform, normal };
}

/** The middle 95 % of the draws, `[2.5th, 97.5th percentile]`, by linear interpolation. Sorts the array in place. */
export function middle95(draws: Float64Array): [number, number] {
  draws.sort();
  return [quantile(draws, 0.025), quantile(draws, 0.975)];
}

function quantile(sorted: Float64Array, q: number): number {
  const at = q * (sorted.length - 1);
  const low = Math.floor(at);
  const high = Math.min(low + 1, sorted.length - 1);
  return sorted[low] + (sorted[high] - sorted[low]) * (at - low);
}
