import type { MeasureDefinitions, ProfileSample } from './measure.js';
import { mean } from './statistics.js';

/** The steady stretch of a feeder in which a device can be placed; positions in mm from the far end. */
export interface LandingStretch {
  fromMm: number;
  toMm: number;
  calibreMm: number;
  largestWidthMm: number;
  /** (largest - smallest) / mean of the equivalent calibre. */
  variation: number;
  /** Sample standard deviation would need the samples: kept for the interval. */
  samples: ProfileSample[];
}

/**
 * Finds the landing zone between `limitMm` (sac-side edge of the last branch, or the far end) and the neck.
 *
 * Going away from the sac, the zone's sac-side end is the first place from which a stretch of at least
 * max(landingMinimumMm, one calibre) keeps (max - min) / mean within `landingVariation`; the zone reaches as
 * far as that holds or the branch begins. Samples next to a limit or the neck stand for it, since sections
 * that would cut a cap or the sac are missing there.
 * Returns undefined where no such stretch exists.
 */
export function findLandingZone(
  profile: readonly ProfileSample[],
  limitMm: number,
  neckMm: number,
  definitions: MeasureDefinitions,
): LandingStretch | undefined {
  const usable = profile.filter((s) => s.atMm >= limitMm - 1e-9 && s.atMm <= neckMm + 1e-9);
  const gapMm = 2.5 * definitions.profileStepMm;
  const start = (i: number): number =>
    usable[i].atMm - limitMm <= gapMm && isFirst(i) ? limitMm : usable[i].atMm;
  const isFirst = (i: number): boolean => i === 0;
  const end = (i: number): number =>
    i === usable.length - 1 && neckMm - usable[i].atMm <= gapMm ? neckMm : usable[i].atMm;

  for (let sacSide = usable.length - 1; sacSide > 0; sacSide--) {
    let least = usable[sacSide].equivalentMm;
    let most = least;
    let sum = 0;
    let count = 0;
    let far = -1;
    for (let i = sacSide; i >= 0; i--) {
      if (i < sacSide && usable[i + 1].atMm - usable[i].atMm > gapMm) break;
      const d = usable[i].equivalentMm;
      const low = Math.min(least, d);
      const high = Math.max(most, d);
      if ((high - low) / ((sum + d) / (count + 1)) > definitions.landingVariation) break;
      least = low;
      most = high;
      sum += d;
      count++;
      far = i;
    }
    if (far < 0) continue;
    const calibreMm = sum / count;
    const lengthMm = end(sacSide) - start(far);
    if (
      lengthMm + 1e-9 <
      Math.max(definitions.landingMinimumMm, definitions.landingMinimumCalibres * calibreMm)
    )
      continue;
    const samples = usable.slice(far, sacSide + 1);
    return {
      fromMm: start(far),
      toMm: end(sacSide),
      calibreMm: mean(samples.map((s) => s.equivalentMm)),
      largestWidthMm: Math.max(...samples.map((s) => s.maxMm)),
      variation: (most - least) / calibreMm,
      samples,
    };
  }
  return undefined;
}
