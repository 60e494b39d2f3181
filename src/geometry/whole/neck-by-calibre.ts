import type { ProfileSample } from '../measure.js';
import { RunningMedian } from '../statistics.js';

/**
 * The neck of a vessel on a fused surface: the first place, going from the far end towards the sac, beyond which the equivalent calibre
 * stays above `ratio` times the median calibre from the far end up to there.
 * `profile` continues into the sac. Between the two samples around the crossing `finer` may give more, since a vessel flares into the sac
 * within a millimetre; the place is interpolated. mm from the far end. Returns undefined if the calibre never stays above.
 */
export function neckByCalibre(
  profile: readonly ProfileSample[],
  ratio: number,
  finer: (fromMm: number, toMm: number) => readonly ProfileSample[] = () => [],
): number | undefined {
  const n = profile.length;
  const leastFrom = new Float64Array(n + 1).fill(Number.POSITIVE_INFINITY);
  for (let i = n - 1; i >= 0; i--) leastFrom[i] = Math.min(leastFrom[i + 1], profile[i].equivalentMm);
  const median = new RunningMedian();
  for (let i = 0; i < n; i++) {
    const d = profile[i].equivalentMm;
    median.add(d);
    const limit = ratio * median.value;
    // The samples after this one are all above the limit, so the last crossing is between here and the next.
    if (i + 1 < n && leastFrom[i + 1] > limit)
      return d >= limit
        ? profile[i].atMm
        : lastCrossing([profile[i], ...finer(profile[i].atMm, profile[i + 1].atMm), profile[i + 1]], limit);
  }
  return undefined;
}

/** The last upward crossing of `limit` by the calibre; the last sample is above it. */
function lastCrossing(samples: readonly ProfileSample[], limit: number): number {
  const below = samples.findLastIndex((s) => s.equivalentMm <= limit);
  const [a, b] = [samples[below], samples[below + 1]];
  return a.atMm + ((limit - a.equivalentMm) / (b.equivalentMm - a.equivalentMm)) * (b.atMm - a.atMm);
}
