import { InputFailure } from '../foundation/failure.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import { subtract, type Vec3 } from '../foundation/vector.js';
import { boundingBox } from '../mesh/measures.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { describeSac } from './describe-sac.js';
import { describeVessel, type FollowedVessel, type ScanFrame } from './describe-vessel.js';
import { surfaceDistances } from './geodesic.js';
import type { LesionMeasure, MeasureDefinitions, ProfileSample } from './measure.js';
import type { Polyline } from './polyline.js';
import { calibreProfile, type OpenStretch } from './profile.js';
import { sectionAt } from './section.js';
import { Surface } from './surface.js';
import { type FollowedLine, prolongIntoSac, vesselRings } from './whole/follow-vessel.js';
import { joinBranches } from './whole/join-branches.js';
import { neckByCalibre } from './whole/neck-by-calibre.js';
import { nearestEnds, type OfferedEnd, placeEnds } from './whole/place-ends.js';
import { type BodyMesh, bodyBetweenNecks, type NeckCut } from './whole/sac-body.js';
import { follow, type LabelledVessel, type Tracked } from './whole/tracked-vessel.js';
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
}

export interface WholeMeasured {
  lesion: LesionMeasure;
  surface: Surface;
  /** The sac between the necks, local coordinates. */
  sacBody?: BodyMesh;
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
  const widest = whole.sac ? undefined : widestPlace(surface);
  const sacMiddle = whole.sac ? points[points.length - 1] : widest?.centre;
  if (!sacMiddle) {
    const text = 'no widest place was found inside the surface: give surfaces.whole.sac';
    findings.push(finding('stop', 'sac-not-found', 'sac', text));
    return { lesion: { vessels: [], neighbours: [] }, surface, findings };
  }
  const seed = surface.closest(sacMiddle)!.triangle;
  const tracked = trackEnds(surface, whole.ends, points, surface.triangles[3 * seed], offered);
  for (const vessel of tracked.values()) if (vessel.end.role !== 'branch') follow(surface, vessel, findings);
  joinBranches(surface, tracked, sacMiddle, findings);

  const lesion: LesionMeasure = { vessels: [], neighbours: [] };
  const necks: NeckCut[] = [];
  const calibres = new Map<string, number>();
  for (const vessel of tracked.values()) {
    const measured = vessel.followed && profileOf(surface, vessel, sacMiddle, tracked, definitions, findings);
    if (!measured) continue;
    calibres.set(measured.name, Math.max(...measured.profile.map((s) => s.equivalentMm)));
    if (measured.meetsSac) necks.push(...cutAt(surface, measured));
    lesion.vessels.push(describeVessel(measured, definitions, frame, toFile));
  }
  const doubt =
    widest && doubtOfSac(2 * widest.radiusMm, tracked.keys(), calibres, definitions.sacWidestRatio);
  if (doubt) {
    const where = toFile(widest.centre).map((x) => fixed(x, 1));
    const text = `the widest place, ${fixed(2 * widest.radiusMm, 1)} mm at [${where.join(', ')}] mm, ${doubt}: nothing was measured. Give surfaces.whole.sac, a point inside the sac.`;
    findings.push(finding('stop', 'sac-not-found', 'sac', text));
    return { lesion: { vessels: [], neighbours: [] }, surface, findings };
  }
  if (necks.length === 0) return { lesion, surface, findings };
  const sacBody = bodyBetweenNecks(surface, seed, necks);
  lesion.sac = describeSac(sacBody.positions, sacBody.triangles, frame, toFile);
  return { lesion, surface, sacBody, findings };
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

/**
 * The rough way of each vessel from its end to the sac.
 * Throws InputFailure (2) for ends in a part of the surface that does not hang together with the sac.
 */
function trackEnds(
  surface: Surface,
  ends: WholeSurface['ends'],
  points: readonly Vec3[],
  sacVertex: number,
  offered: readonly OfferedEnd[],
): Map<string, Tracked> {
  const distances = surfaceDistances(surface, [sacVertex]);
  const problems: string[] = [];
  const tracked = new Map<string, Tracked>();
  ends.forEach((end, i) => {
    const tip = surface.triangles[3 * surface.closest(points[i])!.triangle];
    if (Number.isFinite(distances.distanceMm[tip]) && distances.from[tip] >= 0)
      tracked.set(end.name, { end, rings: vesselRings(surface, distances, tip), openings: [] });
    else
      problems.push(
        `${end.where}: the point of ${end.name} lies in a part of the surface that is not joined to the sac. ` +
          nearestEnds(surface, points[i], offered),
      );
  });
  if (problems.length > 0) throw new InputFailure(2, problems);
  return tracked;
}

const openStretches = (vessel: Tracked): OpenStretch[] =>
  vessel.openings.map((o) => {
    const margin = 0.25 * (o.calibreMm ?? 0);
    return { fromMm: o.fromMm - margin, toMm: o.toMm + margin };
  });

function profileOf(
  surface: Surface,
  vessel: Tracked,
  sacMiddle: Vec3,
  all: ReadonlyMap<string, Tracked>,
  definitions: MeasureDefinitions,
  findings: Finding[],
): FollowedVessel | undefined {
  const own = vessel.followed!;
  const { name, role } = vessel.end;
  const stepMm = definitions.profileStepMm;
  const base = { name, role, branches: vessel.openings, edgeMm: surface.meanEdgeMm() };
  if (role === 'branch') {
    const parent = vessel.end.of === undefined ? undefined : all.get(vessel.end.of)?.followed;
    const endMm = parent ? wallEntry(own.line, parent) : own.line.lengthMm;
    const profile = calibreProfile(surface, own.line, own.calibreMm, { fromMm: 0, toMm: endMm, stepMm });
    if (profile.length < 3) return tooShort(name, findings);
    return { ...base, line: own.line, profile, endMm, meetsSac: false };
  }
  const line = prolongIntoSac(own, sacMiddle);
  const long = calibreProfile(
    surface,
    line,
    own.calibreMm,
    { fromMm: 0, toMm: line.lengthMm, stepMm },
    openStretches(vessel),
  );
  const closely = (fromMm: number, toMm: number): ProfileSample[] =>
    calibreProfile(
      surface,
      line,
      own.calibreMm,
      { fromMm, toMm, stepMm: NEAR_NECK_STEP_MM },
      openStretches(vessel),
    );
  const neck = neckByCalibre(long, definitions.neckCalibreRatio, (fromMm, toMm) =>
    closely(fromMm + NEAR_NECK_STEP_MM, toMm - NEAR_NECK_STEP_MM / 2),
  );
  if (neck === undefined)
    findings.push(
      finding(
        'stop',
        'neck-not-found',
        name,
        `its calibre never stays above ${definitions.neckCalibreRatio} times its median: is this vessel's point at its far end, and is the sac wider than the vessel?`,
      ),
    );
  const endMm = neck ?? own.line.lengthMm;
  const profile = long.filter((s) => s.atMm <= endMm + 1e-9);
  if (profile.length < 3) return tooShort(name, findings);
  // counted from the neck, so that the last one lies on it
  const nearNeckMm = NEAR_NECK_STEP_MM * Math.floor(Math.min(endMm, 2 * own.calibreMm) / NEAR_NECK_STEP_MM);
  const nearNeck = neck !== undefined && role === 'feeder' ? closely(neck - nearNeckMm, neck) : [];
  return { ...base, line, profile, nearNeck, endMm, meetsSac: neck !== undefined };
}

/** Spacing of the sections just before a neck, mm. */
const NEAR_NECK_STEP_MM = 0.1;

function tooShort(name: string, findings: Finding[]): undefined {
  findings.push(
    finding('stop', 'vessel-not-followed', name, 'fewer than three sections could be cut across this vessel'),
  );
  return undefined;
}

/** Where the branch's line comes within its parent's radius, mm from the branch's far end; its end where it does not. */
function wallEntry(line: Polyline, parent: FollowedLine): number {
  for (let i = 0; i < line.points.length; i++)
    if (parent.line.project(line.points[i]).distanceMm < parent.calibreMm / 2) return line.at[i];
  return line.lengthMm;
}

function cutAt(surface: Surface, vessel: FollowedVessel): NeckCut[] {
  const point = vessel.line.pointAt(vessel.endMm);
  const intoSac = vessel.line.directionAt(vessel.endMm, vessel.profile[0].equivalentMm * 0.6);
  const section = sectionAt(surface, point, intoSac);
  return section ? [{ point, intoSac, triangles: section.triangles }] : [];
}
