import { type EdgePairing, pairEdges, RIM, UNPAIRED } from './edge-pairing.js';
import type { TriangleMesh } from './mesh.js';
import { meshKernel } from './mesh-kernel.js';
import { VertexWelder } from './vertex-welder.js';

export interface WeldResult {
  mesh: TriangleMesh;
  /** Vertices joined to an earlier one. */
  mergedVertices: number;
  /** Triangles left out because two of their corners were joined, by their number in the input. */
  collapsedTriangles: number[];
  /** Triangles left out because an earlier one has the same three vertices, by their number in the input. */
  duplicateTriangles: number[];
  /** The pairing of the mesh's half-edges, if it was computed. */
  pairing?: EdgePairing;
}

/**
 * Joins equal vertices of a triangle soup or an indexed mesh and drops vertices that no triangle uses.
 * `toleranceMm` 0 (the default) joins equal coordinates only; else vertices within it, whatever their grid cell. Collapsed and duplicate
 * triangles are left out and listed. Linear; kept coordinates are never changed.
 */
export function weld(input: TriangleMesh, toleranceMm = 0): WeldResult {
  const compiled = toleranceMm > 0 ? undefined : meshKernel(input)?.join(input);
  const { mesh, used } = compiled ?? joinPlainly(input, toleranceMm);
  return { ...withoutCopies(mesh), mergedVertices: used - mesh.positions.length / 3 };
}

/**
 * The distinct vertices that triangles use, in the order of their first use, and the triangles with these vertices; `used`: how many were
 * used before.
 */
export function joinPlainly(input: TriangleMesh, toleranceMm = 0): { mesh: TriangleMesh; used: number } {
  const vertexCount = input.positions.length / 3;
  const welder = new VertexWelder(toleranceMm, Math.ceil(vertexCount / 4));
  const number = new Int32Array(vertexCount).fill(-1);
  let used = 0;
  const joined = new Uint32Array(input.triangles.length);
  for (let i = 0; i < joined.length; i++) {
    const v = input.triangles[i];
    if (number[v] < 0) {
      used++;
      number[v] = welder.add(input.positions[3 * v], input.positions[3 * v + 1], input.positions[3 * v + 2]);
    }
    joined[i] = number[v];
  }
  return { mesh: { positions: welder.positions(), triangles: joined }, used };
}

/**
 * The same for a mesh whose vertices are already distinct and all used, as from the STL readers: only collapsed and duplicate triangles
 * are left out. Most meshes have none, which their pairing shows: a duplicate shares its edges with the original and the neighbours of
 * both, or two edges only with the original.
 */
export function withoutCopies(input: TriangleMesh): WeldResult {
  const { positions } = input;
  const pairing = pairEdges(input);
  if (meshKernel(input)?.isFreeOfCopies(pairing.twin) ?? isFreePlainly(pairing.twin))
    return { mesh: input, mergedVertices: 0, collapsedTriangles: [], duplicateTriangles: [], pairing };
  const { triangles, collapsed, duplicates } = cleanTriangles(input.triangles, positions.length / 3);
  return {
    mesh: { positions, triangles },
    mergedVertices: 0,
    collapsedTriangles: collapsed,
    duplicateTriangles: duplicates,
  };
}

/**
 * Whether no half-edge is unpaired, as at a triangle with a repeated vertex or an edge used more than twice, and no two triangles share
 * two edges and thus all three corners.
 */
export function isFreePlainly(twin: Int32Array): boolean {
  for (let h = 0; h < twin.length; h += 3) {
    const a = twin[h];
    const b = twin[h + 1];
    const c = twin[h + 2];
    if (a === UNPAIRED || b === UNPAIRED || c === UNPAIRED) return false;
    const s = facing(a);
    const t = facing(b);
    const u = facing(c);
    if ((s >= 0 && (s === t || s === u)) || (t >= 0 && t === u)) return false;
  }
  return true;
}

/** The triangle of a half-edge; negative for a rim. */
const facing = (twin: number): number => (twin < 0 ? RIM : (twin / 3) | 0);

/** Removes triangles with a repeated vertex, and duplicates with the same three vertices in any order. */
function cleanTriangles(
  triangles: Uint32Array,
  vertexCount: number,
): { triangles: Uint32Array; collapsed: number[]; duplicates: number[] } {
  const collapsed: number[] = [];
  const duplicates: number[] = [];
  // Equal triangles are found within the bucket of their smallest vertex by hashing the other two.
  let size = 32;
  while (size < (triangles.length / 3) * 2) size *= 2;
  const table = new Int32Array(size).fill(-1);
  const kept = new Uint32Array(triangles.length);
  let n = 0;
  for (let t = 0; t < triangles.length; t += 3) {
    const a = triangles[t];
    const b = triangles[t + 1];
    const c = triangles[t + 2];
    if (a === b || b === c || c === a) {
      collapsed.push(t / 3);
      continue;
    }
    const low = Math.min(a, b, c);
    const high = Math.max(a, b, c);
    const middle = a + b + c - low - high;
    let slot = hashTriple(low, middle, high, vertexCount) & (size - 1);
    let isCopy = false;
    for (;;) {
      const k = table[slot];
      if (k < 0) break;
      const p = kept[k];
      const q = kept[k + 1];
      const r = kept[k + 2];
      if (Math.min(p, q, r) === low && Math.max(p, q, r) === high && p + q + r === low + middle + high) {
        isCopy = true;
        break;
      }
      slot = (slot + 1) & (size - 1);
    }
    if (isCopy) {
      duplicates.push(t / 3);
      continue;
    }
    table[slot] = n;
    kept[n] = a;
    kept[n + 1] = b;
    kept[n + 2] = c;
    n += 3;
  }
  return { triangles: n === kept.length ? kept : kept.slice(0, n), collapsed, duplicates };
}

function hashTriple(a: number, b: number, c: number, seed: number): number {
  let h = Math.imul(a ^ seed, 0x9e3779b1);
  h = Math.imul(h ^ (h >>> 15) ^ b, 0x85ebca6b);
  h = Math.imul(h ^ (h >>> 13) ^ c, 0xc2b2ae35);
  return h ^ (h >>> 16);
}
