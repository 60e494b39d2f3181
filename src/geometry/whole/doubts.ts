import { type Finding, finding } from '../../foundation/finding.js';
import { listed } from '../../foundation/list-text.js';
import { fixed } from '../../foundation/number-text.js';
import type { Vec3 } from '../../foundation/vector.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { faultOfVessel } from '../check-vessel.js';
import type { FollowedVessel } from '../describe-vessel.js';
import type { LesionMeasure, MeasureDefinitions, UnnamedEnd } from '../measure.js';
import type { Polyline } from '../polyline.js';
import { median } from '../statistics.js';
import { Surface } from '../surface.js';
import type { Tracked } from './tracked-vessel.js';
import { type InnerBall, widestPlace } from './widest-place.js';

/** Why the body between the necks cannot be the sac; undefined if it may be. */
export function faultOfSac(
  body: TriangleMesh,
  longestMm: number,
  sacMiddle: Vec3,
  unnamed: readonly UnnamedEnd[],
  definitions: MeasureDefinitions,
): string | undefined {
  const surface = new Surface(body, [0, 0, 0]);
  if (!surface.isInside(sacMiddle))
    return 'the body between the necks does not contain the sac point: is that point inside the sac?';
  return doubtOfBody(surface, longestMm, unnamed, definitions.sacLongestRatio);
}

/**
 * Why the body between the necks is not a sac: it is more than `ratio` times as long as its largest ball, and unnamed vessels lead into
 * it, so it is a piece of the vascular tree. Undefined if it may be a sac.
 */
export function doubtOfBody(
  body: Surface,
  longestMm: number,
  unnamed: readonly UnnamedEnd[],
  ratio: number,
): string | undefined {
  const leading = unnamed.filter(({ leadsTo }) => leadsTo === 'sac').length;
  if (leading === 0) return undefined;
  const widest = widestPlace(body);
  const widestMm = 2 * (widest?.atMostMm ?? widest?.radiusMm ?? 0);
  if (longestMm <= ratio * widestMm) return undefined;
  return `the body between the necks is ${fixed(longestMm, 1)} mm long, ${fixed(widestMm, 1)} mm wide at its widest, and ${leading === 1 ? 'an unnamed vessel leads' : `${leading} unnamed vessels lead`} into it: it is a piece of the vascular tree and not a sac. Name these vessels among the ends in the case`;
}

/** Why the widest place of a surface may not be its sac; undefined if it may. */
export function doubtOfWidest(
  widest: InnerBall,
  names: Iterable<string>,
  calibresMm: ReadonlyMap<string, number>,
  ratio: number,
): string | undefined {
  return widest.atMostMm
    ? `may not be the widest: the surface has too many places about as wide to compare them all, up to ${fixed(2 * widest.atMostMm, 1)} mm`
    : doubtOfSac(2 * widest.radiusMm, names, calibresMm, ratio);
}

/**
 * Why the widest place cannot be taken as the sac: it must be at least `ratio` times as wide as the largest calibre of every named
 * vessel. Undefined if it can.
 */
export function doubtOfSac(
  widestMm: number,
  names: Iterable<string>,
  calibresMm: ReadonlyMap<string, number>,
  ratio: number,
): string | undefined {
  for (const name of names) {
    const calibreMm = calibresMm.get(name);
    if (calibreMm === undefined) return `cannot be compared with ${name}, which was not measured`;
    if (widestMm < ratio * calibreMm)
      return `is less than ${ratio} times as wide as ${name} (${fixed(calibreMm, 1)} mm)`;
  }
  return undefined;
}

/**
 * Findings for measured branches whose parent was not measured or has a fused neighbour, so that its line may be deflected where they join
 * it.
 */
export function doubtfulBranches(
  tracked: ReadonlyMap<string, Tracked>,
  vessels: LesionMeasure['vessels'],
  said: readonly Finding[],
): Finding[] {
  const fused = new Set(said.filter(({ id }) => id === 'neighbour-fused').map(({ where }) => where));
  const measured = new Set(vessels.map(({ name }) => name));
  return vessels.flatMap(({ name }) => {
    const of = tracked.get(name)?.end.of;
    if (of === undefined || said.some((f) => f.where === name && f.level !== 'note')) return [];
    const doubt = 'where it joins, and its length, may be off';
    if (!measured.has(of))
      return [finding('caution', 'branch-not-joined', name, `its parent ${of} was not measured: ${doubt}`)];
    const text = `a neighbour is fused with its parent ${of}: ${doubt}. Separate them in the segmentation.`;
    return fused.has(of) ? [finding('caution', 'neighbour-fused', name, text)] : [];
  });
}

/** Findings for measured vessels with a named branch that was not measured. */
export function doubtfulOpenings(
  tracked: ReadonlyMap<string, Tracked>,
  vessels: LesionMeasure['vessels'],
): Finding[] {
  const measured = new Set(vessels.map(({ name }) => name));
  return vessels.flatMap(({ name, branches }) => {
    const doubtful = branches.flatMap((b) => (tracked.has(b.name) && !measured.has(b.name) ? [b.name] : []));
    if (doubtful.length === 0) return [];
    const [opens, its] =
      doubtful.length === 1 ? ['opens on it, was', 'its opening'] : ['open on it, were', 'their openings'];
    const text = `${listed(doubtful)}, which ${opens} not measured: the place of ${its}, and a landing zone that ends there, may be off. Look there.`;
    return [finding('caution', 'branch-not-measured', name, text)];
  });
}

/** Whether a followed vessel must not be measured; adds findings with the reason, or with a warning about a vessel that may be measured. */
export function isFaulty(
  surface: Surface,
  measured: FollowedVessel,
  { rings }: Tracked,
  tooLong: ReadonlyMap<string, string>,
  definitions: MeasureDefinitions,
  findings: Finding[],
): boolean {
  const calibreMm = median(measured.profile.map((s) => s.equivalentMm));
  const fault =
    startsAside(measured.line, rings, calibreMm) ??
    faultOfVessel(measured, [surface], calibreMm, definitions) ??
    tooLong.get(measured.name);
  if (fault) {
    const sentence = fault.endsWith('?') ? fault : `${fault}.`;
    findings.push(finding('stop', 'vessel-not-measured', measured.name, `${sentence} It is not measured.`));
    return true;
  }
  const boxMm = surface.sizeMm().reduce((a, b) => a + b, 0);
  if (measured.endMm > boxMm)
    findings.push(
      finding(
        'caution',
        'vessel-long',
        measured.name,
        `its centreline, ${fixed(measured.endMm, 1)} mm, is longer than the width, depth and height of the surface's box together (${fixed(boxMm, 1)} mm): check whether it is so tortuous`,
      ),
    );
  return false;
}

/** Why a line is invalid: it does not come within a calibre of the vessel's point. Undefined if it does. */
function startsAside(line: Polyline, [first]: Tracked['rings'], calibreMm: number): string | undefined {
  if (!first) return undefined;
  const { distanceMm } = line.project(first.centre);
  return distanceMm > calibreMm
    ? `its line ends ${fixed(distanceMm, 1)} mm from its point: does a branch open there? Move the point farther from the opening`
    : undefined;
}
