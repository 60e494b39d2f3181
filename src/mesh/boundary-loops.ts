import { addTo } from '../foundation/add-to.js';
import { cross, dot, length, normalize, scale, type Vec3 } from '../foundation/vector.js';
import { RIM } from './edge-pairing.js';
import type { TriangleMesh } from './mesh.js';

/** One open end: a closed run of rim edges. */
export interface BoundaryLoop {
  /** Vertex indices in order; counter-clockwise as seen from outside the opening if the mesh is oriented outwards. */
  vertices: Uint32Array;
  /** Half-edges of the rim: entry i belongs to the edge between `vertices[i]` and `vertices[i+1]`. */
  halfEdges: Uint32Array;
  /** False if the rim runs into an edge used by more than two triangles and does not close. */
  closed: boolean;
  /** Centroid of the loop's area in its best-fit plane. */
  centroid: Vec3;
  perimeterMm: number;
  /** Unit area vector of the loop (Newell): points out of the opening. Zero for a loop without area. */
  normal: Vec3;
  /** Largest distance of a rim vertex from the plane through the centroid. */
  planarityMm: number;
  /** Diameter of the circle with the loop's projected area, 2·sqrt(area/pi). */
  equivalentDiameterMm: number;
}

const nextInTriangle = (h: number): number => (h % 3 === 2 ? h - 2 : h + 1);

/**
 * Collects the open ends, ordered by their lowest half-edge. The walk turns around each rim vertex through the triangles of its fan, so
 * that two bodies touching there stay separate. It is cut where it meets itself, so that two holes of one body also stay separate.
 */
export function boundaryLoops(mesh: TriangleMesh, twin: Int32Array): BoundaryLoop[] {
  const { triangles } = mesh;
  const used = new Uint8Array(twin.length);
  let unusedAt: Map<number, number[]> | undefined;
  const loops: BoundaryLoop[] = [];
  for (let first = twin.indexOf(RIM); first >= 0; first = twin.indexOf(RIM, first + 1)) {
    if (used[first]) continue;
    // The cap's edges run against the rim's half-edges, so start at the end and walk towards the start.
    const startVertex = triangles[nextInTriangle(first)];
    const vertices: number[] = [startVertex];
    const halfEdges: number[] = [];
    let edge = first;
    let vertex = triangles[first];
    let closed = false;
    for (;;) {
      used[edge] = 1;
      halfEdges.push(edge);
      let next = turnToRim(triangles, twin, edge, vertex);
      if (next === first) {
        closed = vertex === startVertex;
        break;
      }
      if (next < 0 || used[next]) {
        if (vertex === startVertex) {
          closed = true;
          break;
        }
        unusedAt ??= rimEdgesByVertex(triangles, twin);
        const waiting = unusedAt.get(vertex) ?? [];
        while (waiting.length > 0 && used[waiting[waiting.length - 1]]) waiting.pop();
        if (waiting.length === 0) break;
        next = waiting[waiting.length - 1];
      }
      vertices.push(vertex);
      edge = next;
      const a = triangles[edge];
      vertex = a === vertex ? triangles[nextInTriangle(edge)] : a;
    }
    if (!closed) vertices.push(vertex);
    for (const ring of simpleRings(vertices, halfEdges, closed)) {
      loops.push({
        ...measureLoop(mesh.positions, ring.vertices),
        halfEdges: Uint32Array.from(ring.halfEdges),
        closed: ring.closed,
      });
    }
  }
  return loops;
}

interface Ring {
  vertices: number[];
  halfEdges: number[];
  closed: boolean;
}

/** Cuts a walk into rings that visit each vertex once, so that two openings touching at a vertex stay separate. */
function simpleRings(vertices: number[], halfEdges: number[], closed: boolean): Ring[] {
  const rings: Ring[] = [];
  const placeOf = new Map<number, number>();
  const path: number[] = [];
  const edges: number[] = [];
  for (let i = 0; i < vertices.length; i++) {
    const place = placeOf.get(vertices[i]);
    if (place !== undefined) {
      for (let k = place + 1; k < path.length; k++) placeOf.delete(path[k]);
      rings.push({ vertices: path.splice(place), halfEdges: edges.splice(place), closed: true });
      placeOf.delete(vertices[i]);
    }
    placeOf.set(vertices[i], path.length);
    path.push(vertices[i]);
    if (i < halfEdges.length) edges.push(halfEdges[i]);
  }
  if (edges.length > 0) rings.push({ vertices: path, halfEdges: edges, closed });
  return rings;
}

/** From a rim edge, turns around `pivot` through the fan to the other rim edge there; -1 if the fan is broken. */
function turnToRim(triangles: Uint32Array, twin: Int32Array, edge: number, pivot: number): number {
  let h = edge;
  for (;;) {
    const t = h - (h % 3);
    let other = -1;
    for (let k = t; k < t + 3; k++) {
      if (k !== h && (triangles[k] === pivot || triangles[nextInTriangle(k)] === pivot)) other = k;
    }
    if (other < 0) return -1;
    if (twin[other] === RIM) return other;
    if (twin[other] < 0) return -1;
    h = twin[other];
    if (h === edge) return -1;
  }
}

function rimEdgesByVertex(triangles: Uint32Array, twin: Int32Array): Map<number, number[]> {
  const byVertex = new Map<number, number[]>();
  for (let h = 0; h < twin.length; h++) {
    if (twin[h] !== RIM) continue;
    for (const v of [triangles[h], triangles[nextInTriangle(h)]]) addTo(byVertex, v, h);
  }
  return byVertex;
}

/** Centroid, perimeter, plane and equivalent diameter of a polygon given by vertex indices. */
function measureLoop(
  positions: Float64Array,
  loop: ArrayLike<number>,
): Omit<BoundaryLoop, 'halfEdges' | 'closed'> {
  const n = loop.length;
  const at = (i: number): Vec3 => {
    const p = 3 * loop[i % n];
    return [positions[p], positions[p + 1], positions[p + 2]];
  };
  const origin = at(0);
  const relative = (i: number): Vec3 => {
    const p = at(i);
    return [p[0] - origin[0], p[1] - origin[1], p[2] - origin[2]];
  };
  const area: Vec3 = [0, 0, 0];
  const edgeCentre: Vec3 = [0, 0, 0];
  let perimeterMm = 0;
  for (let i = 0; i < n; i++) {
    const a = relative(i);
    const b = relative(i + 1);
    const c = cross(a, b);
    const edge = length([b[0] - a[0], b[1] - a[1], b[2] - a[2]]);
    perimeterMm += edge;
    for (let k = 0; k < 3; k++) {
      area[k] += c[k] / 2;
      edgeCentre[k] += (edge * (a[k] + b[k])) / 2;
    }
  }
  const areaMm2 = length(area);
  const normal = normalize(area);
  let centre: Vec3 = perimeterMm > 0 ? scale(edgeCentre, 1 / perimeterMm) : [0, 0, 0];
  if (areaMm2 > 1e-9 * perimeterMm * perimeterMm) {
    const sum: Vec3 = [0, 0, 0];
    for (let i = 0; i < n; i++) {
      const a = relative(i);
      const b = relative(i + 1);
      const w = dot(cross(a, b), normal) / 2;
      for (let k = 0; k < 3; k++) sum[k] += (w * (a[k] + b[k])) / 3;
    }
    // The part in the plane comes from the area, the height above the plane from the edges.
    const inPlane = scale(sum, 1 / areaMm2);
    const height = dot(edgeCentre, normal) / perimeterMm - dot(inPlane, normal);
    centre = [
      inPlane[0] + height * normal[0],
      inPlane[1] + height * normal[1],
      inPlane[2] + height * normal[2],
    ];
  }
  let planarityMm = 0;
  for (let i = 0; i < n; i++) {
    const p = relative(i);
    const d = Math.abs(dot([p[0] - centre[0], p[1] - centre[1], p[2] - centre[2]], normal));
    if (d > planarityMm) planarityMm = d;
  }
  return {
    vertices: Uint32Array.from({ length: n }, (_, i) => loop[i]),
    centroid: [centre[0] + origin[0], centre[1] + origin[1], centre[2] + origin[2]],
    perimeterMm,
    normal,
    planarityMm,
    equivalentDiameterMm: 2 * Math.sqrt(areaMm2 / Math.PI),
  };
}

/** Smallest area of a vessel's end, as a share of that of a circle of the same perimeter: a 6 to 1 ellipse has 0.3. Definition of this tool. */
const ROUND_ENOUGH = 0.3;

/** Whether an opening is long and narrow: a crack is, the end of a vessel is not. */
export const isNarrow = ({ equivalentDiameterMm, perimeterMm }: BoundaryLoop): boolean =>
  (Math.PI * equivalentDiameterMm) ** 2 < ROUND_ENOUGH * perimeterMm ** 2;
