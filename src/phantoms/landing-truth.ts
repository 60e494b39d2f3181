/**
 * The definitions that the truth of a phantom is computed by. Kept apart from the rule files on purpose: when a rule changes,
 * the tests that compare the two must say so.
 */
export const TRUTH_DEFINITIONS = {
  neckCalibreRatio: 1.25,
  landingMinimumMm: 5,
  landingMinimumCalibres: 1,
  landingVariation: 0.2,
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
 * Landing zone by definition, on a true calibre function sampled every `stepMm`: going away from the neck, the first place from which
 * a stretch of at least max(5 mm, one calibre) keeps (max - min) / mean within 20 %; it reaches as far as that holds or to
 * `branchEdgeMm` (or the far end). Undefined where no such stretch exists.
 */
export function landingTruth(
  calibreAt: (s: number) => number,
  neckAtMm: number,
  branchEdgeMm: number | undefined,
  stepMm = 0.05,
): LandingTruth | undefined {
  const { landingMinimumMm, landingMinimumCalibres, landingVariation } = TRUTH_DEFINITIONS;
  const limit = branchEdgeMm ?? 0;
  const count = Math.floor((neckAtMm - limit) / stepMm + 1e-9);
  const samples = Array.from({ length: count + 1 }, (_, i) => calibreAt(neckAtMm - i * stepMm));
  for (let near = 0; near <= count; near++) {
    let [low, high, sum] = [samples[near], samples[near], samples[near]];
    let far = near;
    let mean = sum;
    while (far < count) {
      const next = samples[far + 1];
      const [newLow, newHigh] = [Math.min(low, next), Math.max(high, next)];
      const newMean = (sum + next) / (far + 2 - near);
      if ((newHigh - newLow) / newMean > landingVariation) break;
      [low, high, mean] = [newLow, newHigh, newMean];
      sum += next;
      far++;
    }
    const lengthMm = (far - near) * stepMm;
    if (lengthMm < Math.max(landingMinimumMm, landingMinimumCalibres * mean) - 1e-9) continue;
    const fromMm = far === count ? limit : neckAtMm - far * stepMm;
    const toMm = neckAtMm - near * stepMm;
    const truth: LandingTruth = {
      fromMm,
      toMm,
      lengthMm: toMm - fromMm,
      calibreMm: mean,
      taperPercent: (100 * (high - low)) / mean,
      toSacMm: neckAtMm - toMm,
    };
    return branchEdgeMm === undefined ? truth : { ...truth, toBranchMm: fromMm - branchEdgeMm };
  }
  return undefined;
}
