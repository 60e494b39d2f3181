import { fixed, pointText } from '../foundation/number-text.js';
import { distance } from '../foundation/vector.js';
import type { FollowedVessel } from './describe-vessel.js';
import type { BranchOpening, MeasureDefinitions, ProfileSample } from './measure.js';
import type { Polyline } from './polyline.js';
import type { Surface } from './surface.js';

/** Numerical settings. */
const CHECK = {
  /** Places checked along a line: spacing in mm and calibres, and greatest number. */
  stepMm: 0.25,
  stepCalibres: 0.1,
  most: 4000,
  /** Within this distance of its ends the line is on a cap, mm. */
  endMm: 0.02,
  /** A bottleneck has less than this share of the depth to either side, */
  bottleneck: 0.5,
  /** which is searched for within this many times its depth, at least a calibre, */
  bottleneckLooks: 6,
  /** and also beyond the neck, in calibres. */
  pastCalibres: 3,
  /**
   * Least distance between the ends of a line one calibre long, in calibres. In the tightest bend that a lumen can make, whose inner wall
   * is a point, it is sin 1 = 0.84.
   */
  comesOn: 0.7,
} as const;

/**
 * Why a followed vessel must not be measured, with the place; undefined if it may be. Checks the winding number of the surface at each
 * place of the line (which none of the earlier steps uses), how narrow the lumen is there, and whether sections are missing. `places` are
 * along the line, mm from the far end.
 */
export function faultOfVessel(
  { line, endMm, profile, branches }: FollowedVessel,
  surfaces: readonly Surface[],
  calibreMm: number,
  definitions: MeasureDefinitions,
  /** Place from which the line runs between two surfaces and is inside neither, mm. */
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
  if (folded !== undefined) return `its line doubles back ${shown(folded)}`;
  const past = Math.min(line.lengthMm, bareFromMm, endMm + CHECK.pastCalibres * calibreMm);
  const narrow = bottleneckAt(line, placesAlong(past, calibreMm), surface, calibreMm, endMm);
  if (narrow !== undefined)
    return `its line runs through a bottleneck ${shown(narrow)}. Check whether it only touches a neighbour there`;
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
 * The first place at which the lumen is less than half as deep as to either side: a real vessel does not narrow and widen again that much
 * within its own width, but two touching vessels do.
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

/** The longest stretch without a section that is not explained by a branch's opening. */
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
