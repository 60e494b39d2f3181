import { type Finding, finding } from '../foundation/finding.js';
import { fixed, pointText } from '../foundation/number-text.js';
import { inStage } from '../foundation/stage.js';
import type { Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { branchOpening, branchPlace } from './branch-opening.js';
import { faultOfVessel } from './check-vessel.js';
import { crowdedStretches, saysCrowded } from './crowded.js';
import { describeSac } from './describe-sac.js';
import { describeVessel, type FollowedVessel, type ScanFrame } from './describe-vessel.js';
import { type SurfaceDistances, surfaceDistances } from './geodesic.js';
import { wayFault } from './lumen.js';
import type {
  BranchOpening,
  LesionMeasure,
  MeasureDefinitions,
  UnnamedEnd,
  VesselMeasure,
} from './measure.js';
import { neckOnSac } from './neck.js';
import { nearestVertex } from './neighbours.js';
import { sideEnds } from './part-ends.js';
import { calibreProfile, openStretches } from './profile.js';
import { Surface } from './surface.js';
import { unnamedFindings } from './unnamed-findings.js';
import { type VesselLine, vesselCentreline } from './vessel-centreline.js';
import { WallProbe } from './wall-probe.js';

/** One structure to measure: a closed, outward-oriented mesh in mm. */
export interface PartSurface {
  name: string;
  role:
    | 'feeder'
    | 'sac'
    | 'drain'
    | 'branch'
    | 'systemic-feeder'
    | 'airway'
    | 'lobe'
    | 'heart'
    | 'chest-wall';
  mesh: TriangleMesh;
  /** The facing half-edge of each, if available. */
  twin?: Int32Array;
  /** Triangles that close an open end. */
  capTriangles: number[];
  of?: string;
  spare: boolean;
}

/** The structures as surfaces with a common origin, used later to compute distances and views. */
export interface PartsMeasured {
  lesion: LesionMeasure;
  surfaces: Map<string, Surface>;
  lines: Map<string, VesselLine>;
  findings: Finding[];
}

/** Vertices within this many mm of the structure that a vessel joins are the start of the path along it. */
const NEAR_MM = 0.25;

/**
 * Measures the sac and every vessel up to it, if each structure has its own surface. Anything that cannot be measured is left out with a
 * finding.
 */
export function measureParts(
  parts: readonly PartSurface[],
  definitions: MeasureDefinitions,
  frame: ScanFrame,
): PartsMeasured {
  const origin = commonOrigin(parts);
  const surfaces = new Map<string, Surface>();
  for (const part of parts)
    surfaces.set(part.name, new Surface(part.mesh, origin, part.capTriangles, part.twin));
  const findings: Finding[] = [];
  const lines = new Map<string, VesselLine>();
  const sacPart = parts.find((p) => p.role === 'sac');
  const sac = sacPart && surfaces.get(sacPart.name)!;

  const vesselParts = parts.filter(
    (p) => p.role === 'feeder' || p.role === 'drain' || p.role === 'systemic-feeder',
  );
  const branchParts = parts.filter((p) => p.role === 'branch');
  const fromSac = new Map<string, SurfaceDistances>();
  for (const part of vesselParts) {
    const surface = surfaces.get(part.name)!;
    const distances = distancesFrom(surface, sac);
    if (sac) fromSac.set(part.name, distances);
    followPart(part, surface, distances, lines, findings);
  }
  for (const part of branchParts) {
    const parent = part.of === undefined ? undefined : surfaces.get(part.of);
    const surface = surfaces.get(part.name)!;
    const distances = distancesFrom(surface, parent);
    followPart(part, surface, distances, lines, findings);
  }

  const followed = new Map<string, FollowedVessel>();
  for (const part of vesselParts) {
    const vessel = profileToEnd(
      part,
      surfaces.get(part.name)!,
      lines.get(part.name),
      sac,
      definitions,
      findings,
    );
    if (vessel) followed.set(part.name, vessel);
  }
  const unnamed = endsOfParts(
    vesselParts,
    surfaces,
    { lines, fromSac, followed, branchParts },
    definitions.profileStepMm,
    findings,
  );
  joinParts(branchParts, surfaces, lines, followed, definitions, findings);

  const toFile = (p: Vec3): Vec3 => [p[0] + origin[0], p[1] + origin[1], p[2] + origin[2]];
  const vessels: VesselMeasure[] = [];
  for (const part of parts) {
    const vessel = followed.get(part.name);
    if (vessel) lookForNeighbour(vessel, surfaces.get(part.name)!, findings);
    if (vessel) vessels.push(describeVessel(vessel, definitions, frame, toFile));
  }
  const lesion: LesionMeasure = { vessels, neighbours: [], ...(unnamed && { unnamed }) };
  if (sac) lesion.sac = describeSac(sac.positions, sac.triangles, frame, toFile);
  return { lesion, surfaces, lines, findings };
}

/** Joins each branch to the followed vessel that it leaves, and follows it; adds findings on failures. */
function joinParts(
  branchParts: readonly PartSurface[],
  surfaces: Map<string, Surface>,
  lines: ReadonlyMap<string, VesselLine>,
  followed: Map<string, FollowedVessel>,
  definitions: MeasureDefinitions,
  findings: Finding[],
): void {
  for (const part of branchParts) {
    const parent = part.of === undefined ? undefined : followed.get(part.of);
    const own = lines.get(part.name);
    if (!own) continue;
    if (!parent) {
      const why =
        part.of === undefined ? 'it names no parent (`of`)' : `its parent ${part.of} was not measured`;
      const text = `${why}, so where it joins is not known: it is not measured`;
      findings.push(finding('caution', 'branch-not-joined', part.name, text));
      continue;
    }
    const vessel = profileToEnd(
      part,
      surfaces.get(part.name)!,
      own,
      surfaces.get(part.of!),
      definitions,
      findings,
    );
    const opening = openingOf(part, own, surfaces, parent);
    if (opening) parent.branches.push({ ...opening, calibreMm: own.calibreMm });
    else
      findings.push(
        finding('caution', 'branch-not-joined', part.name, `its opening on ${part.of} was not found`),
      );
    if (vessel) followed.set(part.name, vessel);
  }
}

/** Unnamed ends of the vessels' surfaces; one before the neck counts as a branch. Undefined if not searched for. */
function endsOfParts(
  vesselParts: readonly PartSurface[],
  surfaces: ReadonlyMap<string, Surface>,
  {
    lines,
    fromSac,
    followed,
    branchParts,
  }: {
    lines: ReadonlyMap<string, VesselLine>;
    fromSac: ReadonlyMap<string, SurfaceDistances>;
    followed: ReadonlyMap<string, FollowedVessel>;
    branchParts: readonly PartSurface[];
  },
  profileStepMm: number,
  findings: Finding[],
): LesionMeasure['unnamed'] {
  const names = new Set([...surfaces.keys()]);
  const all: UnnamedEnd[] = [];
  let of = 0;
  let number = 0;
  for (const { name } of vesselParts) {
    const vessel = followed.get(name);
    const distances = fromSac.get(name);
    if (!vessel || !distances) continue;
    const others = [...vesselParts, ...branchParts].filter((part) => part.name !== name);
    const taking = others.map((part) => surfaces.get(part.name)!);
    const surface = surfaces.get(name)!;
    const own = lines.get(name)!;
    const found = sideEnds(surface, own, distances, taking);
    of += found.all;
    const ends = found.loose.map(({ end, opening }): UnnamedEnd => {
      if (!opening || opening.atMm >= vessel.endMm) return { ...end, leadsTo: opening ? 'sac' : name };
      do number++;
      while (names.has(`unnamed-${number}`));
      const branch = `unnamed-${number}`;
      vessel.branches.push({ ...opening, name: branch });
      return { ...end, leadsTo: name, atMm: opening.atMm, branch };
    });
    if (vessel.branches.length > 0) {
      const range = { fromMm: 0, toMm: vessel.endMm, stepMm: profileStepMm };
      const open = openStretches(vessel.branches);
      vessel.profile = calibreProfile(surface, vessel.line, own.calibreMm, range, open);
    }
    ends.sort((a, b) => b.calibreMm - a.calibreMm);
    all.push(...ends);
    const cure = 'Give each its own surface and name in surfaces.parts, or remove it.';
    findings.push(...unnamedFindings(ends, found.all, name, cure));
  }
  return of === 0 ? undefined : { of, ends: all.sort((a, b) => b.calibreMm - a.calibreMm) };
}

/** Adds a finding if a neighbour is fused with a vessel; a stump of a branch that has its own surface is not one. */
function lookForNeighbour(vessel: FollowedVessel, surface: Surface, findings: Finding[]): void {
  const open = openStretches(vessel.branches);
  const isOpen = (at: number): boolean => open.some((o) => at >= o.fromMm && at <= o.toMm);
  const profile = vessel.profile.map((s) => (isOpen(s.atMm) ? { ...s, atOpening: true } : s));
  const crowded = crowdedStretches(profile, vessel.endMm);
  if (crowded.length === 0) return;
  vessel.crowded = crowded;
  findings.push(saysCrowded(vessel.name, crowded, surface, vessel.line));
}

function commonOrigin(parts: readonly PartSurface[]): Vec3 {
  const low: Vec3 = [Infinity, Infinity, Infinity];
  const high: Vec3 = [-Infinity, -Infinity, -Infinity];
  for (const { mesh } of parts)
    for (let i = 0; i < mesh.positions.length; i++) {
      const k = i % 3;
      if (mesh.positions[i] < low[k]) low[k] = mesh.positions[i];
      if (mesh.positions[i] > high[k]) high[k] = mesh.positions[i];
    }
  return [0, 1, 2].map((k) => (low[k] + high[k]) / 2) as Vec3;
}

/** Follows one tube from its far end; `distances` are those from the structure met by its near end. */
function followPart(
  part: PartSurface,
  surface: Surface,
  distances: SurfaceDistances,
  lines: Map<string, VesselLine>,
  findings: Finding[],
): void {
  const line = inStage('centreline', () => vesselCentreline(surface, distances));
  if (line) lines.set(part.name, line);
  else
    findings.push(
      finding(
        'stop',
        'vessel-not-followed',
        part.name,
        'no centreline could be followed through this surface: is it one tube, open or capped at both ends?',
      ),
    );
}

/** Distances along a vessel from the structure that it joins, or from any vertex if that has no surface. */
function distancesFrom(surface: Surface, joined: Surface | undefined): SurfaceDistances {
  return inStage('centreline', () => surfaceDistances(surface, joined ? verticesNear(surface, joined) : [0]));
}

/** Vertices inside the other surface or, if there are none, those nearest to it. */
function verticesNear(surface: Surface, other: Surface): number[] {
  const probe = new WallProbe(other);
  const inside: number[] = [];
  for (let v = 0; v < surface.vertexCount; v++) if (probe.isInside(surface.vertex(v))) inside.push(v);
  if (inside.length > 0) return inside;
  const least = nearestVertex(surface, other)?.distanceMm;
  if (least === undefined) return [];
  const near: number[] = [];
  for (let v = 0; v < surface.vertexCount; v++)
    if (probe.mayReach(surface.vertex(v), least + NEAR_MM)) near.push(v);
  return near;
}

/** Profile from the far end to the sac or parent. */
function profileToEnd(
  part: PartSurface,
  surface: Surface,
  own: VesselLine | undefined,
  joined: Surface | undefined,
  definitions: MeasureDefinitions,
  findings: Finding[],
): FollowedVessel | undefined {
  if (!own) return undefined;
  const neck = joined && neckOnSac(own.line, joined, own.calibreMm, definitions.largestNeckGapMm);
  const isBranch = part.role === 'branch';
  const target = isBranch ? (part.of ?? 'its parent') : 'the sac';
  const end = own.line.points[own.line.points.length - 1];
  if (joined && !neck)
    findings.push(
      finding(
        isBranch ? 'caution' : 'stop',
        isBranch ? 'branch-not-joined' : 'neck-not-found',
        part.name,
        `its centreline ends at ${pointText(surface.toFile(end))} mm and does not meet ${target}, even if extended by ${definitions.largestNeckGapMm} mm: ` +
          'check that both surfaces come from one scan and one unit, and that no neighbour is fused with it there',
      ),
    );
  if (joined && !neck && !isBranch) return undefined;
  if (neck && neck.gapMm > NEAR_MM)
    findings.push(
      finding(
        'note',
        'neck-gap',
        part.name,
        `its surface stops ${fixed(neck.gapMm, 1)} mm short of ${target}; the centreline was extended`,
      ),
    );
  const line = neck?.line ?? own.line;
  const endMm = neck?.atMm ?? own.line.lengthMm;
  const profile = calibreProfile(surface, line, own.calibreMm, {
    fromMm: 0,
    toMm: endMm,
    stepMm: definitions.profileStepMm,
  });
  if (profile.length < 3) {
    findings.push(
      finding(
        'stop',
        'vessel-not-followed',
        part.name,
        'fewer than three sections could be cut across this vessel',
      ),
    );
    return undefined;
  }
  const vessel: FollowedVessel = {
    name: part.name,
    role: part.role as FollowedVessel['role'],
    line,
    profile,
    endMm,
    meetsSac: neck !== undefined && !isBranch,
    branches: [],
    edgeMm: surface.meanEdgeMm(),
  };
  const bareFromMm = Math.max(0, endMm - (neck?.gapMm ?? 0));
  const walls = joined ? [surface, joined] : [surface];
  const fault =
    faultOfVessel(vessel, walls, own.calibreMm, definitions, bareFromMm) ??
    wayFault(surface, line.between(0, bareFromMm), own.calibreMm, definitions.wayRatio);
  if (fault) {
    findings.push(finding('stop', 'vessel-not-measured', part.name, `${fault}. It is not measured.`));
    return undefined;
  }
  return vessel;
}

function openingOf(
  part: PartSurface,
  own: VesselLine,
  surfaces: Map<string, Surface>,
  parent: FollowedVessel,
): BranchOpening | undefined {
  const range = branchOpening(surfaces.get(part.name)!, surfaces.get(parent.name)!, parent.line, NEAR_MM);
  if (!range) return undefined;
  const { atMm } = branchPlace(own.line, parent.line, own.calibreMm);
  return { name: part.name, atMm, ...range };
}
