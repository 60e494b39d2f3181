import type { ProfileSample } from '../measure.js';

/**
 * The neck of a vessel on a fused surface: the first place, going from the far end towards the sac, past which
 * the equivalent calibre stays above `ratio` times the median calibre from the far end up to there.
 * `profile` goes on into the sac. The place is interpolated between the two samples about the crossing.
 * Returns undefined where the calibre never stays above.
 */
export function neckByCalibre(profile: readonly ProfileSample[], ratio: number): number | undefined {
  const n = profile.length;
  const leastFrom = new Float64Array(n + 1).fill(Number.POSITIVE_INFINITY);
  for (let i = n - 1; i >= 0; i--) leastFrom[i] = Math.min(leastFrom[i + 1], profile[i].equivalentMm);
  const sorted: number[] = [];
  for (let i = 0; i < n; i++) {
    const d = profile[i].equivalentMm;
    let low = 0;
    let high = sorted.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (sorted[middle] < d) low = middle + 1;
      else high = middle;
    }
    sorted.splice(low, 0, d);
    const half = sorted.length >> 1;
    const median = sorted.length % 2 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
    const limit = ratio * median;
    // The samples after this one all lie above the limit, so the last crossing lies between here and the next.
    if (i + 1 < n && leastFrom[i + 1] > limit) {
      const next = profile[i + 1];
      const rise = next.equivalentMm - d;
      const f = d >= limit ? 0 : (limit - d) / rise;
      return profile[i].atMm + f * (next.atMm - profile[i].atMm);
    }
  }
  return undefined;
}
