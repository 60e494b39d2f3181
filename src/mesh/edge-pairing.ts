import type { TriangleMesh } from './mesh.js';

/** Half-edge on the rim of an opening. */
export const RIM = -1;
/** Unpaired half-edge: its edge is used by more than two triangles, or its triangle repeats a vertex. */
export const UNPAIRED = -2;

/** Which half-edges face each other, and which triangles are connected by edges. */
export interface EdgePairing {
  /** Length 3·triangles: the opposite half-edge, `RIM` (-1) or `UNPAIRED` (-2). */
  twin: Int32Array;
  /** Undirected edges. */
  edgeCount: number;
  /** Vertex pairs a0 b0 a1 b1 … of the edges used by more than two triangles. */
  nonManifoldEdges: number[];
  /** Vertex pairs of the edges whose two triangles run in the same direction, so that one of them is flipped. */
  inconsistentEdges: number[];
  /** Component number of each triangle, in order of the first triangle. Triangles that share an edge belong together. */
  component: Uint32Array;
  /** Number of triangles of each component. */
  componentSizes: Uint32Array;
}

/**
 * Pairs half-edges by a counting sort on the smaller vertex of each edge, then one pass over each bucket with
 * a marker per larger vertex: linear even if one vertex is used by all triangles.
 * Half-edge 3t+k runs from vertex k to vertex (k+1)%3 of triangle t.
 */
export function pairEdges(mesh: TriangleMesh): EdgePairing {
  const { triangles } = mesh;
  const vertexCount = mesh.positions.length / 3;
  const halfEdges = triangles.length;
  const twin = new Int32Array(halfEdges).fill(RIM);
  const parent = new Int32Array(halfEdges / 3);
  for (let t = 0; t < parent.length; t++) parent[t] = t;

  const start = new Uint32Array(vertexCount + 1);
  for (let t = 0; t < halfEdges; t += 3) {
    const a = triangles[t];
    const b = triangles[t + 1];
    const c = triangles[t + 2];
    if (a === b || b === c || c === a) {
      twin.fill(UNPAIRED, t, t + 3);
      continue;
    }
    start[Math.min(a, b) + 1]++;
    start[Math.min(b, c) + 1]++;
    start[Math.min(c, a) + 1]++;
  }
  for (let v = 0; v < vertexCount; v++) start[v + 1] += start[v];
  const fill = start.slice(0, vertexCount);
  const byLow = new Uint32Array(start[vertexCount]);
  for (let t = 0; t < halfEdges; t += 3) {
    if (twin[t] === UNPAIRED) continue;
    const a = triangles[t];
    const b = triangles[t + 1];
    const c = triangles[t + 2];
    byLow[fill[Math.min(a, b)]++] = t;
    byLow[fill[Math.min(b, c)]++] = t + 1;
    byLow[fill[Math.min(c, a)]++] = t + 2;
  }

  const marker = new Int32Array(vertexCount).fill(-1);
  const firstUse = new Int32Array(vertexCount);
  const nonManifoldEdges: number[] = [];
  let edgeCount = 0;
  for (let low = 0; low < vertexCount; low++) {
    for (let i = start[low]; i < start[low + 1]; i++) {
      const h = byLow[i];
      const from = triangles[h];
      const high = from === low ? triangles[h % 3 === 2 ? h - 2 : h + 1] : from;
      if (marker[high] !== low) {
        marker[high] = low;
        firstUse[high] = h;
        edgeCount++;
        continue;
      }
      const g = firstUse[high];
      join(parent, (h / 3) | 0, (g / 3) | 0);
      const other = twin[g];
      if (other === RIM) {
        twin[g] = h;
        twin[h] = g;
      } else {
        if (other >= 0) {
          twin[other] = UNPAIRED;
          twin[g] = UNPAIRED;
          nonManifoldEdges.push(low, high);
        }
        twin[h] = UNPAIRED;
      }
    }
  }

  const inconsistentEdges: number[] = [];
  for (let h = 0; h < halfEdges; h++) {
    const g = twin[h];
    if (g > h && triangles[g] === triangles[h])
      inconsistentEdges.push(triangles[h], triangles[h % 3 === 2 ? h - 2 : h + 1]);
  }
  return { twin, edgeCount, nonManifoldEdges, inconsistentEdges, ...numberComponents(parent) };
}

function root(parent: Int32Array, start: number): number {
  let t = start;
  while (parent[t] !== t) {
    parent[t] = parent[parent[t]];
    t = parent[t];
  }
  return t;
}

/** The smaller triangle index becomes the root, so numbering does not depend on the order of the edges. */
function join(parent: Int32Array, s: number, t: number): void {
  const a = root(parent, s);
  const b = root(parent, t);
  if (a < b) parent[b] = a;
  else parent[a] = b;
}

function numberComponents(parent: Int32Array): { component: Uint32Array; componentSizes: Uint32Array } {
  const component = new Uint32Array(parent.length);
  const sizes: number[] = [];
  for (let t = 0; t < parent.length; t++) {
    const r = root(parent, t);
    const id = r === t ? sizes.push(0) - 1 : component[r];
    component[t] = id;
    sizes[id]++;
  }
  return { component, componentSizes: Uint32Array.from(sizes) };
}
