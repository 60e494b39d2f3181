import type { Vec3 } from '../foundation/vector.js';
import { compiledPart, enlarge, PAGE_BYTES, started, whereRoom } from './compiled-part.js';
import type { TriangleMesh } from './mesh.js';
import { crossingPoint } from './triangle-crossing.js';
import { layNormal } from './triangle-normal.js';
import { TriangleTree } from './triangle-tree.js';

export interface SelfIntersectionOptions {
  /** Stop after this many crossing pairs. */
  most?: number;
}

export interface SelfIntersections {
  /** Crossing pairs of triangles found, at most `most`. */
  count: number;
  /** True if the search stopped at `most`, so that there may be more. */
  isCapped: boolean;
  /** False if the triangles overlap so much that the search was abandoned; `count` is then a lower bound. */
  isComplete: boolean;
  /** Triangle pairs s0 t0 s1 t1 … */
  pairs: number[];
  /** One point of each crossing, in the unit of the mesh. */
  points: Vec3[];
}

/** Limit on triangle pairs tested, per triangle. A clean surface needs about 20. */
const MOST_PAIRS_PER_TRIANGLE = 2000;
const LEAST_PAIR_BUDGET = 10_000_000;

/** Above this the compiled program gains little, and its copy of the mesh costs memory. */
const MOST_COMPILED = 200_000;

/**
 * Pairs of triangles of a welded mesh that cross or overlap. Neighbours that meet in their shared vertex or edge do not count. Sorted
 * boxes, then an exact-sign test in doubles; about linear on a surface.
 */
export function findSelfIntersections(
  mesh: TriangleMesh,
  options: SelfIntersectionOptions = {},
): SelfIntersections {
  const most = options.most ?? 1000;
  const triangleCount = mesh.triangles.length / 3;
  if (triangleCount < 2) return { count: 0, isCapped: false, isComplete: true, pairs: [], points: [] };
  const module =
    triangleCount <= MOST_COMPILED
      ? compiledPart(new URL('./self-intersection.wasm', import.meta.url))
      : undefined;
  const pairBudget = Math.max(LEAST_PAIR_BUDGET, MOST_PAIRS_PER_TRIANGLE * triangleCount);
  const search =
    (module && whereRoom(() => searchCompiled(module, mesh, most, pairBudget))) ??
    searchPlainly(mesh, most, pairBudget);
  const { found, isCapped, isComplete } = search;
  found.sort((a, b) => a.low - b.low || a.high - b.high);
  return {
    count: found.length,
    isCapped,
    isComplete,
    pairs: found.flatMap(({ low, high }) => [low, high]),
    points: found.map(({ point }) => point),
  };
}

/** What a search found, in the order of the search. */
export interface CrossingSearch {
  found: { low: number; high: number; point: Vec3 }[];
  isCapped: boolean;
  isComplete: boolean;
}

/** Exports of build/assembly/self-intersection.ts. */
interface SearchExports {
  search(
    positionsAt: number,
    vertices: number,
    trianglesAt: number,
    triangles: number,
    codesAt: number,
    boxesAt: number,
    boundsAt: number,
    stackAt: number,
    foundAt: number,
    most: number,
    pairs: number,
  ): number;
  endedEarly(): number;
}

/** Memory that the compiled program uses for itself: a crossing's two triangles with their point, and a stack deep enough for any tree. */
const OWN_BYTES = 1024;
const FOUND_BYTES = 32;
const STACK_BYTES = 4096;
/** The program uses the memory of the boxes for counting digits first. */
const LEAST_BOXES_BYTES = 8192;

/** A memory up to this size is reused for the next mesh: a plan makes about ten searches, and each new memory takes a millisecond. */
const MOST_KEPT_BYTES = 16 * 2 ** 20;

interface Started {
  module: WebAssembly.Module;
  memory: WebAssembly.Memory;
  program: SearchExports;
}

let kept: Started | undefined;

/** The program with a memory of at least this many bytes, whose content does not matter. */
function startedIn(module: WebAssembly.Module, bytes: number): Started {
  if (kept?.module === module && bytes <= MOST_KEPT_BYTES) {
    enlarge(kept.memory, bytes);
    return kept;
  }
  const memory = new WebAssembly.Memory({ initial: Math.ceil(bytes / PAGE_BYTES) });
  const fresh = { module, memory, program: started<SearchExports>(module, memory) };
  if (bytes <= MOST_KEPT_BYTES) kept = fresh;
  return fresh;
}

/** The same as `searchPlainly` with the compiled program, whose memory holds a copy of the mesh. */
export function searchCompiled(
  module: WebAssembly.Module,
  { positions, triangles }: TriangleMesh,
  most: number,
  pairBudget: number,
): CrossingSearch {
  const count = triangles.length / 3;
  let leaves = 1;
  while (4 * leaves < count) leaves *= 2;
  let end = OWN_BYTES;
  const room = (bytes: number): number => {
    const at = end;
    end = 8 * Math.ceil((end + bytes) / 8);
    return at;
  };
  const positionsAt = room(8 * positions.length);
  const trianglesAt = room(4 * triangles.length);
  const codesAt = room(12 * count);
  const boxesAt = room(Math.max(LEAST_BOXES_BYTES, 24 * count));
  const boundsAt = room(48 * leaves);
  const stackAt = room(STACK_BYTES);
  const foundAt = room(FOUND_BYTES * most);
  const { memory, program } = startedIn(module, end);
  new Float64Array(memory.buffer, positionsAt).set(positions);
  new Uint32Array(memory.buffer, trianglesAt).set(triangles);
  const many = program.search(
    positionsAt,
    positions.length / 3,
    trianglesAt,
    count,
    codesAt,
    boxesAt,
    boundsAt,
    stackAt,
    foundAt,
    most,
    pairBudget,
  );
  const view = new DataView(memory.buffer, foundAt);
  const found = Array.from({ length: many }, (_, i) => {
    const at = FOUND_BYTES * i;
    const point = [8, 16, 24].map((k) => view.getFloat64(at + k, true)) as Vec3;
    return { low: view.getInt32(at, true), high: view.getInt32(at + 4, true), point };
  });
  const ended = program.endedEarly();
  return { found, isCapped: ended === 1, isComplete: ended !== 2 };
}

export function searchPlainly(mesh: TriangleMesh, most: number, pairBudget: number): CrossingSearch {
  const tree = new TriangleTree(mesh);
  const { order } = tree;
  const noise = 1e-14 * reachOf(mesh);
  // for the triangle that is compared with several others, and for the other one
  const [plane, otherPlane] = [new Float64Array(4), new Float64Array(4)];
  let planeOf = -1;
  let budget = pairBudget;
  const result: CrossingSearch = { found: [], isCapped: false, isComplete: true };
  const { found } = result;
  const testPair = (i: number, j: number): boolean => {
    const s = order[i];
    const t = order[j];
    if (planeOf !== s) layPlane(mesh, s, plane);
    planeOf = s;
    if (isOnOneSide(mesh, plane, noise, s, t)) return true;
    layPlane(mesh, t, otherPlane);
    if (isOnOneSide(mesh, otherPlane, noise, t, s)) return true;
    const low = Math.min(s, t);
    const high = Math.max(s, t);
    const point = crossingPoint(mesh, low, high);
    if (!point) return true;
    if (found.length === most) {
      result.isCapped = true;
      return false;
    }
    found.push({ low, high, point });
    return true;
  };
  tree.meetingLeaves((leaf, other) => {
    const from = tree.leafStart(leaf);
    const to = tree.leafEnd(leaf);
    const otherFrom = tree.leafStart(other);
    const otherTo = tree.leafEnd(other);
    budget -= (to - from) * (otherTo - otherFrom);
    if (budget < 0) {
      result.isComplete = false;
      return false;
    }
    for (let i = from; i < to; i++) {
      if (other !== leaf && !tree.meetsLeaf(other, i)) continue;
      for (let j = other === leaf ? i + 1 : otherFrom; j < otherTo; j++) {
        if (tree.trianglesMeet(i, j) && !testPair(i, j)) return false;
      }
    }
    return true;
  });
  return result;
}

/** Largest absolute coordinate. */
function reachOf({ positions }: TriangleMesh): number {
  let reach = 0;
  for (let i = 0; i < positions.length; i++) {
    const x = Math.abs(positions[i]);
    if (x > reach) reach = x;
  }
  return reach;
}

/** Writes a triangle's plane, four numbers: unscaled normal and its product with a corner. */
function layPlane(mesh: TriangleMesh, t: number, plane: Float64Array): void {
  layNormal(mesh, t, plane);
  const { positions, triangles } = mesh;
  const a = 3 * triangles[3 * t];
  plane[3] = plane[0] * positions[a] + plane[1] * positions[a + 1] + plane[2] * positions[a + 2];
}

/**
 * Quick answer for most candidates, which are neighbours: the corners of t that s does not share are clearly on one side of s's plane.
 * False means that the exact test is needed. `noise` is the rounding of a normal's product with a corner, relative to the normal.
 */
function isOnOneSide(
  { positions, triangles }: TriangleMesh,
  plane: Float64Array,
  noise: number,
  s: number,
  t: number,
): boolean {
  const a = triangles[3 * s];
  const b = triangles[3 * s + 1];
  const c = triangles[3 * s + 2];
  const [nx, ny, nz, d] = [plane[0], plane[1], plane[2], plane[3]];
  const least = noise * (Math.abs(nx) + Math.abs(ny) + Math.abs(nz));
  let side = 0;
  for (let i = 3 * t; i < 3 * t + 3; i++) {
    const v = triangles[i];
    if (v === a || v === b || v === c) continue;
    const h = nx * positions[3 * v] + ny * positions[3 * v + 1] + nz * positions[3 * v + 2] - d;
    if (h > least && side >= 0) side = 1;
    else if (h < -least && side <= 0) side = -1;
    else return false;
  }
  return true;
}
