import type { MeasureDefinitions, ProfileSample } from '../../src/geometry/measure.js';

/** A position along the feeder: its calibre, mm, and whether sections lie on both sides of it. */
interface Place {
  atMm: number;
  calibreMm: number | undefined;
  isBetween: boolean;
}

/** The landing zone from the second implementation. */
export interface IndependentZone {
  fromMm: number;
  toMm: number;
  calibresMm: number[];
  inFlare: boolean;
  /** What was removed at the far end and at the sac, mm: flares, then corners. */
  flaresMm: [number, number];
  cornersMm: [number, number];
}

const STEP_MM = 0.025;
/** Spacing of the calibres that a line is fitted to. */
const FIT_MM = 0.1;

/**
 * A second implementation of the definition of the landing zone (DEVELOPERS.md, "How a vessel is measured", step 9), position
 * by position and with the textbook sums of linear regression; it shares no code with the program.
 */
export function independentZone(
  sections: readonly ProfileSample[],
  limitMm: number,
  neckMm: number,
  rules: MeasureDefinitions,
): IndependentZone | undefined {
  const places = placesOf(sections, limitMm, neckMm, 2.5 * rules.profileStepMm);
  const last = places.length - 1;
  const endMm = (k: number): number => (k === last ? limitMm : places[k].atMm);
  const isEnough = (lengthMm: number, calibreMm: number): boolean =>
    lengthMm > rules.landingMinimumMm - 1e-6 && lengthMm > rules.landingMinimumCalibres * calibreMm - 1e-6;
  const calibres = (near: number, far: number): number[] =>
    places.slice(near, far + 1).map(({ calibreMm }) => calibreMm!);

  // the last position of the steady stretch that starts at one
  const steadyTo = (near: number): number | undefined => {
    const [seen, total] = [
      { least: Number.POSITIVE_INFINITY, most: 0 },
      { mm: 0, count: 0 },
    ];
    let far = near - 1;
    for (;;) {
      const calibreMm = places[far + 1]?.calibreMm;
      if (calibreMm === undefined) break;
      const [least, most] = [Math.min(seen.least, calibreMm), Math.max(seen.most, calibreMm)];
      const meanMm = (total.mm + calibreMm) / (total.count + 1);
      if (most - least > rules.landingVariation * meanMm) break;
      Object.assign(seen, { least, most });
      Object.assign(total, { mm: total.mm + calibreMm, count: total.count + 1 });
      far++;
    }
    const isLong = far >= near && isEnough(places[near].atMm - endMm(far), total.mm / total.count);
    return isLong ? far : undefined;
  };
  let near = 0;
  while (near <= last && steadyTo(near) === undefined) near++;
  if (near > last) return undefined;
  const next = near < last ? steadyTo(near + 1) : undefined;
  if (next !== undefined && endMm(next) < endMm(steadyTo(near)!) - 0.5) near++;
  const far = steadyTo(near)!;

  const steadyMm = average(calibres(near, far));
  const windowMm = Math.max(rules.flareWindowMm, rules.flareWindowCalibres * steadyMm);
  const window = Math.round(windowMm / STEP_MM);
  const apart = Math.round(FIT_MM / STEP_MM);
  /** Positions from one inwards, over this many steps. */
  const from = (k: number, inwards: number, steps: number): Place[] => {
    const taken: Place[] = [];
    for (let moved = 0; moved <= steps; moved += apart) taken.push(places[k + inwards * moved]);
    return taken;
  };
  const isFlat = (k: number, inwards: number): boolean => {
    const line = lineThrough(from(k, inwards, window).filter(({ isBetween }) => isBetween));
    return Math.abs(line.slope) <= rules.flareSlope + rules.flareErrors * line.errorOfSlope;
  };
  let sacEnd = range(near, far - window).find((k) => isFlat(k, 1));
  let farEnd = range(near + window, far).findLast((k) => isFlat(k, -1));
  const whole = { fromMm: endMm(far), toMm: places[near].atMm, calibresMm: calibres(near, far) };
  const untouched = {
    ...whole,
    inFlare: true,
    flaresMm: [0, 0],
    cornersMm: [0, 0],
  } satisfies IndependentZone;
  if (sacEnd === undefined || farEnd === undefined || farEnd < sacEnd) return untouched;
  if (!isEnough(places[sacEnd].atMm - endMm(farEnd), average(calibres(sacEnd, farEnd)))) return untouched;
  const flares = [(far - farEnd) * STEP_MM, (sacEnd - near) * STEP_MM] as [number, number];

  const corner = Math.round(rules.flareCornerMm / STEP_MM);
  const isCorner = (k: number, inwards: number): boolean => {
    const ahead = from(k, inwards, corner);
    const { scatter } = lineThrough(from(k + inwards * corner, inwards, window));
    const { slope, squaresMm } = lineThrough(ahead);
    const allowed = ahead.length < 3 ? 0 : (rules.flareErrors * scatter) / Math.sqrt(squaresMm);
    return Math.abs(slope) > rules.flareSlope + allowed;
  };
  /** Whether an end may move by a step: the corner and its scatter lie within the rest, and the rest is still a zone. */
  const hasRoom = (sac: number, end: number): boolean =>
    end + 1 - sac > corner + window && isEnough(places[sac + 1].atMm - places[end].atMm, steadyMm);
  const cut = [farEnd, sacEnd];
  for (let moved = 0; moved < corner && hasRoom(sacEnd, farEnd) && isCorner(sacEnd, 1); moved++) sacEnd++;
  for (let moved = 0; moved < corner && hasRoom(sacEnd, farEnd) && isCorner(farEnd, -1); moved++) farEnd--;
  return {
    fromMm: endMm(farEnd),
    toMm: places[sacEnd].atMm,
    calibresMm: calibres(sacEnd, farEnd),
    inFlare: false,
    flaresMm: flares,
    cornersMm: [(cut[0] - farEnd) * STEP_MM, (sacEnd - cut[1]) * STEP_MM],
  };
}

const average = (values: readonly number[]): number => values.reduce((a, b) => a + b) / values.length;

const range = (first: number, last: number): number[] =>
  Array.from({ length: Math.max(0, last - first + 1) }, (_, i) => first + i);

/** Positions every step from the neck to the limit. */
function placesOf(
  sections: readonly ProfileSample[],
  limitMm: number,
  neckMm: number,
  gapMm: number,
): Place[] {
  const places: Place[] = [];
  for (let k = 0; neckMm - k * STEP_MM > limitMm - 1e-6; k++) {
    const atMm = neckMm - k * STEP_MM;
    const behind = sections.findLast((one) => one.atMm < atMm - 1e-7);
    const ahead = sections.find((one) => one.atMm >= atMm - 1e-7);
    const one = ahead ?? behind;
    if (ahead && behind) {
      const share = (atMm - behind.atMm) / (ahead.atMm - behind.atMm);
      const calibreMm = behind.equivalentMm * (1 - share) + ahead.equivalentMm * share;
      places.push({
        atMm,
        calibreMm: ahead.atMm - behind.atMm > gapMm ? undefined : calibreMm,
        isBetween: true,
      });
    } else {
      const awayMm = Math.abs(one!.atMm - atMm);
      const isOn = awayMm < 1e-7;
      places.push({ atMm, calibreMm: awayMm > gapMm ? undefined : one!.equivalentMm, isBetween: isOn });
    }
  }
  return places;
}

/** Least squares through points: slope, its standard error, the scatter about the line and the sum of (x - mean)². */
function lineThrough(points: readonly Place[]) {
  const n = points.length;
  if (n < 3) return { slope: 0, errorOfSlope: 0, scatter: 0, squaresMm: 0 };
  const x = points.map(({ atMm }) => atMm);
  const y = points.map(({ calibreMm }) => calibreMm!);
  const [middle, level] = [average(x), average(y)];
  const squaresMm = x.reduce((sum, one) => sum + (one - middle) ** 2, 0);
  const slope = x.reduce((sum, one, i) => sum + (one - middle) * y[i], 0) / squaresMm;
  const rest = y.reduce((sum, one, i) => sum + (one - level - slope * (x[i] - middle)) ** 2, 0);
  const scatter = Math.sqrt(rest / (n - 2));
  return { slope, errorOfSlope: scatter / Math.sqrt(squaresMm), scatter, squaresMm };
}
