import { InputFailure } from '../foundation/failure.js';
import { type Finding, finding } from '../foundation/finding.js';
import { listed } from '../foundation/list-text.js';
import { fixed, pointText } from '../foundation/number-text.js';
import { inStage } from '../foundation/stage.js';
import { subtract, type Vec3 } from '../foundation/vector.js';
import { boundingBox } from '../mesh/measures.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { describeSac } from './describe-sac.js';
import { describeVessel, type FollowedVessel, type ScanFrame } from './describe-vessel.js';
import { type Way, waysToSac } from './lumen.js';
import type { LesionMeasure, MeasureDefinitions } from './measure.js';
import { sectionAt } from './section.js';
import { Surface } from './surface.js';
import { type BoundedPart, partBetweenPoints } from './whole/between-points.js';
import { doubtfulBranches, doubtfulOpenings, doubtOfWidest, faultOfSac, isFaulty } from './whole/doubts.js';
import { farEnds } from './whole/ends-of.js';
import { joinBranches } from './whole/join-branches.js';
import { endsOnce, nearestEnds, type OfferedEnd, placeEnds } from './whole/place-ends.js';
import { profileOf } from './whole/profile-to-neck.js';
import { bodyBetweenNecks, type NeckCut } from './whole/sac-body.js';
import { longWays } from './whole/shortest-way.js';
import { follow, type LabelledVessel, type Tracked } from './whole/tracked-vessel.js';
import {
  describeLoose,
  dropPastNeck,
  findLooseEnds,
  type LooseEnds,
  openingsOfLoose,
} from './whole/unnamed-ends.js';
import { ringsAlongWay } from './whole/way-rings.js';
import { type InnerBall, widestPlace } from './whole/widest-place.js';

/** One surface of the whole blood pool with the far ends of its vessels; mm, closed, outward. */
export interface WholeSurface {
  mesh: TriangleMesh;
  /** The facing half-edge of each, if available. */
  twin?: Int32Array;
  capTriangles: number[];
  ends: LabelledVessel[];
  /** A point inside the sac. */
  sac?: { point: Vec3; where: string };
  offeredEnds: OfferedEnd[];
  /** True for a part that has already been cut out of a tree. */
  isBounded?: boolean;
}

export interface WholeMeasured {
  lesion: LesionMeasure;
  /** The parts beyond the points of the case, if the surface is a tree that continues there, and the part that was measured. */
  bounded?: Pick<BoundedPart, 'mesh' | 'leftOut'>;
  surface: Surface;
  /** The sac between the necks, local coordinates. */
  sacBody?: TriangleMesh;
  findings: Finding[];
}

/** Finds vessels, necks and sac on one surface and measures them. Anything that cannot be measured is left out with a finding. */
export function measureWhole(
  whole: WholeSurface,
  definitions: MeasureDefinitions,
  frame: ScanFrame,
): WholeMeasured {
  const findings: Finding[] = [];
  const box = boundingBox(whole.mesh);
  const origin = [0, 1, 2].map((k) => (box.min[k] + box.max[k]) / 2) as Vec3;
  const surface = new Surface(whole.mesh, origin, whole.capTriangles, whole.twin);
  const toFile = (p: Vec3): Vec3 => surface.toFile(p);
  const toLocal = <T extends { point: Vec3 }>(labelled: T): T => ({
    ...labelled,
    point: subtract(labelled.point, origin),
  });
  const offered = whole.offeredEnds.map((e) => ({ ...e, centre: subtract(e.centre, origin) }));
  const labelled = [...whole.ends, ...(whole.sac ? [{ ...whole.sac, name: 'sac' }] : [])].map(toLocal);
  const points = placeEnds(surface, labelled, offered, findings);
  const bounded = whole.isBounded ? undefined : boundedBy(surface, whole, points, findings);
  if (bounded) {
    const sac = whole.sac && { ...whole.sac, point: toFile(points[whole.ends.length]) };
    return measurePart({ ...whole, sac }, bounded, definitions, frame, findings);
  }
  const widest = whole.sac ? undefined : inStage('centreline', () => widestPlace(surface));
  const sacMiddle = whole.sac ? points[points.length - 1] : widest?.centre;
  if (!sacMiddle) {
    const text = 'no widest place was found inside the surface: give surfaces.whole.sac';
    findings.push(finding('stop', 'sac-not-found', 'sac', text));
    return { lesion: { vessels: [], neighbours: [] }, surface, findings };
  }
  const seed = surface.closest(sacMiddle)!.triangle;
  refuseApart(surface, whole.ends, points, seed, offered);
  const farPoints = points.slice(0, whole.ends.length);
  const followed = followWhole(surface, whole.ends, { sacMiddle, farPoints, widest }, definitions, findings);
  const { tracked, loose } = followed;
  const { lesion, necks, withoutNeck, calibres } = measureVessels(followed, definitions, frame, findings);
  findings.push(...doubtfulBranches(tracked, lesion.vessels, findings));
  findings.push(...doubtfulOpenings(tracked, lesion.vessels));
  if (loose) {
    const { ends: unnamed, findings: said } = describeLoose(loose, toFile);
    lesion.unnamed = { of: loose.all, ends: unnamed };
    findings.push(...said);
  }
  const named = whole.ends.map(({ name }) => name);
  const doubt = widest && doubtOfWidest(widest, named, calibres, definitions.sacWidestRatio);
  if (doubt) {
    const where = pointText(toFile(widest.centre));
    const text = `the widest place, ${fixed(2 * widest.radiusMm, 1)} mm at ${where} mm, ${doubt}: nothing was measured. Give surfaces.whole.sac, a point inside the sac.`;
    findings.push(finding('stop', 'sac-not-found', 'sac', text));
    return { lesion: { vessels: [], neighbours: [], unnamed: lesion.unnamed }, surface, findings };
  }
  if (necks.length === 0) return { lesion, surface, findings };
  const sacBody = withoutNeck.length > 0 ? undefined : bodyBetweenNecks(surface, necks);
  const sac = sacBody && describeSac(sacBody.positions, sacBody.triangles, frame, toFile);
  const fault =
    sacBody && sac && sac.volumeMl > 0
      ? faultOfSac(sacBody, sac.longestMm, sacMiddle, lesion.unnamed?.ends ?? [], definitions)
      : withoutNeck.length > 0
        ? `it cannot be separated from ${listed(withoutNeck)}, whose neck was not found`
        : 'the necks do not bound one body: is the sac point inside the sac, and is each point in its own vessel?';
  if (fault) {
    findings.push(finding('stop', 'sac-not-measured', 'sac', fault));
    return { lesion, surface, findings };
  }
  lesion.sac = sac;
  return { lesion, surface, sacBody, findings };
}

/** Follows every vessel from its far end to the sac or its parent, and searches for unnamed ends. */
function followWhole(
  surface: Surface,
  labelled: WholeSurface['ends'],
  { sacMiddle, farPoints, widest }: { sacMiddle: Vec3; farPoints: Vec3[]; widest?: InnerBall },
  definitions: MeasureDefinitions,
  findings: Finding[],
): FollowedWhole {
  // this must come before the vessels are followed, because following marks caps on the surface
  const ends = inStage('centreline', () => farEnds(surface, widest));
  const lumen = inStage('centreline', () => waysToSac(surface, sacMiddle, farPoints));
  const ways = lumen?.ways ?? labelled.map(() => undefined);
  const tracked = inStage('centreline', () => trackEnds(surface, labelled, ways, definitions, findings));
  inStage('centreline', () => {
    for (const vessel of tracked.values())
      if (vessel.end.role !== 'branch') follow(surface, vessel, findings);
  });
  const ratio = definitions.neckCalibreRatio;
  const loose =
    lumen && inStage('centreline', () => findLooseEnds(surface, lumen, tracked, farPoints, ratio, ends));
  const joining: Finding[] = [];
  inStage('centreline', () => joinBranches(surface, tracked, sacMiddle, joining));
  findings.push(...joining.filter(({ where }) => !tracked.get(where)?.isUnnamed));
  if (loose) openingsOfLoose(loose);
  const tooLong = lumen ? longWays(lumen, waysOf(tracked), definitions.wayRatio) : new Map<string, string>();
  return { surface, tracked, sacMiddle, loose, tooLong };
}

/** Profiles, necks and measurements of the followed vessels; a vessel with a fault is left out with a finding. */
function measureVessels(
  { surface, tracked, sacMiddle, loose, tooLong }: FollowedWhole,
  definitions: MeasureDefinitions,
  frame: ScanFrame,
  findings: Finding[],
): { lesion: LesionMeasure; necks: NeckCut[]; withoutNeck: string[]; calibres: Map<string, number> } {
  const lesion: LesionMeasure = { vessels: [], neighbours: [] };
  const necks: NeckCut[] = [];
  const withoutNeck: string[] = [];
  const calibres = new Map<string, number>();
  for (const vessel of tracked.values()) {
    if (vessel.isUnnamed) continue;
    const { name, role } = vessel.end;
    const measured = vessel.followed && profileOf(surface, vessel, sacMiddle, tracked, definitions, findings);
    if (measured && loose) dropPastNeck(loose, measured);
    if (measured) calibres.set(name, Math.max(...measured.profile.map((s) => s.equivalentMm)));
    const isStopped = !measured || isFaulty(surface, measured, vessel, tooLong, definitions, findings);
    if (role !== 'branch') {
      const cut = isStopped || !measured.meetsSac ? undefined : cutAt(surface, measured);
      if (cut) necks.push(cut);
      else withoutNeck.push(name);
    }
    if (!isStopped && (measured.meetsSac || role === 'branch'))
      lesion.vessels.push(describeVessel(measured, definitions, frame, (p) => surface.toFile(p)));
  }
  return { lesion, necks, withoutNeck, calibres };
}

/** The followed vessels of one surface, before anything is measured. */
interface FollowedWhole {
  surface: Surface;
  tracked: Map<string, Tracked>;
  sacMiddle: Vec3;
  loose?: LooseEnds;
  /** Vessels whose path is too long, with the text of the finding. */
  tooLong: ReadonlyMap<string, string>;
}

/** The part between the points of a tree; undefined if no vessel continues beyond its point. */
function boundedBy(
  surface: Surface,
  whole: WholeSurface,
  points: readonly Vec3[],
  findings: Finding[],
): BoundedPart | undefined {
  const sac = whole.sac && points[whole.ends.length];
  return partBetweenPoints(surface, whole.ends, points.slice(0, whole.ends.length), sac, findings);
}

/** Measures the part that was cut out of a tree, with a finding that names what was left out. */
function measurePart(
  whole: WholeSurface,
  { mesh, capTriangles, points, leftOut }: BoundedPart,
  definitions: MeasureDefinitions,
  frame: ScanFrame,
  findings: readonly Finding[],
): WholeMeasured {
  const { pieces, volumeMl, share, past } = leftOut;
  const parted = `The surface continues past the ${past.length === 1 ? 'point' : 'points'} of ${listed(past)} and was cut there: ${pieces === 1 ? '1 piece' : `${pieces} pieces`} with ${fixed(volumeMl, 1)} mL, ${fixed(100 * share, 0)} % of the whole, ${pieces === 1 ? 'is' : 'are'} left out, drawn pale and not printed. These vessels are measured from their points.`;
  const note = pieces > 0 ? [finding('note', 'left-out', 'whole', parted)] : [];
  const part = {
    ...whole,
    mesh,
    twin: undefined,
    capTriangles,
    ends: whole.ends.map((end, i) => ({ ...end, point: points[i] })),
    isBounded: true,
  };
  const measured = measureWhole(part, definitions, frame);
  if (pieces > 0) measured.lesion.leftOut = { pieces, volumeMl, share, past };
  return { ...measured, bounded: { mesh, leftOut }, findings: [...findings, ...note, ...measured.findings] };
}

/** The paths of the vessels that run to the sac. */
function waysOf(tracked: ReadonlyMap<string, Tracked>): Map<string, Way> {
  const ways = new Map<string, Way>();
  for (const [name, { end, way }] of tracked) if (way && end.role !== 'branch') ways.set(name, way);
  return ways;
}

/** Throws InputFailure (2) for ends in a part of the surface that is not connected to the sac. */
function refuseApart(
  surface: Surface,
  ends: WholeSurface['ends'],
  points: readonly Vec3[],
  seed: number,
  offered: readonly OfferedEnd[],
): void {
  const joined = surface.joinedTo(seed);
  const all = endsOnce(surface, offered);
  const problems = ends.flatMap((end, i) =>
    joined[surface.closest(points[i])!.triangle]
      ? []
      : [
          `${end.where}: the point of ${end.name} is in a part of the surface that is not connected to the sac. ` +
            nearestEnds(surface, points[i], all),
        ],
  );
  if (problems.length > 0) throw new InputFailure(2, problems);
}

/** The vessels with their paths to the sac; adds findings if there is none. */
function trackEnds(
  surface: Surface,
  ends: WholeSurface['ends'],
  ways: readonly (Way | undefined)[],
  definitions: MeasureDefinitions,
  findings: Finding[],
): Map<string, Tracked> {
  const tracked = new Map<string, Tracked>();
  ends.forEach((end, i) => {
    const way = ways[i];
    if (way) {
      const { rings, lastNarrow } = ringsAlongWay(surface, way, definitions.neckCalibreRatio);
      const toSac = end.role === 'branch' ? {} : { lastNarrow };
      tracked.set(end.name, { end, way, rings, ...toSac, openings: [] });
    } else {
      tracked.set(end.name, { end, rings: [], openings: [] });
      const text = 'no path wide enough to be followed leads through its lumen to the sac';
      findings.push(finding('stop', 'vessel-not-followed', end.name, text));
    }
  });
  return tracked;
}

function cutAt(surface: Surface, vessel: FollowedVessel): NeckCut | undefined {
  const point = vessel.line.pointAt(vessel.endMm);
  const intoSac = vessel.line.directionAt(vessel.endMm, vessel.profile[0].equivalentMm * 0.6);
  const section = sectionAt(surface, point, intoSac);
  return section && { point, intoSac, triangles: section.triangles };
}
