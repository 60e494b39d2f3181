import type { MeasureDefinitions, ProfileSample } from './measure.js';

/** The steady stretch of a feeder in which a device can be placed; positions in mm from the far end. */
export interface LandingStretch {
  fromMm: number;
  toMm: number;
  calibreMm: number;
  largestWidthMm: number;
  /** (largest - smallest) / mean of the equivalent calibre. */
  variation: number;
  /** Equivalent calibres over the zone at even spacing, for its scatter. */
  calibresMm: number[];
}

/** Spacing at which the definition is evaluated, mm: its ends must not hang on where a section happened to lie. */
const STEP_MM = 0.1;

/**
 * Finds the landing zone between `limitMm` (sac-side edge of the last branch, or the far end) and the neck.
 *
 * Going away from the sac, the zone's sac-side end is the first place from which a stretch of at least
 * max(landingMinimumMm, one calibre) keeps (max - min) / mean within `landingVariation`; the zone reaches as
 * far as that holds or the branch begins. The calibre between two sections is interpolated; a section next to
 * a limit or the neck stands for it, since sections that would cut a cap or the sac are missing there.
 * Returns undefined where no such stretch exists.
 */
export function findLandingZone(
  profile: readonly ProfileSample[],
  limitMm: number,
  neckMm: number,
  definitions: MeasureDefinitions,
): LandingStretch | undefined {
  const even = evenCalibres(profile, limitMm, neckMm, 2.5 * definitions.profileStepMm);
  const { landingMinimumMm, landingMinimumCalibres, landingVariation } = definitions;
  for (let near = 0; near < even.length; near++) {
    let [least, most, sum] = [Number.POSITIVE_INFINITY, 0, 0];
    let far = near;
    for (; far < even.length; far++) {
      const d = even[far];
      if (Number.isNaN(d)) break;
      const [low, high] = [Math.min(least, d), Math.max(most, d)];
      if ((high - low) / ((sum + d) / (far - near + 1)) > landingVariation) break;
      [least, most] = [low, high];
      sum += d;
    }
    if (far === near) continue;
    const calibreMm = sum / (far - near);
    const toMm = neckMm - near * STEP_MM;
    const fromMm = far === even.length ? limitMm : neckMm - (far - 1) * STEP_MM;
    if (toMm - fromMm + 1e-9 < Math.max(landingMinimumMm, landingMinimumCalibres * calibreMm)) continue;
    const within = profile.filter((s) => s.atMm >= fromMm - 1e-9 && s.atMm <= toMm + 1e-9);
    return {
      fromMm,
      toMm,
      calibreMm,
      largestWidthMm: Math.max(...within.map((s) => s.maxMm)),
      variation: (most - least) / calibreMm,
      calibresMm: even.slice(near, far),
    };
  }
  return undefined;
}

/** Calibres every STEP_MM from the neck away from the sac down to the limit; NaN inside a gap between sections. */
function evenCalibres(
  profile: readonly ProfileSample[],
  limitMm: number,
  neckMm: number,
  gapMm: number,
): number[] {
  const count = Math.floor((neckMm - limitMm) / STEP_MM + 1e-9);
  const out: number[] = [];
  let after = profile.length - 1;
  for (let i = 0; i <= count; i++) {
    const at = neckMm - i * STEP_MM;
    while (after > 0 && profile[after - 1].atMm >= at) after--;
    const b = profile[after];
    const a = profile[after - 1];
    if (b === undefined) out.push(Number.NaN);
    else if (b.atMm < at) out.push(at - b.atMm <= gapMm ? b.equivalentMm : Number.NaN);
    else if (a === undefined) out.push(b.atMm - at <= gapMm ? b.equivalentMm : Number.NaN);
    else if (b.atMm - a.atMm > gapMm) out.push(Number.NaN);
    else out.push(a.equivalentMm + ((b.equivalentMm - a.equivalentMm) * (at - a.atMm)) / (b.atMm - a.atMm));
  }
  return out;
}
