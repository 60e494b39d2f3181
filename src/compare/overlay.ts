import { isVesselRole } from '../case/vocabulary.js';
import { fixed } from '../foundation/number-text.js';
import { subtract, type Vec3 } from '../foundation/vector.js';
import { distancesBothWays } from '../geometry/register/distances-both-ways.js';
import {
  placedMesh,
  type Registration,
  type RegistrationRules,
  registerSurfaces,
} from '../geometry/register/register-surfaces.js';
import type { RigidPose } from '../geometry/register/rigid-pose.js';
import { signedDistanceTo } from '../geometry/register/surface-distance.js';
import { Surface } from '../geometry/surface.js';
import { boundingBox } from '../mesh/measures.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { numberOf, type Rules } from '../rules/rule.js';
import type { VesselMatch } from './match-vessels.js';

/** The surfaces of one scan. */
export interface OverlaySide {
  /** mm, in the axes of the file. */
  structures: readonly { name: string; role: string; mesh: TriangleMesh }[];
  frame: 'LPS' | 'RAS' | 'unknown';
  scan: { sliceThicknessMm?: number; inPlaneMm?: number };
}

/** How far one structure's surface has moved from its old place. */
export interface OverlayRow {
  name: string;
  oldName: string;
  /** Mean over the new surface, mm; positive: outside the old one. */
  meanMm: number;
  rmsMm: number;
  p95Mm: number;
  /** Farthest outside and inside, mm, of the points compared; 0 if there is none. */
  outwardMm: number;
  inwardMm: number;
  /** Both ways, mm. */
  hausdorffMm: number;
  /** Share of the new surface beyond the limit; absent if no limit is known. */
  beyondLimit?: number;
}

/** The new scan's surfaces laid over the old ones. */
export interface Overlay {
  /** What the pose depends on. */
  basis: string;
  pose: RigidPose;
  turnDeg: number;
  misfitMm: number;
  points: number;
  iterations: number;
  converged: boolean;
  /** Distance below which a wall cannot be said to have moved, mm; absent if a scan does not state its voxel size. */
  limitMm?: number;
  rows: OverlayRow[];
  notes: string[];
  /** Files written next to the document. */
  figures: string[];
}

/** One structure in both scans, the new one placed on the old. */
export interface OverlayPair {
  old: TriangleMesh;
  placed: TriangleMesh;
}

export interface LaidOver {
  overlay: Overlay;
  pairs: OverlayPair[];
  /** Structures in one scan only, in the old scan's coordinates. */
  onlyOld: TriangleMesh[];
  onlyNew: TriangleMesh[];
}

/** Why there is no pose; `isMirrored` if only the mirror image of the new surfaces fits. */
export interface NotLaidOver {
  absentBecause: string;
  isMirrored?: boolean;
}

/** A triangle of one whole surface belongs to the sac if its middle is within this distance of the sac's body, mm. */
const AT_SAC_MM = 1;

/**
 * Lays the new scan's lesion over the old one by rotation and translation. The pose depends on the vessels that both scans have, since
 * the sac grows or shrinks, or on everything if vessels alone do not determine it. Gives the reason if there is no pose.
 */
export function layOver(
  old: OverlaySide,
  now: OverlaySide,
  matches: readonly VesselMatch[],
  rules: Pick<Rules, 'byId'>,
  registration: RegistrationRules,
): LaidOver | NotLaidOver {
  const moved = inFrameOf(old, now);
  const pairs = pairsOf(old, moved, matches);
  if (pairs.length === 0)
    return { absentBecause: 'the two scans have no structure in common that is given as a surface' };
  const failures: string[] = [];
  let isMirrored = false;
  for (const [basis, fixedMesh, movingMesh] of basesOf(pairs)) {
    const found = registerSurfaces(fixedMesh, movingMesh, registration);
    if (found?.verdict === 'placed') return laidOver(basis, found, { old, moved, pairs, rules });
    isMirrored ||= found?.verdict === 'mirrored';
    failures.push(`${basis}: ${found?.because ?? 'there is no surface'}`);
  }
  return { absentBecause: `no pose is accepted (${failures.join('; ')})`, ...(isMirrored && { isMirrored }) };
}

interface Pair {
  name: string;
  oldName: string;
  role: string;
  old: TriangleMesh;
  now: TriangleMesh;
}

/** The new side in the patient axes of the old one, if both are known. */
function inFrameOf(old: OverlaySide, now: OverlaySide): OverlaySide {
  if (old.frame === now.frame || old.frame === 'unknown' || now.frame === 'unknown') return now;
  // LPS and RAS differ by half a turn about the long axis
  const turn: RigidPose = {
    rotation: [
      [-1, 0, 0],
      [0, -1, 0],
      [0, 0, 1],
    ],
    translationMm: [0, 0, 0],
  };
  return {
    ...now,
    frame: old.frame,
    structures: now.structures.map((one) => ({ ...one, mesh: placedMesh(one.mesh, turn) })),
  };
}

function pairsOf(old: OverlaySide, now: OverlaySide, matches: readonly VesselMatch[]): Pair[] {
  const of = (side: OverlaySide, role: string) => side.structures.find((one) => one.role === role);
  const named = (side: OverlaySide, name: string | undefined) =>
    side.structures.find((one) => one.name === name && isVesselRole(one.role));
  const pairs: Pair[] = [];
  for (const { oldName, newName } of matches) {
    const [a, b] = [named(old, oldName), named(now, newName)];
    if (a && b) pairs.push({ name: b.name, oldName: a.name, role: a.role, old: a.mesh, now: b.mesh });
  }
  for (const role of ['whole', 'sac']) {
    const [a, b] = [of(old, role), of(now, role)];
    if (a && b) pairs.push({ name: b.name, oldName: a.name, role, old: a.mesh, now: b.mesh });
  }
  return pairs;
}

/** Candidate surfaces for the pose, the best first: description, old and new surface. */
function basesOf(pairs: readonly Pair[]): [string, TriangleMesh, TriangleMesh][] {
  const vessels = pairs.filter(({ role }) => isVesselRole(role));
  const whole = pairs.find(({ role }) => role === 'whole');
  const sac = pairs.find(({ role }) => role === 'sac');
  const bases: [string, TriangleMesh, TriangleMesh][] = [];
  if (vessels.length > 1)
    bases.push([
      `the vessels that both scans have (${vessels.map(({ name }) => name).join(', ')}), without the sac`,
      joined(vessels.map((pair) => pair.old)),
      joined(vessels.map((pair) => pair.now)),
    ]);
  if (whole && sac)
    bases.push([
      'the vessels of the one surface, without the sac',
      withoutSac(whole.old, sac.old),
      withoutSac(whole.now, sac.now),
    ]);
  if (whole) bases.push(['the whole surface with the sac', whole.old, whole.now]);
  else
    bases.push([
      `everything that both scans have (${pairs.map(({ name }) => name).join(', ')})`,
      joined(pairs.map((pair) => pair.old)),
      joined(pairs.map((pair) => pair.now)),
    ]);
  return bases;
}

function joined(meshes: readonly TriangleMesh[]): TriangleMesh {
  const positions = new Float64Array(meshes.reduce((sum, m) => sum + m.positions.length, 0));
  const triangles = new Uint32Array(meshes.reduce((sum, m) => sum + m.triangles.length, 0));
  let [p, t] = [0, 0];
  for (const mesh of meshes) {
    positions.set(mesh.positions, p);
    for (const v of mesh.triangles) triangles[t++] = v + p / 3;
    p += mesh.positions.length;
  }
  return { positions, triangles };
}

/** The triangles of one whole surface that are not on the sac. */
function withoutSac({ positions: p, triangles }: TriangleMesh, sac: TriangleMesh): TriangleMesh {
  const { centre } = boundingBox(sac);
  const surface = new Surface(sac, centre);
  const kept: number[] = [];
  for (let t = 0; t < triangles.length; t += 3) {
    const corners = [triangles[t], triangles[t + 1], triangles[t + 2]];
    const middle = [0, 1, 2].map((k) => corners.reduce((sum, v) => sum + p[3 * v + k], 0) / 3) as Vec3;
    if (signedDistanceTo(surface, subtract(middle, centre)) > AT_SAC_MM) kept.push(...corners);
  }
  return { positions: p, triangles: Uint32Array.from(kept) };
}

/** The distances of each structure in an accepted pose. */
export function laidOver(
  basis: string,
  found: Registration,
  {
    old,
    moved,
    pairs,
    rules,
  }: {
    old: OverlaySide;
    moved: OverlaySide;
    pairs: readonly Pair[];
    rules: Pick<Rules, 'byId'>;
  },
): LaidOver {
  const limitMm = changeLimit(old, moved, numberOf(rules, 'overlay-change-voxels'));
  const rows = pairs.map((pair) => rowOf(pair, found.pose, limitMm));
  // a sac given in addition to one whole surface is part of it and is not drawn twice
  const drawn = pairs.filter(({ role }) => role !== 'sac' || !pairs.some((one) => one.role === 'whole'));
  const rest = (side: OverlaySide, names: ReadonlySet<string>): TriangleMesh[] =>
    side.structures
      .filter(({ name, role }) => isVesselRole(role) && !names.has(name))
      .map(({ mesh }) => mesh);
  return {
    overlay: {
      basis,
      pose: found.pose,
      turnDeg: found.turnDeg,
      misfitMm: found.misfitMm,
      points: found.points,
      iterations: found.iterations,
      converged: found.converged,
      ...(limitMm !== undefined && { limitMm }),
      rows,
      notes: notesOf(old, moved, found, limitMm, numberOf(rules, 'overlay-largest-turn')),
      figures: [],
    },
    pairs: drawn.map((pair) => ({ old: pair.old, placed: placedMesh(pair.now, found.pose) })),
    onlyOld: rest(old, new Set(pairs.map(({ oldName }) => oldName))),
    onlyNew: rest(moved, new Set(pairs.map(({ name }) => name))).map((mesh) => placedMesh(mesh, found.pose)),
  };
}

/** The coarser scan's largest voxel edge times the rule's multiple; undefined if a scan does not state its voxel size. */
function changeLimit(old: OverlaySide, now: OverlaySide, voxels: number): number | undefined {
  const edges = [old, now].map(({ scan: { sliceThicknessMm, inPlaneMm } }) =>
    sliceThicknessMm === undefined && inPlaneMm === undefined
      ? undefined
      : Math.max(sliceThicknessMm ?? 0, inPlaneMm ?? 0),
  );
  const [a, b] = edges;
  return a === undefined || b === undefined ? undefined : voxels * Math.max(a, b);
}

function rowOf(pair: Pair, pose: RigidPose, limitMm: number | undefined): OverlayRow {
  const asked = (mesh: TriangleMesh) => ({ mesh, surface: new Surface(mesh, boundingBox(mesh).centre) });
  const { movingToFixed, movingPoints, hausdorffMm } = distancesBothWays(
    asked(pair.old),
    asked(pair.now),
    pose,
  );
  const signed = movingPoints.signedMm;
  return {
    name: pair.name,
    oldName: pair.oldName,
    meanMm: movingToFixed.biasMm,
    rmsMm: movingToFixed.rmsMm,
    p95Mm: movingToFixed.p95Mm,
    outwardMm: signed.reduce((a, b) => Math.max(a, b), 0),
    inwardMm: -signed.reduce((a, b) => Math.min(a, b), 0),
    hausdorffMm,
    ...(limitMm !== undefined && {
      beyondLimit: signed.reduce((n, d) => n + (Math.abs(d) > limitMm ? 1 : 0), 0) / signed.length,
    }),
  };
}

function notesOf(
  old: OverlaySide,
  now: OverlaySide,
  found: Registration,
  limitMm: number | undefined,
  largestTurnDeg: number,
): string[] {
  const notes: string[] = [];
  if (old.frame === 'unknown' || now.frame === 'unknown')
    notes.push(
      'The patient axes of a scan are unknown, so it is not judged how far the pose turns the patient.',
    );
  else if (found.turnDeg > largestTurnDeg)
    notes.push(
      `The pose turns the patient by ${fixed(found.turnDeg, 0)}°; more than ${fixed(largestTurnDeg, 0)}° between two scans is doubtful. Check the frames of both cases and look at the pictures before drawing conclusions.`,
    );
  if (!found.converged) notes.push('The pose did not converge: do not trust the distances.');
  if (limitMm === undefined)
    notes.push(
      'A scan does not state its voxel size, so it is unknown which distances exceed the error of the scans.',
    );
  return notes;
}
