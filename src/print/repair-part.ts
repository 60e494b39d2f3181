import type { Manifold } from 'manifold-3d/manifold';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed, pointText } from '../foundation/number-text.js';
import type { Vec3 } from '../foundation/vector.js';
import { CAP_PLANARITY_FRACTION, capPlanarLoops } from '../mesh/cap.js';
import type { EdgePairing } from '../mesh/edge-pairing.js';
import { type BoundingBox, boundingBox, boxesMeet, measure } from '../mesh/measures.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { type OrientResult, orient } from '../mesh/orient.js';
import { findSelfIntersections } from '../mesh/self-intersection.js';
import { buildTopology, type Topology } from '../mesh/topology.js';
import { weld } from '../mesh/weld.js';
import { fillSkewLoop } from './fill-loop.js';
import { remeshCrossings } from './remesh-crossings.js';
import { in32Bits, type Workshop } from './workshop.js';

/** A structure made solid. */
export interface RepairedPart {
  /** Absent if the surface could not be mended; a finding says why. */
  body?: Manifold;
  /** Loose pieces of the same file, largest first. */
  fragments: Manifold[];
  /** One sentence for each change. */
  repairs: string[];
  findings: Finding[];
}

const topologies = new WeakMap<TriangleMesh, Topology>();

/** The topology of a mesh, cached because most mending steps change nothing and pass on the same mesh. */
function topologyOf(mesh: TriangleMesh, pairing?: EdgePairing): Topology {
  const topology = topologies.get(mesh) ?? buildTopology(mesh, pairing);
  topologies.set(mesh, topology);
  return topology;
}

/** Number of rounds of removing triangles at edges shared by more than two. */
const MOST_ROUNDS = 3;

/** Limits on pieces and openings of a printable surface; a segmentation has a few. */
const MOST_PIECES = 500;
const MOST_OPENINGS = 2000;
/** Limit on work steps for mending the crossings of one structure. */
const MOST_STEPS = 12_000_000;

/** Work steps per triangle for mending a structure, and for extracting one of its pieces. */
const MEND_STEPS = 8;
const PICK_STEPS = 0.3;
/** Work steps per triangle of two pieces with overlapping boxes: joining them may cut each against the other. */
const CROSS_STEPS = 15;

/**
 * Makes one closed solid from a surface in print coordinates: joins vertices, removes triangles at edges shared by more than two, turns
 * triangles outwards, fills holes and inner cavities, and rebuilds the surface where it crosses itself. Every change is listed. `isStop`:
 * a structure that cannot be mended is a stop.
 */
export async function repairPart(
  workshop: Workshop,
  part: { name: string; mesh: TriangleMesh; isStop: boolean },
  largestHoleMm: number,
): Promise<RepairedPart> {
  const out: RepairedPart = { fragments: [], repairs: [], findings: [] };
  const say = (level: Finding['level'], id: string, text: string): void => {
    out.findings.push(finding(level, id, part.name, text));
    out.repairs.push(text);
  };
  const fail = (why: string): RepairedPart => {
    const text = `${why} It is left out of the print; mend the surface where it was segmented.`;
    out.findings.push(finding(part.isStop ? 'stop' : 'caution', 'print-part-left-out', part.name, text));
    return out;
  };
  workshop.work.doing = `mending ${part.name}`;
  workshop.work.spend(MEND_STEPS * (part.mesh.triangles.length / 3));
  let mesh = withoutSharedEdges(joinVertices(part.mesh, say), say);
  if (mesh.triangles.length === 0) return fail('No triangle is left after joining vertices.');
  const { componentSizes, loops } = topologyOf(mesh);
  if (componentSizes.length > MOST_PIECES)
    return fail(
      `The surface falls into ${componentSizes.length} loose pieces, more than the ${MOST_PIECES} that are mended.`,
    );
  if (loops.length > MOST_OPENINGS)
    return fail(`The surface has ${loops.length} openings, more than the ${MOST_OPENINGS} that are mended.`);
  const asJoined = mesh;
  const oriented = turned(mesh, say);
  mesh = fillHoles(oriented.mesh, largestHoleMm, say);
  const topology = topologyOf(mesh);
  if (!topology.isWatertight) {
    const loop = topology.loops[0];
    const where = loop
      ? ` An opening of ${fixed(loop.equivalentDiameterMm, 1)} mm at ${place(loop.centroid)} stays open.`
      : '';
    return fail(`The surface could not be closed.${where}`);
  }
  const { componentVolumesMm3, cavities } = mesh === asJoined ? oriented : orient(mesh, topology);
  const pieces = [...componentVolumesMm3.keys()]
    .filter((c) => !cavities.includes(c))
    .sort((a, b) => componentVolumesMm3[b] - componentVolumesMm3[a] || a - b);
  if (cavities.length > 0) {
    const volume = -cavities.reduce((sum, c) => sum + componentVolumesMm3[c], 0);
    say(
      'note',
      'print-cavity-filled',
      `${cavities.length === 1 ? 'An inner cavity' : `${cavities.length} inner cavities`} of ${fixed(volume, 2)} mm³ ${cavities.length === 1 ? 'was' : 'were'} filled.`,
    );
  }
  const budget = { steps: MOST_STEPS };
  const before: { box: BoundingBox; triangles: number }[] = [];
  for (const c of pieces) {
    workshop.work.spend(PICK_STEPS * topology.component.length);
    const piece = componentMesh(mesh, topology.component, c);
    // pieces that may cross are cut against each other when they are joined
    const own = { box: boundingBox(piece), triangles: piece.triangles.length / 3 };
    for (const other of before)
      if (boxesMeet(own.box, other.box)) workshop.work.spend(CROSS_STEPS * (own.triangles + other.triangles));
    before.push(own);
    try {
      const solid = await uncrossed(workshop, piece, budget, say);
      if (!solid)
        return fail(
          'The surface crosses itself in so many places that mending it was given up after a fixed amount of work.',
        );
      out.fragments.push(solid);
    } catch (error) {
      if (!(error instanceof Error) || error.name === 'TypeError') throw error;
      return fail(`The solid kernel refuses the surface (${error.message}).`);
    }
  }
  out.body = out.fragments.shift();
  return out;
}

type Say = (level: Finding['level'], id: string, text: string) => void;

function joinVertices(mesh: TriangleMesh, say: Say): TriangleMesh {
  const exact = weld({
    positions: in32Bits(mesh.positions),
    triangles: mesh.triangles,
  });
  const lost = exact.collapsedTriangles.length + exact.duplicateTriangles.length;
  if (lost > 0)
    say('note', 'print-triangles-removed', `${lost} triangles without area or occurring twice were removed.`);
  if (topologyOf(exact.mesh, exact.pairing).loops.length === 0) return exact.mesh;
  const near = weld(exact.mesh, JOIN_MM);
  const openBefore = rimEdges(exact.mesh);
  const openAfter = rimEdges(near.mesh);
  if (near.mergedVertices === 0 || openAfter >= openBefore) return exact.mesh;
  say(
    'note',
    'print-vertices-joined',
    `${near.mergedVertices} vertices no more than ${JOIN_MM} mm apart were joined: open edges ${openBefore} before, ${openAfter} after.`,
  );
  return near.mesh;
}

/** Vertices closer than this are joined, mm; far below any printer's resolution. */
const JOIN_MM = 0.005;

const rimEdges = (mesh: TriangleMesh): number =>
  topologyOf(mesh).loops.reduce((sum, loop) => sum + loop.halfEdges.length, 0);

/** Removes every triangle at an edge shared by more than two triangles; the holes are filled afterwards. */
function withoutSharedEdges(start: TriangleMesh, say: Say): TriangleMesh {
  let mesh = start;
  let removed = 0;
  for (let round = 0; round < MOST_ROUNDS; round++) {
    const { nonManifoldEdges } = topologyOf(mesh);
    if (nonManifoldEdges.length === 0) break;
    const key = (a: number, b: number): string => (a < b ? `${a} ${b}` : `${b} ${a}`);
    const bad = new Set<string>();
    for (let i = 0; i < nonManifoldEdges.length; i += 2)
      bad.add(key(nonManifoldEdges[i], nonManifoldEdges[i + 1]));
    const { triangles } = mesh;
    const kept: number[] = [];
    for (let t = 0; t < triangles.length; t += 3) {
      const [a, b, c] = [triangles[t], triangles[t + 1], triangles[t + 2]];
      if (bad.has(key(a, b)) || bad.has(key(b, c)) || bad.has(key(c, a))) removed++;
      else kept.push(a, b, c);
    }
    mesh = { positions: mesh.positions, triangles: Uint32Array.from(kept) };
  }
  if (removed > 0)
    say(
      'caution',
      'print-edges-mended',
      `${removed} triangles at edges shared by more than two triangles were removed and the holes filled.`,
    );
  return mesh;
}

function turned(mesh: TriangleMesh, say: Say): OrientResult {
  const oriented = orient(mesh, topologyOf(mesh));
  const count = oriented.disagreeingTriangles.length;
  if (count > 0) say('note', 'print-triangles-turned', `${count} triangles facing inwards were turned.`);
  if (oriented.turnedComponents.length > 0)
    say(
      'note',
      'print-triangles-turned',
      `${oriented.turnedComponents.length} connected pieces were inside out and were turned.`,
    );
  return oriented;
}

function fillHoles(start: TriangleMesh, largestHoleMm: number, say: Say): TriangleMesh {
  const { loops } = topologyOf(start);
  if (loops.length === 0) return start;
  const planar = capPlanarLoops(start, loops, { planarityFraction: CAP_PLANARITY_FRACTION });
  for (const { loop } of planar.caps)
    say(
      'note',
      'print-hole-filled',
      `An opening ${fixed(loops[loop].equivalentDiameterMm, 2)} mm across at ${place(loops[loop].centroid)} was closed by a plane.`,
    );
  let { mesh } = planar;
  for (const { loop: index } of planar.refused) {
    const loop = loops[index];
    if (!loop.closed || loop.equivalentDiameterMm > largestHoleMm) continue;
    const filled = fillSkewLoop(mesh, loop);
    if (!filled) continue;
    mesh = filled;
    say(
      'caution',
      'print-hole-filled',
      `A hole ${fixed(loop.equivalentDiameterMm, 2)} mm across at ${place(loop.centroid)}, out of one plane by ${fixed(loop.planarityMm, 2)} mm, was filled: the wall there is invented.`,
    );
  }
  return mesh;
}

function componentMesh(mesh: TriangleMesh, component: Uint32Array, c: number): TriangleMesh {
  const triangles: number[] = [];
  for (let t = 0; t < component.length; t++)
    if (component[t] === c)
      triangles.push(mesh.triangles[3 * t], mesh.triangles[3 * t + 1], mesh.triangles[3 * t + 2]);
  return weld({ positions: mesh.positions, triangles: Uint32Array.from(triangles) }).mesh;
}

async function uncrossed(
  workshop: Workshop,
  mesh: TriangleMesh,
  budget: { steps: number },
  say: Say,
): Promise<Manifold | undefined> {
  const outward = measure(mesh).volumeMm3 < 0 ? flipped(mesh) : mesh;
  const solid = workshop.solid(outward);
  const found = findSelfIntersections(outward);
  if (found.count === 0) return found.isComplete ? solid : undefined;
  const mended = await remeshCrossings(workshop, solid, outward, found.pairs, budget);
  if (!mended) return undefined;
  const before = fixed(measure(outward).volumeMm3, 1);
  say(
    'caution',
    'print-crossing-mended',
    `The surface crossed itself in ${found.isCapped ? 'more than ' : ''}${found.count} pairs of triangles, the first at ${place(found.points[0])}; within ${mended.boxes} ${mended.boxes === 1 ? 'box' : 'boxes'} (${fixed(mended.boxVolumeMm3, 1)} mm³) it was rebuilt from its outer side in steps of ${fixed(mended.stepMm, 2)} mm. Volume ${before} mm³ before, with overlaps counted twice, ${fixed(mended.solid.volume(), 1)} mm³ after.`,
  );
  return mended.solid;
}

function flipped(mesh: TriangleMesh): TriangleMesh {
  const triangles = mesh.triangles.slice();
  for (let t = 0; t < triangles.length; t += 3)
    [triangles[t + 1], triangles[t + 2]] = [triangles[t + 2], triangles[t + 1]];
  return { positions: mesh.positions, triangles };
}

/** `[1.0, 2.0, 3.0] mm`, for findings and repairs. */
export const place = (p: Vec3): string => `${pointText(p)} mm`;
