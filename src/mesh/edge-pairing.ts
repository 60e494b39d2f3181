import type { TriangleMesh } from './mesh.js';
import { meshKernel, type Paired } from './mesh-kernel.js';

/** Half-edge on the rim of an opening. */
export const RIM = -1;
/** Unpaired half-edge: its edge is used by more than two triangles, or its triangle repeats a vertex. */
export const UNPAIRED = -2;

/** Which half-edges face each other, and which triangles are connected by edges. */
export interface EdgePairing extends Omit<Paired, 'isConsistent'> {
  /** Vertex pairs of the edges whose two triangles run in the same direction, so that one of them is flipped. */
  inconsistentEdges: number[];
}

/** Pairs half-edges. Half-edge 3t+k runs from vertex k to vertex (k+1)%3 of triangle t. */
export function pairEdges(mesh: TriangleMesh): EdgePairing {
  const { isConsistent, ...pairing } = meshKernel(mesh)?.pairEdges(mesh) ?? pairPlainly(mesh);
  return {
    ...pairing,
    inconsistentEdges: isConsistent ? [] : edgesInOneDirection(mesh.triangles, pairing.twin),
  };
}

/**
 * Half-edges with the same smaller vertex form a chain, and along it the first use of each larger vertex is remembered:
 * linear even if one vertex is used by all triangles.
 */
export function pairPlainly(mesh: TriangleMesh): Paired {
  const { triangles } = mesh;
  const vertexCount = mesh.positions.length / 3;
  const halfEdges = triangles.length;
  // until its chain has been processed, this entry holds the next half-edge of the chain instead of the opposite one
  const twin = new Int32Array(halfEdges);
  const head = new Int32Array(vertexCount).fill(END);
  for (let t = halfEdges - 3; t >= 0; t -= 3) {
    const a = triangles[t];
    const b = triangles[t + 1];
    const c = triangles[t + 2];
    if (a === b || b === c || c === a) {
      twin.fill(UNPAIRED, t, t + 3);
      continue;
    }
    const ab = Math.min(a, b);
    const bc = Math.min(b, c);
    const ca = Math.min(c, a);
    twin[t + 2] = head[ca];
    head[ca] = t + 2;
    twin[t + 1] = head[bc];
    head[bc] = t + 1;
    twin[t] = head[ab];
    head[ab] = t;
  }

  const parent = new Int32Array(halfEdges / 3);
  for (let t = 0; t < parent.length; t++) parent[t] = t;
  const firstUse = new Int32Array(vertexCount).fill(END);
  const nonManifoldEdges: number[] = [];
  let edgeCount = 0;
  let isConsistent = true;
  for (let low = 0; low < vertexCount; low++) {
    for (let h = head[low], following = END; h !== END; h = following) {
      following = twin[h];
      twin[h] = RIM;
      const from = triangles[h];
      const high = from === low ? triangles[after(h)] : from;
      const g = firstUse[high];
      const other = g === END ? END : triangles[g];
      // entries left by an earlier chain belong to another edge
      if (g === END || (other !== low && triangles[after(g)] !== low)) {
        firstUse[high] = h;
        edgeCount++;
        continue;
      }
      join(parent, (h / 3) | 0, (g / 3) | 0);
      const known = twin[g];
      if (known === RIM) {
        twin[g] = h;
        twin[h] = g;
        if (other === from) isConsistent = false;
      } else {
        if (known >= 0) {
          twin[known] = UNPAIRED;
          twin[g] = UNPAIRED;
          nonManifoldEdges.push(low, high);
        }
        twin[h] = UNPAIRED;
      }
    }
  }
  return { twin, edgeCount, nonManifoldEdges, isConsistent, ...numberComponents(parent) };
}

/** Ends a chain. */
const END = -1;

/** The next half-edge of the same triangle. */
const after = (h: number): number => (h % 3 === 2 ? h - 2 : h + 1);

function edgesInOneDirection(triangles: Uint32Array, twin: Int32Array): number[] {
  const edges: number[] = [];
  for (let h = 0; h < twin.length; h++) {
    const g = twin[h];
    if (g > h && triangles[g] === triangles[h]) edges.push(triangles[h], triangles[after(h)]);
  }
  return edges;
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

/** Numbers the components in place: the parent of a triangle that is not a root comes before it and already has its number. */
function numberComponents(parent: Int32Array): { component: Uint32Array; componentSizes: Uint32Array } {
  const sizes: number[] = [];
  for (let t = 0; t < parent.length; t++) {
    const above = parent[t];
    const id = above === t ? sizes.push(0) - 1 : parent[above];
    parent[t] = id;
    sizes[id]++;
  }
  return {
    component: new Uint32Array(parent.buffer),
    componentSizes: Uint32Array.from(sizes),
  };
}
