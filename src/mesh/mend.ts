import { fillLoop } from './fill-loop.js';
import type { MendedCrack } from './mended-crack.js';
import type { TriangleMesh } from './mesh.js';
import { buildTopology, type Topology } from './topology.js';
import { zipSeams } from './zip-seams.js';

export interface Mended {
  mesh: TriangleMesh;
  topology: Topology;
  /** Widest first. */
  cracks: MendedCrack[];
  addedTriangles: number;
}

/**
 * Greatest number of rounds: closing a seam can leave a small hole where three rims meet, which the next round fills. Numerical setting.
 */
const ROUNDS = 3;

/**
 * Closes the cracks of an oriented surface in which no circle wider than `widthMm` fits: whole loops, and seams along which two rims of
 * one or two loops face each other. Triangles are added between the rims; no vertex is moved or added. Wider openings stay open.
 */
export function mendCracks(mesh: TriangleMesh, topology: Topology, widthMm: number): Mended {
  const cracks: MendedCrack[] = [];
  let now = { mesh, topology };
  for (let round = 0; round < ROUNDS && now.topology.loops.length > 0; round++) {
    const filled = fillNarrowLoops(now.mesh, now.topology, widthMm, cracks);
    if (filled.length > 0) now = withFaces(now.mesh, filled);
    if (now.topology.loops.length === 0) break;
    const zipped = zipSeams(now.mesh, now.topology, widthMm, rimEdgeTest(now.mesh, now.topology));
    if (zipped.faces.length === 0) break;
    cracks.push(...zipped.seams);
    now = withFaces(now.mesh, zipped.faces);
  }
  cracks.sort((a, b) => b.widthMm - a.widthMm);
  return { ...now, cracks, addedTriangles: (now.mesh.triangles.length - mesh.triangles.length) / 3 };
}

/** Width of each open loop, mm: the diameter of the largest circle that fits in. Absent if the loop cannot be filled. */
export function loopWidths(mesh: TriangleMesh, topology: Topology): (number | undefined)[] {
  if (topology.loops.length === 0) return [];
  const isEdge = rimEdgeTest(mesh, topology);
  return topology.loops.map((loop) => fillLoop(mesh, loop, isEdge)?.widthMm);
}

function fillNarrowLoops(
  mesh: TriangleMesh,
  topology: Topology,
  widthMm: number,
  cracks: MendedCrack[],
): number[] {
  const isEdge = rimEdgeTest(mesh, topology);
  const faces: number[] = [];
  for (const loop of topology.loops) {
    const fill = fillLoop(mesh, loop, isEdge);
    if (!fill || fill.widthMm > widthMm) continue;
    for (const v of fill.faces) faces.push(v);
    cracks.push({ point: loop.centroid, widthMm: fill.widthMm, lengthMm: loop.perimeterMm / 2 });
  }
  return faces;
}

function withFaces(mesh: TriangleMesh, faces: readonly number[]): { mesh: TriangleMesh; topology: Topology } {
  const triangles = new Uint32Array(mesh.triangles.length + faces.length);
  triangles.set(mesh.triangles);
  triangles.set(faces, mesh.triangles.length);
  const joined = { positions: mesh.positions, triangles };
  return { mesh: joined, topology: buildTopology(joined) };
}

/** Tests whether two vertices of rims are joined by an edge of the surface. */
function rimEdgeTest(mesh: TriangleMesh, topology: Topology): (a: number, b: number) => boolean {
  const count = mesh.positions.length / 3;
  const onRim = new Uint8Array(count);
  for (const loop of topology.loops) for (const v of loop.vertices) onRim[v] = 1;
  const key = (a: number, b: number): number => (a < b ? a * count + b : b * count + a);
  const edges = new Set<number>();
  const { triangles } = mesh;
  for (let t = 0; t < triangles.length; t += 3)
    for (let k = 0; k < 3; k++) {
      const a = triangles[t + k];
      const b = triangles[t + ((k + 1) % 3)];
      if (onRim[a] && onRim[b]) edges.add(key(a, b));
    }
  return (a, b) => edges.has(key(a, b));
}
