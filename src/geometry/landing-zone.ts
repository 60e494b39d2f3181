import type { Mm } from '../foundation/unit-types.js';
import type { MeasureDefinitions, ProfileSample } from './measure.js';
import { mean, slopeError, straightLine } from './statistics.js';

/** The steady stretch of a feeder in which a device can be placed; positions in mm from the far end. */
export interface LandingStretch {
  fromMm: Mm;
  toMm: Mm;
  calibreMm: Mm;
  largestWidthMm: Mm;
  /** (largest - smallest) / mean of the equivalent calibre. */
  variation: number;
  /** Equivalent calibres over the zone at even spacing, for estimating their scatter. */
  calibresMm: Mm[];
  /** True if trimming the flares at its ends would leave too little. */
  inFlare: boolean;
}

/** Spacing at which the definition is evaluated, mm: its ends must not depend on the positions of sections. */
const STEP_MM = 0.025;

/** Steps between the calibres to which a straight line is fitted: 0.1 mm, the spacing of sections before a neck. */
const FIT_STEPS = 4;

/** If one step lengthens the stretch by more than this, it starts there, mm; an even taper gains little more than the step. */
const MUCH_FARTHER_MM = 0.5;

/**
 * Finds the landing zone between `limitMm` (sac-side edge of the last branch, or the far end) and the neck.
 *
 * First the steady stretch: going away from the sac, the first place from which at least max(landingMinimumMm, one calibre) keeps (max -
 * min) / mean within `landingVariation`, extended until that no longer holds or the branch begins. Then the flares at its ends are trimmed
 * (`withoutFlares`), unless too little would be left. The calibre between two sections is interpolated; at a limit or the neck the next
 * section is used, since sections that would cut a cap or the sac are missing there. Returns undefined if there is no steady stretch.
 */
export function findLandingZone(
  profile: readonly ProfileSample[],
  limitMm: Mm,
  neckMm: Mm,
  definitions: MeasureDefinitions,
): LandingStretch | undefined {
  const even = evenCalibres(profile, limitMm, neckMm, 2.5 * definitions.profileStepMm);
  const placeOf = (i: number): number => neckMm - i * STEP_MM;
  const stretch = steadyStretch(even, limitMm, placeOf, definitions);
  if (!stretch) return undefined;
  const steadyMm = mean(even.slice(stretch.near, stretch.far));
  const measured = (i: number): boolean =>
    placeOf(i) >= profile[0].atMm - 1e-9 && placeOf(i) <= profile[profile.length - 1].atMm + 1e-9;
  const endOf = (from: number): number => (from === even.length ? limitMm : placeOf(from - 1));
  const isZone = ({ near, far }: Places): boolean =>
    isLongEnough(placeOf(near) - endOf(far), mean(even.slice(near, far)), definitions);
  const left = withoutFlares(even, stretch, steadyMm, measured, definitions);
  const inFlare = left === undefined || !isZone(left);
  const kept = inFlare ? stretch : withoutCorners(even, left, steadyMm, placeOf, definitions);
  const calibresMm = even.slice(kept.near, kept.far);
  const [fromMm, toMm] = [endOf(kept.far), placeOf(kept.near)];
  const within = profile.filter((s) => s.atMm >= fromMm - 1e-9 && s.atMm <= toMm + 1e-9);
  const keptMm = mean(calibresMm);
  return {
    fromMm,
    toMm,
    calibreMm: keptMm,
    largestWidthMm: Math.max(...within.map((s) => s.maxMm)),
    variation: (Math.max(...calibresMm) - Math.min(...calibresMm)) / keptMm,
    calibresMm,
    inFlare,
  };
}

/** Range of evenly spaced calibres, counted from the neck: from `near` up to but not including `far`. */
interface Places {
  near: number;
  far: number;
}

/** Also false for a stretch without any place, whose mean calibre is NaN. */
const isLongEnough = (lengthMm: Mm, calibreMm: Mm, definitions: MeasureDefinitions): boolean =>
  lengthMm + 1e-9 >= Math.max(definitions.landingMinimumMm, definitions.landingMinimumCalibres * calibreMm);

/**
 * The steady stretch. Its first place is known to one step: in a flare the variation can be so close to its limit that the next facet
 * ends the stretch, while from the next step it extends much farther. Then that step is used.
 */
function steadyStretch(
  even: readonly number[],
  limitMm: Mm,
  placeOf: (i: number) => number,
  definitions: MeasureDefinitions,
): Places | undefined {
  const longEnough = (near: number): (Places & { fromMm: Mm }) | undefined => {
    const { far, calibreMm } = steadyFrom(even, near, definitions.landingVariation);
    const fromMm = far === even.length ? limitMm : placeOf(far - 1);
    return isLongEnough(placeOf(near) - fromMm, calibreMm, definitions) ? { near, far, fromMm } : undefined;
  };
  for (let near = 0; near < even.length; near++) {
    const first = longEnough(near);
    if (!first) continue;
    const next = longEnough(near + 1);
    return next && next.fromMm < first.fromMm - MUCH_FARTHER_MM ? next : first;
  }
  return undefined;
}

/**
 * Moves both ends inwards to the first place from which the straight line fitted to the calibre over the next max(flareCalibres, flareMm)
 * inwards is no steeper than `flareSlope` plus `flareErrors` times its standard error. Undefined if one end has no such place. Only
 * calibres between two sections count (`measured`): the calibre used for the last bit before an end would make a flare look even.
 */
function withoutFlares(
  even: readonly number[],
  { near, far }: Places,
  calibreMm: Mm,
  measured: (i: number) => boolean,
  definitions: MeasureDefinitions,
): Places | undefined {
  const { flareWindowMm, flareWindowCalibres, flareSlope, flareErrors } = definitions;
  const reach = Math.round(Math.max(flareWindowMm, flareWindowCalibres * calibreMm) / STEP_MM);
  const isEven = (from: number, direction: 1 | -1): boolean => {
    const values: number[] = [];
    for (let i = 0; i <= reach; i += FIT_STEPS) {
      const at = from + direction * i;
      if (measured(at)) values.push(even[at]);
    }
    const { slope, error } = straightLine(values, FIT_STEPS * STEP_MM);
    return Math.abs(slope) <= flareSlope + flareErrors * error;
  };
  const firstEven = (from: number, direction: 1 | -1): number | undefined => {
    for (let moved = 0; moved < far - near - reach; moved++)
      if (isEven(from + direction * moved, direction)) return from + direction * moved;
    return undefined;
  };
  const [sacSide, farSide] = [firstEven(near, 1), firstEven(far - 1, -1)];
  return sacSide === undefined || farSide === undefined ? undefined : { near: sacSide, far: farSide + 1 };
}

/**
 * Trims the remains of a flare that is shorter than the fitted stretch: where a round sac meets a vessel at a sharp edge, the line fits
 * badly, its standard error grows with the flare, and the flare passes as scatter. Each end moves on by up to `flareCornerMm`, while the
 * calibre over the next `flareCornerMm` is steeper than `flareSlope` plus `flareErrors` times the standard error from the scatter beyond
 * it, and while enough is left.
 */
function withoutCorners(
  even: readonly number[],
  { near, far }: Places,
  calibreMm: Mm,
  placeOf: (i: number) => number,
  definitions: MeasureDefinitions,
): Places {
  const { flareWindowMm, flareWindowCalibres, flareCornerMm, flareSlope, flareErrors } = definitions;
  const corner = Math.round(flareCornerMm / STEP_MM);
  const reach = Math.round(Math.max(flareWindowMm, flareWindowCalibres * calibreMm) / STEP_MM);
  const stretchFrom = (from: number, direction: 1 | -1, steps: number): number[] => {
    const values: number[] = [];
    for (let i = 0; i <= steps; i += FIT_STEPS) values.push(even[from + direction * i]);
    return values;
  };
  const isSteep = (from: number, direction: 1 | -1): boolean => {
    const next = stretchFrom(from, direction, corner);
    const { scatter } = straightLine(
      stretchFrom(from + direction * corner, direction, reach),
      FIT_STEPS * STEP_MM,
    );
    const { slope } = straightLine(next, FIT_STEPS * STEP_MM);
    return Math.abs(slope) > flareSlope + flareErrors * slopeError(scatter, next.length, FIT_STEPS * STEP_MM);
  };
  let [sacSide, farSide] = [near, far];
  const mayMove = (): boolean =>
    farSide - sacSide > corner + reach &&
    isLongEnough(placeOf(sacSide + 1) - placeOf(farSide - 1), calibreMm, definitions);
  while (sacSide < near + corner && mayMove() && isSteep(sacSide, 1)) sacSide++;
  while (farSide > far - corner && mayMove() && isSteep(farSide - 1, -1)) farSide--;
  return { near: sacSide, far: farSide };
}

/** How far from `near` (max - min) / mean stays within `variation`, and the mean there. */
function steadyFrom(
  calibres: readonly number[],
  near: number,
  variation: number,
): { far: number; calibreMm: Mm } {
  let [least, most, sum] = [Number.POSITIVE_INFINITY, 0, 0];
  let far = near;
  for (; far < calibres.length; far++) {
    const d = calibres[far];
    if (Number.isNaN(d)) break;
    [least, most] = [Math.min(least, d), Math.max(most, d)];
    if ((most - least) / ((sum + d) / (far - near + 1)) > variation) break;
    sum += d;
  }
  return { far, calibreMm: sum / (far - near) };
}

/** Calibres every STEP_MM from the neck away from the sac down to the limit; NaN inside a gap between sections. */
function evenCalibres(profile: readonly ProfileSample[], limitMm: Mm, neckMm: Mm, gapMm: Mm): number[] {
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
