/**
 * The definitions for computing the truth of a phantom. Deliberately separate from the rule files: when a rule changes, the tests that
 * compare the two must fail.
 */
export const TRUTH_DEFINITIONS = {
  neckCalibreRatio: 1.25,
  landingMinimumMm: 5,
  landingMinimumCalibres: 1,
  landingVariation: 0.2,
  flareSlope: 0.1,
  flareErrors: 2,
  flareWindowMm: 2,
  flareWindowCalibres: 0.5,
} as const;

/** The true landing zone of a feeder; arc lengths from its far end, mm. */
export interface LandingTruth {
  fromMm: number;
  toMm: number;
  lengthMm: number;
  calibreMm: number;
  taperPercent: number;
  toSacMm: number;
  toBranchMm?: number;
}

/**
 * Landing zone by definition, on a true calibre function sampled every `stepMm`. The steady stretch: going away from the neck, the first
 * place from which at least max(5 mm, one calibre) keeps (max - min) / mean within 20 %; it ends where that no longer holds, or at
 * `branchEdgeMm` (or the far end). Then each end moves inwards to the first place from which the straight line fitted over the next
 * max(half a calibre, 2 mm) is no steeper than 0.1 plus twice its standard error; if less than max(5 mm, one calibre) would be left, the
 * steady stretch stays. Undefined if there is none.
 */
export function landingTruth(
  calibreAt: (s: number) => number,
  neckAtMm: number,
  branchEdgeMm: number | undefined,
  stepMm = 0.05,
): LandingTruth | undefined {
  const limit = branchEdgeMm ?? 0;
  const count = Math.floor((neckAtMm - limit) / stepMm + 1e-9);
  const samples = Array.from({ length: Math.max(0, count + 1) }, (_, i) => calibreAt(neckAtMm - i * stepMm));
  const steady = steadyTruth(samples, stepMm);
  if (!steady) return undefined;
  const [near, far] = trimmedTruth(samples, steady, stepMm);
  const stretch = samples.slice(near, far + 1);
  const mean = stretch.reduce((a, b) => a + b, 0) / stretch.length;
  const fromMm = far === count ? limit : neckAtMm - far * stepMm;
  const toMm = neckAtMm - near * stepMm;
  const truth: LandingTruth = {
    fromMm,
    toMm,
    lengthMm: toMm - fromMm,
    calibreMm: mean,
    taperPercent: (100 * (Math.max(...stretch) - Math.min(...stretch))) / mean,
    toSacMm: neckAtMm - toMm,
  };
  return branchEdgeMm === undefined ? truth : { ...truth, toBranchMm: fromMm - branchEdgeMm };
}

const enough = (lengthMm: number, calibreMm: number): boolean =>
  lengthMm >=
  Math.max(TRUTH_DEFINITIONS.landingMinimumMm, TRUTH_DEFINITIONS.landingMinimumCalibres * calibreMm) - 1e-9;

/** First and last sample of the steady stretch, counted from the neck. */
function steadyTruth(samples: readonly number[], stepMm: number): [number, number] | undefined {
  for (let near = 0; near < samples.length; near++) {
    let [low, high, sum] = [samples[near], samples[near], samples[near]];
    let far = near;
    let mean = sum;
    while (far + 1 < samples.length) {
      const next = samples[far + 1];
      const [newLow, newHigh] = [Math.min(low, next), Math.max(high, next)];
      const newMean = (sum + next) / (far + 2 - near);
      if ((newHigh - newLow) / newMean > TRUTH_DEFINITIONS.landingVariation) break;
      [low, high, mean] = [newLow, newHigh, newMean];
      sum += next;
      far++;
    }
    if (enough((far - near) * stepMm, mean)) return [near, far];
  }
  return undefined;
}

/** The steady stretch without the flares at its ends; unchanged if too little would be left. */
function trimmedTruth(
  samples: readonly number[],
  [near, far]: [number, number],
  stepMm: number,
): [number, number] {
  const { flareSlope, flareErrors, flareWindowMm, flareWindowCalibres } = TRUTH_DEFINITIONS;
  const meanOf = (from: number, to: number): number =>
    samples.slice(from, to + 1).reduce((a, b) => a + b, 0) / (to + 1 - from);
  const reach = Math.round(Math.max(flareWindowMm, flareWindowCalibres * meanOf(near, far)) / stepMm);
  const isFlat = (from: number, to: number): boolean => {
    const [n, middle, level] = [to + 1 - from, (from + to) / 2, meanOf(from, to)];
    let [xx, xy, rest] = [0, 0, 0];
    for (let i = from; i <= to; i++) {
      xx += ((i - middle) * stepMm) ** 2;
      xy += (i - middle) * stepMm * (samples[i] - level);
    }
    const slope = xy / xx;
    for (let i = from; i <= to; i++) rest += (samples[i] - level - slope * (i - middle) * stepMm) ** 2;
    return Math.abs(slope) <= flareSlope + flareErrors * Math.sqrt(rest / (n - 2) / xx);
  };
  let from = near;
  while (from + reach <= far && !isFlat(from, from + reach)) from++;
  let to = far;
  while (to - reach >= near && !isFlat(to - reach, to)) to--;
  if (from + reach > far || to - reach < near || to <= from) return [near, far];
  return enough((to - from) * stepMm, meanOf(from, to)) ? [from, to] : [near, far];
}
