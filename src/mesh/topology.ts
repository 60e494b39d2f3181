import { type BoundaryLoop, boundaryLoops } from './boundary-loops.js';
import { type EdgePairing, pairEdges, UNPAIRED } from './edge-pairing.js';
import type { TriangleMesh } from './mesh.js';
import { meshKernel } from './mesh-kernel.js';

/** How the triangles of a welded mesh are connected. */
export interface Topology extends EdgePairing {
  /** Open ends, ordered by their lowest half-edge. */
  loops: BoundaryLoop[];
  /** Triangles with a repeated vertex or with a height below `DEGENERATE_HEIGHT_RATIO` of their longest edge. */
  degenerateTriangles: number[];
  /** No open end, no edge used more than twice, no inconsistent edge. Faces may still cross. */
  isWatertight: boolean;
}

/** A triangle flatter than this (height over longest edge) has no usable normal at the precision of a mesh file. */
const DEGENERATE_HEIGHT_RATIO = 1e-6;

/**
 * Half-edge topology of a welded mesh: `twin[h]` is the half-edge opposite h, -1 on a rim, -2 if the edge is used by more than two
 * triangles or its triangle repeats a vertex. Linear in triangles. `pairing`: if already available.
 */
export function buildTopology(mesh: TriangleMesh, pairing: EdgePairing = pairEdges(mesh)): Topology {
  const loops = boundaryLoops(mesh, pairing.twin);
  const isWatertight =
    mesh.triangles.length > 0 &&
    loops.length === 0 &&
    pairing.nonManifoldEdges.length === 0 &&
    pairing.inconsistentEdges.length === 0;
  return { ...pairing, loops, degenerateTriangles: degenerateTriangles(mesh), isWatertight };
}

function degenerateTriangles(mesh: TriangleMesh): number[] {
  const limit = DEGENERATE_HEIGHT_RATIO * DEGENERATE_HEIGHT_RATIO;
  return meshKernel(mesh)?.degenerateTriangles(mesh, limit) ?? degeneratePlainly(mesh, limit);
}

/** Triangles whose height over the longest edge, squared, is at most `limit`. */
export function degeneratePlainly({ positions, triangles }: TriangleMesh, limit: number): number[] {
  const found: number[] = [];
  for (let t = 0; t < triangles.length; t += 3) {
    const a = 3 * triangles[t];
    const b = 3 * triangles[t + 1];
    const c = 3 * triangles[t + 2];
    const ux = positions[b] - positions[a];
    const uy = positions[b + 1] - positions[a + 1];
    const uz = positions[b + 2] - positions[a + 2];
    const vx = positions[c] - positions[a];
    const vy = positions[c + 1] - positions[a + 1];
    const vz = positions[c + 2] - positions[a + 2];
    const nx = uy * vz - uz * vy;
    const ny = uz * vx - ux * vz;
    const nz = ux * vy - uy * vx;
    const uu = ux * ux + uy * uy + uz * uz;
    const vv = vx * vx + vy * vy + vz * vz;
    const wx = vx - ux;
    const wy = vy - uy;
    const wz = vz - uz;
    const ww = wx * wx + wy * wy + wz * wz;
    let longest = Math.max(uu, vv);
    if (ww > longest) longest = ww;
    // height = |n| / sqrt(longest), so height/longest edge = |n| / longest
    if (nx * nx + ny * ny + nz * nz <= limit * longest * longest) found.push(t / 3);
  }
  return found;
}

/**
 * Vertices whose triangles form more than one fan (two bodies touching in a point), lowest index first.
 * Such a vertex is not an edge defect, but the solid is pinched to a point there.
 */
export function pinchedVertices(mesh: TriangleMesh, { twin }: Pick<Topology, 'twin'>): number[] {
  return meshKernel(mesh)?.pinchedVertices(mesh, twin) ?? pinchedPlainly(mesh, twin);
}

export function pinchedPlainly(mesh: TriangleMesh, twin: Int32Array): number[] {
  const { triangles } = mesh;
  const seenCorner = new Uint8Array(triangles.length);
  const fans = new Uint8Array(mesh.positions.length / 3);
  const turn = (corner: number, pivot: number, backwards: boolean): void => {
    let c = corner;
    let back = backwards;
    for (;;) {
      const t = c - (c % 3);
      const previous = c === t ? t + 2 : c - 1;
      const edge = back ? previous : c;
      const h = twin[edge];
      if (h < 0) return;
      const s = h - (h % 3);
      const end = h % 3 === 2 ? s : h + 1;
      const startsAtPivot = triangles[h] === pivot;
      c = startsAtPivot ? h : end;
      if (seenCorner[c]) return;
      seenCorner[c] = 1;
      back = startsAtPivot;
    }
  };
  for (let c = 0; c < triangles.length; c++) {
    if (seenCorner[c] || twin[c] === UNPAIRED) continue;
    seenCorner[c] = 1;
    const v = triangles[c];
    if (fans[v] < 2) fans[v]++;
    turn(c, v, false);
    turn(c, v, true);
  }
  const pinched: number[] = [];
  for (let v = 0; v < fans.length; v++) if (fans[v] > 1) pinched.push(v);
  return pinched;
}
