import type { Manifold } from 'manifold-3d/manifold';
import type { Vec3 } from '../foundation/vector.js';
import { measure } from '../mesh/measures.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { findSelfIntersections } from '../mesh/self-intersection.js';
import { buildTopology, pinchedVertices } from '../mesh/topology.js';
import { type WeldResult, weld } from '../mesh/weld.js';
import { flipSlivers, sliversOf } from './flip-slivers.js';
import { in32Bits, meshOfSolid, type Workshop } from './workshop.js';

/** This program's own checks of a mesh, independent of the solid kernel. */
export interface SolidCheck {
  /** Closed, oriented, no edge used more than twice, no duplicate vertices, volume above 0. */
  isWatertight: boolean;
  volumeMm3: number;
  /** Crossing pairs of triangles. */
  crossings: number;
  /** False if the triangles are so dense that the search for crossings was abandoned. */
  isSearched: boolean;
  crossingAt?: Vec3;
  /** Vertices at which two bodies touch in a point. */
  pinched: number;
  /** Places where it crosses itself, or touches itself at a point or along an edge; at most a thousand. */
  faultsAt: Vec3[];
  degenerate: number;
  /** Triangles so narrow that a 32-bit reader computes a different normal; not a fault of the body. */
  slivers: number;
  bodies: number;
}

/** Height over longest edge below which a normal computed in 32 bits is off by a thousandth: 2^-24 · 2 / 0.001, rounded. */
const SLIVER_RATIO = 1e-4;

/** Examines a mesh as a slicer will read it: with 32-bit coordinates and equal vertices joined. */
export function checkMesh(mesh: TriangleMesh): SolidCheck {
  const read = readAs32Bits(mesh);
  const topology = buildTopology(read.mesh, read.pairing);
  const lost = read.collapsedTriangles.length + read.duplicateTriangles.length;
  const volumeMm3 = measure(read.mesh).volumeMm3;
  const found = findSelfIntersections(read.mesh, { most: 100 });
  const pinched = pinchedVertices(read.mesh, topology);
  const touching = [...new Set([...pinched, ...topology.nonManifoldEdges])].sort((a, b) => a - b);
  return {
    isWatertight: topology.isWatertight && lost === 0 && volumeMm3 > 0,
    volumeMm3,
    crossings: found.count,
    isSearched: found.isComplete,
    crossingAt: found.points[0],
    pinched: pinched.length,
    faultsAt: [...touching.map((v) => vertexAt(read.mesh, v)), ...found.points].slice(0, MOST_FAULTS),
    degenerate: topology.degenerateTriangles.length + lost,
    slivers: sliversOf(read.mesh, SLIVER_RATIO).length,
    bodies: topology.componentSizes.length,
  };
}

const MOST_FAULTS = 1000;

const vertexAt = ({ positions }: TriangleMesh, v: number): Vec3 => [
  positions[3 * v],
  positions[3 * v + 1],
  positions[3 * v + 2],
];

export const isClean = (check: SolidCheck): boolean =>
  check.isWatertight &&
  check.isSearched &&
  check.crossings === 0 &&
  check.pinched === 0 &&
  check.degenerate === 0;

/** Tolerances tried in turn until these checks pass, mm: shorter edges are collapsed. Far below any printer's resolution. */
const SIMPLIFY_MM = [0.001, 0.002, 0.004, 0.008, 0.016, 0.03];

/** Limit of coarsening for slivers alone, which are not a fault, mm. */
const SLIVER_LIMIT_MM = 0.008;
/** Then vertices within this distance are joined first, mm, for surfaces that almost coincide. */
const JOIN_MM = [0.002, 0.005, 0.01, 0.02];

/**
 * The mesh of a solid that passes these checks, or the best one found. Every mesh returned was searched completely for crossings. If
 * slivers are the only fault, a looser candidate is used only if it has fewer of them.
 */
export function cleanMesh(
  workshop: Workshop,
  solid: Manifold,
  fromMm = 0,
): { mesh: TriangleMesh; check: SolidCheck } {
  let best: { mesh: TriangleMesh; check: SolidCheck } | undefined;
  const whole = plain(workshop, solid);
  const simplified = (from: Manifold, toleranceMm: number): TriangleMesh =>
    flipSlivers(withoutLost(meshOfSolid(workshop.keep(from.simplify(toleranceMm)))), SLIVER_RATIO);
  const attempt = (mesh: TriangleMesh): boolean => {
    workshop.work.spend(CHECK_STEPS * (mesh.triangles.length / 3));
    const check = checkMesh(mesh);
    if (!best || faults(check) < faults(best.check)) best = { mesh, check };
    return isClean(best.check);
  };
  for (const tolerance of SIMPLIFY_MM.filter((mm) => mm >= fromMm)) {
    if (!attempt(simplified(whole, tolerance))) continue;
    if (best!.check.slivers > 0 && tolerance < SLIVER_LIMIT_MM) {
      const looser = simplified(whole, SLIVER_LIMIT_MM);
      if (sliversOf(looser, SLIVER_RATIO).length < best!.check.slivers) attempt(looser);
    }
    return best!;
  }
  const volume = solid.volume();
  for (const toleranceMm of JOIN_MM) {
    const joined = weld(meshOfSolid(solid), toleranceMm).mesh;
    if (!buildTopology(joined).isWatertight) continue;
    const again = workshop.solid(joined);
    if (Math.abs(again.volume() - volume) > JOIN_VOLUME * volume) continue;
    if (attempt(simplified(plain(workshop, again), toleranceMm))) return best!;
  }
  for (const radiusMm of BRIDGE_MM) {
    const { faultsAt } = best!.check;
    if (faultsAt.length === 0) break;
    const bridges = faultsAt.map((p) => workshop.sphere(p, radiusMm, BRIDGE_SEGMENTS));
    const bridged = plain(workshop, workshop.union([solid, ...bridges]));
    if (BRIDGED_MM.some((toleranceMm) => attempt(simplified(bridged, toleranceMm)))) break;
  }
  return best!;
}

/** As a last resort, small balls fuse parts that touch or almost coincide, mm; finer than any printer. */
const BRIDGE_MM = [0.03, 0.06, 0.1, 0.15];
const BRIDGED_MM = [0.001, 0.004, 0.016];
const BRIDGE_SEGMENTS = 8;

/** Without triangles in which two corners become one point in 32 bits; a mesh that has none is returned as it is. */
export function withoutLost(mesh: TriangleMesh): TriangleMesh {
  const read = readAs32Bits(mesh);
  return read.collapsedTriangles.length > 0 && read.duplicateTriangles.length === 0 ? read.mesh : mesh;
}

const asRead = new WeakMap<TriangleMesh, WeldResult>();

/** A mesh with 32-bit coordinates and equal vertices joined; cached, because a candidate is read before and after slivers are flipped. */
function readAs32Bits(mesh: TriangleMesh): WeldResult {
  let read = asRead.get(mesh);
  if (!read) {
    read = weld({ positions: in32Bits(mesh.positions), triangles: mesh.triangles });
    asRead.set(mesh, read);
  }
  return read;
}

/** Work steps per triangle for simplifying a body and checking it. */
const CHECK_STEPS = 8;

/** Share of the volume that joining vertices may change. */
const JOIN_VOLUME = 1e-3;

/** The solid without the identity of its sources, so that seams between them can be collapsed too. */
const plain = (workshop: Workshop, solid: Manifold): Manifold => workshop.keep(solid.asOriginal());

const faults = (check: SolidCheck): number =>
  (check.isWatertight ? 0 : 1e9) +
  1e4 * ((check.isSearched ? 0 : 1) + check.crossings + check.pinched + check.degenerate) +
  check.slivers;
