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
const STEP_MM = 0.025;

/** A zone that gains more than this from one step is taken from there, mm; an even taper gains little more than the step. */
const MUCH_FARTHER_MM = 0.5;

/**
 * Finds the landing zone between `limitMm` (sac-side edge of the last branch, or the far end) and the neck.
 *
 * Going away from the sac, the zone's sac-side end is the first place from which a stretch of at least
 * max(landingMinimumMm, one calibre) keeps (max - min) / mean within `landingVariation`; the zone reaches as
 * far as that holds or the branch begins. The calibre between two sections is interpolated; a section next to
 * a limit or the neck stands for it, since sections that would cut a cap or the sac are missing there.
 * The first place is known to one step: in a flare the variation there can lie so close to its limit that the next
 * facet ends the zone, and it reaches much farther from the next step. Then that one is taken.
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
  const longEnough = (near: number): LandingStretch | undefined => {
    const { far, least, most, calibreMm } = steadyFrom(even, near, landingVariation);
    const toMm = neckMm - near * STEP_MM;
    const fromMm = far === even.length ? limitMm : neckMm - (far - 1) * STEP_MM;
    // also where nothing is steady: toMm - fromMm is negative there
    if (!(toMm - fromMm + 1e-9 >= Math.max(landingMinimumMm, landingMinimumCalibres * calibreMm)))
      return undefined;
    const within = profile.filter((s) => s.atMm >= fromMm - 1e-9 && s.atMm <= toMm + 1e-9);
    return {
      fromMm,
      toMm,
      calibreMm,
      largestWidthMm: Math.max(...within.map((s) => s.maxMm)),
      variation: (most - least) / calibreMm,
      calibresMm: even.slice(near, far),
    };
  };
  for (let near = 0; near < even.length; near++) {
    const first = longEnough(near);
    if (!first) continue;
    const next = longEnough(near + 1);
    return next && next.fromMm < first.fromMm - MUCH_FARTHER_MM ? next : first;
  }
  return undefined;
}

/** The stretch of `calibres` from `near` up to before `far` over which (most - least) / mean stays within `variation`. */
function steadyFrom(
  calibres: readonly number[],
  near: number,
  variation: number,
): { far: number; least: number; most: number; calibreMm: number } {
  let [least, most, sum] = [Number.POSITIVE_INFINITY, 0, 0];
  let far = near;
  for (; far < calibres.length; far++) {
    const d = calibres[far];
    if (Number.isNaN(d)) break;
    const [low, high] = [Math.min(least, d), Math.max(most, d)];
    if ((high - low) / ((sum + d) / (far - near + 1)) > variation) break;
    [least, most] = [low, high];
    sum += d;
  }
  return { far, least, most, calibreMm: sum / (far - near) };
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
