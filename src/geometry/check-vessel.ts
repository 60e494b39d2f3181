import { fixed, pointText } from '../foundation/number-text.js';
import { distance } from '../foundation/vector.js';
import type { FollowedVessel } from './describe-vessel.js';
import type { BranchOpening, MeasureDefinitions, ProfileSample } from './measure.js';
import type { Polyline } from './polyline.js';
import type { Surface } from './surface.js';

/** Numerical settings. */
const CHECK = {
  /** Places asked along a line: so far apart, mm and calibres, and at most so many. */
  stepMm: 0.25,
  stepCalibres: 0.1,
  most: 4000,
  /** So near to its ends the line lies on a cap, mm. */
  endMm: 0.02,
  /** A bottleneck lets less than this part of the depth to either side through … */
  bottleneck: 0.5,
  /** … which is looked for within so many times its own depth, a calibre at least, … */
  bottleneckLooks: 6,
  /** … also past the neck, in calibres. */
  pastCalibres: 3,
  /**
   * Over one calibre of its way a line comes at least so far, in calibres: in the tightest bend that a lumen can make, its inner wall
   * a point, it comes sin 1 = 0.84.
   */
  comesOn: 0.7,
} as const;

/**
 * Why a followed vessel must not be measured, with the place; undefined where nothing speaks against it. It is asked how often
 * the surface goes round each place of the line (none of the steps that laid the line asks that), how narrow the lumen is
 * there, and whether sections are missing. `places` lie along the line, mm from the far end.
 */
export function faultOfVessel(
  { line, endMm, profile, branches }: FollowedVessel,
  surfaces: readonly Surface[],
  calibreMm: number,
  definitions: MeasureDefinitions,
  /** Where the line runs on between two surfaces, mm; there it lies in neither. */
  bareFromMm = Number.POSITIVE_INFINITY,
): string | undefined {
  const [surface] = surfaces;
  const shown = (at: number): string =>
    `${fixed(at, 1)} mm from its far end, near ${pointText(surface.toFile(line.pointAt(at)))} mm`;
  for (const at of placesAlong(Math.min(endMm, bareFromMm), calibreMm)) {
    const point = line.pointAt(at);
    if (surfaces.every((s) => s.winding(point) < 1)) return `its line leaves the lumen ${shown(at)}`;
  }
  const least = Math.min(calibreMm, ...profile.map((s) => s.equivalentMm));
  const folded = placesAlong(Math.min(endMm, bareFromMm) - least, calibreMm).find(
    (at) => distance(line.pointAt(at), line.pointAt(at + least)) < CHECK.comesOn * least,
  );
  if (folded !== undefined) return `its line swings to and fro ${shown(folded)}`;
  const past = Math.min(line.lengthMm, bareFromMm, endMm + CHECK.pastCalibres * calibreMm);
  const narrow = bottleneckAt(line, placesAlong(past, calibreMm), surface, calibreMm, endMm);
  if (narrow !== undefined)
    return `its line runs through a bottleneck ${shown(narrow)}. Look whether it only touches a neighbour there`;
  const gap = longestGap(profile, Math.min(endMm, bareFromMm), branches);
  const mostMm = definitions.gapCalibres * calibreMm;
  if (gap.lengthMm > mostMm)
    return `no section could be cut over ${fixed(gap.lengthMm, 1)} mm, ${shown(gap.fromMm)}`;
  return undefined;
}

/** Places from the far end to the end of the vessel, mm. */
function placesAlong(endMm: number, calibreMm: number): number[] {
  const stepMm = Math.max(Math.min(CHECK.stepMm, CHECK.stepCalibres * calibreMm), endMm / CHECK.most);
  const count = Math.ceil(endMm / stepMm);
  const places: number[] = [];
  if (!(endMm > 0)) return places;
  for (let i = 0; i <= count; i++) {
    const at = (i * endMm) / count;
    if (at >= CHECK.endMm && at <= endMm - CHECK.endMm) places.push(at);
  }
  return places;
}

/**
 * The first place at which the lumen is less than half as deep as to either side: a real vessel does not narrow and widen
 * again so much within its own width, two that touch do.
 */
function bottleneckAt(
  line: Polyline,
  places: readonly number[],
  surface: Surface,
  calibreMm: number,
  untilMm: number,
): number | undefined {
  const depths = places.map((at) => surface.closest(line.pointAt(at))?.distance ?? 0);
  for (let i = 0; i < places.length && places[i] <= untilMm; i++) {
    const reach = Math.max(CHECK.bottleneckLooks * depths[i], calibreMm);
    let [before, after] = [0, 0];
    for (let k = i - 1; k >= 0 && places[i] - places[k] <= reach; k--) before = Math.max(before, depths[k]);
    for (let k = i + 1; k < places.length && places[k] - places[i] <= reach; k++)
      after = Math.max(after, depths[k]);
    if (depths[i] < CHECK.bottleneck * Math.min(before, after)) return places[i];
  }
  return undefined;
}

/** The longest stretch without a section that no branch's opening explains. */
function longestGap(
  profile: readonly ProfileSample[],
  endMm: number,
  branches: readonly BranchOpening[],
): { fromMm: number; lengthMm: number } {
  let longest = { fromMm: 0, lengthMm: 0 };
  let from = 0;
  for (const to of [...profile.map((s) => s.atMm), endMm]) {
    const open = branches.reduce(
      (sum, b) => sum + Math.max(0, Math.min(to, b.toMm) - Math.max(from, b.fromMm)),
      0,
    );
    const lengthMm = to - from - open;
    if (lengthMm > longest.lengthMm) longest = { fromMm: from, lengthMm };
    from = to;
  }
  return longest;
}
