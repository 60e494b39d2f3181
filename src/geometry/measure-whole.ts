import { InputFailure } from '../foundation/failure.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed, pointText } from '../foundation/number-text.js';
import { inStage } from '../foundation/stage.js';
import { subtract, type Vec3 } from '../foundation/vector.js';
import { boundingBox } from '../mesh/measures.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { faultOfVessel } from './check-vessel.js';
import { describeSac } from './describe-sac.js';
import { describeVessel, type FollowedVessel, type ScanFrame } from './describe-vessel.js';
import { type Way, waysToSac } from './lumen.js';
import type { LesionMeasure, MeasureDefinitions, UnnamedEnd } from './measure.js';
import type { Polyline } from './polyline.js';
import { sectionAt } from './section.js';
import { median } from './statistics.js';
import { Surface } from './surface.js';
import { type BoundedPart, partBetweenPoints } from './whole/between-points.js';
import { farEnds } from './whole/ends-of.js';
import { joinBranches } from './whole/join-branches.js';
import { endsOnce, nearestEnds, type OfferedEnd, placeEnds } from './whole/place-ends.js';
import { profileOf } from './whole/profile-to-neck.js';
import { bodyBetweenNecks, type NeckCut } from './whole/sac-body.js';
import { longWays } from './whole/shortest-way.js';
import { follow, type LabelledVessel, type Tracked } from './whole/tracked-vessel.js';
import { describeLoose, dropPastNeck, findLooseEnds, openingsOfLoose } from './whole/unnamed-ends.js';
import { ringsAlongWay } from './whole/way-rings.js';
import { widestPlace } from './whole/widest-place.js';

/** One surface of the whole blood pool with the far ends of its vessels; mm, closed, outward. */
export interface WholeSurface {
  mesh: TriangleMesh;
  /** The facing half-edge of each, where it is at hand. */
  twin?: Int32Array;
  capTriangles: number[];
  ends: LabelledVessel[];
  /** A point inside the sac. */
  sac?: { point: Vec3; where: string };
  offeredEnds: OfferedEnd[];
  /** True for a part that has been cut out of a tree already. */
  isBounded?: boolean;
}

export interface WholeMeasured {
  lesion: LesionMeasure;
  /** What lies past the points that the case names, where the surface is a tree that goes on there; and the part that was measured. */
  bounded?: Pick<BoundedPart, 'mesh' | 'leftOut'>;
  surface: Surface;
  /** The sac between the necks, local coordinates. */
  sacBody?: TriangleMesh;
  findings: Finding[];
}

/** Finds vessels, necks and sac on one surface and measures them. What cannot be measured is left out with a finding. */
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
  // before the vessels are followed, which marks caps on the surface
  const ends = inStage('centreline', () => farEnds(surface, widest));
  const farPoints = points.slice(0, whole.ends.length);
  const lumen = inStage('centreline', () => waysToSac(surface, sacMiddle, farPoints));
  const ways = lumen?.ways ?? whole.ends.map(() => undefined);
  const tracked = inStage('centreline', () => trackEnds(surface, whole.ends, ways, definitions, findings));
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
      lesion.vessels.push(describeVessel(measured, definitions, frame, toFile));
  }
  findings.push(...doubtfulBranches(tracked, lesion.vessels, findings));
  findings.push(...doubtfulOpenings(tracked, lesion.vessels));
  if (loose) {
    const { ends: unnamed, findings: said } = describeLoose(loose, toFile);
    lesion.unnamed = { of: loose.all, ends: unnamed };
    findings.push(...said);
  }
  const named = whole.ends.map(({ name }) => name);
  const doubt =
    widest &&
    (widest.atMostMm
      ? `may not be the widest: the surface has too many places about as wide to compare them all, up to ${fixed(2 * widest.atMostMm, 1)} mm`
      : doubtOfSac(2 * widest.radiusMm, named, calibres, definitions.sacWidestRatio));
  if (doubt) {
    const where = pointText(toFile(widest.centre));
    const text = `the widest place, ${fixed(2 * widest.radiusMm, 1)} mm at ${where} mm, ${doubt}: nothing was measured. Give surfaces.whole.sac, a point inside the sac.`;
    findings.push(finding('stop', 'sac-not-found', 'sac', text));
    return { lesion: { vessels: [], neighbours: [], unnamed: lesion.unnamed }, surface, findings };
  }
  if (necks.length === 0) return { lesion, surface, findings };
  const sacBody = withoutNeck.length > 0 ? undefined : bodyBetweenNecks(surface, necks);
  const sac = sacBody && describeSac(sacBody.positions, sacBody.triangles, frame, toFile);
  if (!sac || !(sac.volumeMl > 0)) {
    const text =
      withoutNeck.length > 0
        ? `it cannot be told apart from ${listed(withoutNeck)}, whose neck was not found`
        : 'the necks do not bound one body: is the sac point inside the sac, and is each point in its own vessel?';
    findings.push(finding('stop', 'sac-not-measured', 'sac', text));
    return { lesion, surface, findings };
  }
  if (!new Surface(sacBody, [0, 0, 0]).isInside(sacMiddle)) {
    const text = 'what lies between the necks does not hold the sac point: is that point inside the sac?';
    findings.push(finding('stop', 'sac-not-measured', 'sac', text));
    return { lesion, surface, findings };
  }
  const treeLike = doubtOfBody(
    sacBody,
    sac.longestMm,
    lesion.unnamed?.ends ?? [],
    definitions.sacLongestRatio,
  );
  if (treeLike) {
    findings.push(finding('stop', 'sac-not-measured', 'sac', treeLike));
    return { lesion, surface, findings };
  }
  lesion.sac = sac;
  return { lesion, surface, sacBody, findings };
}

/**
 * Why the body between the necks is no sac: it is more than `ratio` times as long as its largest ball, and vessels that nobody
 * named lead into it, so it is itself a piece of the vascular tree. Undefined where it may be a sac.
 */
function doubtOfBody(
  body: TriangleMesh,
  longestMm: number,
  unnamed: readonly UnnamedEnd[],
  ratio: number,
): string | undefined {
  const leading = unnamed.filter(({ leadsTo }) => leadsTo === 'sac').length;
  if (leading === 0) return undefined;
  const widest = widestPlace(new Surface(body, [0, 0, 0]));
  const widestMm = 2 * (widest?.atMostMm ?? widest?.radiusMm ?? 0);
  if (longestMm <= ratio * widestMm) return undefined;
  return `what lies between the necks is ${fixed(longestMm, 1)} mm long, ${fixed(widestMm, 1)} mm wide at its widest, and ${leading === 1 ? 'a vessel that carries no name leads' : `${leading} vessels that carry no name lead`} into it: it is a piece of the vascular tree and no sac. Name these vessels among the ends in the case`;
}

/** The part between the points of a tree; undefined where no vessel goes on past its point. */
function boundedBy(
  surface: Surface,
  whole: WholeSurface,
  points: readonly Vec3[],
  findings: Finding[],
): BoundedPart | undefined {
  const sac = whole.sac && points[whole.ends.length];
  return partBetweenPoints(surface, whole.ends, points.slice(0, whole.ends.length), sac, findings);
}

/** Measures the part that was cut out of a tree, and says what was left out. */
function measurePart(
  whole: WholeSurface,
  { mesh, capTriangles, points, leftOut }: BoundedPart,
  definitions: MeasureDefinitions,
  frame: ScanFrame,
  findings: readonly Finding[],
): WholeMeasured {
  const { pieces, volumeMl, share, past } = leftOut;
  const parted = `The surface goes on past the ${past.length === 1 ? 'point' : 'points'} of ${listed(past)} and was cut there: ${pieces === 1 ? '1 piece' : `${pieces} pieces`} with ${fixed(volumeMl, 1)} mL, ${fixed(100 * share, 0)} % of the whole, ${pieces === 1 ? 'is' : 'are'} left out, drawn pale and not printed. These vessels are measured from their points.`;
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

/** What to say of measured branches whose parent was not, or has a neighbour fused with it: its line may be drawn aside where they join it. */
function doubtfulBranches(
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
    const text = `a neighbour is fused with its parent ${of}: ${doubt}. Part them in the segmentation.`;
    return fused.has(of) ? [finding('caution', 'neighbour-fused', name, text)] : [];
  });
}

/** What to say of measured vessels on which a named branch opens that was not measured. */
function doubtfulOpenings(
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

/** The ways of the vessels that run to the sac. */
function waysOf(tracked: ReadonlyMap<string, Tracked>): Map<string, Way> {
  const ways = new Map<string, Way>();
  for (const [name, { end, way }] of tracked) if (way && end.role !== 'branch') ways.set(name, way);
  return ways;
}

const listed = (names: readonly string[]): string =>
  names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names[names.length - 1]}`;

/** Whether a followed vessel must not be measured; says why, and what to look at in one that may. */
function isFaulty(
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
    findings.push(finding('stop', 'vessel-not-measured', measured.name, `${sentence} It has no numbers.`));
    return true;
  }
  const boxMm = surface.sizeMm().reduce((a, b) => a + b, 0);
  if (measured.endMm > boxMm)
    findings.push(
      finding(
        'caution',
        'vessel-long',
        measured.name,
        `its centreline, ${fixed(measured.endMm, 1)} mm, is longer than the width, depth and height of the surface's box together (${fixed(boxMm, 1)} mm): look whether it winds so`,
      ),
    );
  return false;
}

/** Why a line that does not come to within a calibre of the vessel's point is none; undefined where it does. */
function startsAside(line: Polyline, [first]: Tracked['rings'], calibreMm: number): string | undefined {
  if (!first) return undefined;
  const { distanceMm } = line.project(first.centre);
  return distanceMm > calibreMm
    ? `its line ends ${fixed(distanceMm, 1)} mm from its point: does a branch open there? Move the point farther from the opening`
    : undefined;
}

/**
 * Why the widest place may not stand for the sac: it must be at least `ratio` times as wide as the largest calibre of every
 * named vessel. Undefined where it may.
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
          `${end.where}: the point of ${end.name} lies in a part of the surface that is not joined to the sac. ` +
            nearestEnds(surface, points[i], all),
        ],
  );
  if (problems.length > 0) throw new InputFailure(2, problems);
}

/** The vessels with their ways to the sac; says where there is none. */
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
      const text = 'no way wide enough to be followed leads through its lumen to the sac';
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
