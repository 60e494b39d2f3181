import { add, dot, length, scale, subtract, type Vec3 } from '../foundation/vector.js';
import type { Rim } from './field.js';

/** Cells by which a vessel must extend past its rim before it is cut there. */
export const CELLS_PAST_RIM = 3;

/** A vertex closer to the plane of a rim than this fraction of a cell is moved onto it, */
const SNAP = 0.25;
/** unless it would come closer than this fraction of a cell to a neighbour that was already moved there. */
const APART = 0.3;

/** A mesh under construction: three vertex numbers per triangle. */
interface Making {
  points: Vec3[];
  triangles: number[];
}

/**
 * Cuts a vessel that extends past its rim in the rim's plane, and closes it there with a fan around the rim's centre, or leaves it open.
 * Changes the mesh; triangles keep their order.
 */
export function cutAtRim(mesh: Making, rim: Rim, cellMm: number, isOpen: boolean): void {
  const { points, triangles } = mesh;
  const heightOf = (vertex: number): number => dot(subtract(points[vertex], rim.centre), rim.inwards);
  const ontoRim = (p: Vec3): Vec3 => {
    const offset = subtract(p, rim.centre);
    const flat = subtract(offset, scale(rim.inwards, dot(offset, rim.inwards)));
    return add(rim.centre, scale(flat, rim.radiusMm / length(flat)));
  };
  const neighbours = neighboursNear(points, triangles, rim, cellMm);
  const beyond = flooded(neighbours, points, rim, heightOf);
  const onRim = new Set<number>();
  const close = [...neighbours.keys()]
    .filter((v) => beyond.has(v) || [...neighbours.get(v)!].some((w) => beyond.has(w)))
    .map((vertex) => ({ vertex, gap: Math.abs(heightOf(vertex)) }))
    .filter(({ gap }) => gap < SNAP * cellMm)
    .sort((a, b) => a.gap - b.gap || a.vertex - b.vertex);
  for (const { vertex } of close) {
    const moved = ontoRim(points[vertex]);
    const isCrowded = [...neighbours.get(vertex)!].some(
      (w) => onRim.has(w) && length(subtract(points[w], moved)) < APART * cellMm,
    );
    if (isCrowded) continue;
    points[vertex] = moved;
    onRim.add(vertex);
    beyond.delete(vertex);
  }
  const cuts = new Map<string, number>();
  const cutOf = (kept: number, lost: number): number => {
    const key = `${kept} ${lost}`;
    let vertex = cuts.get(key);
    if (vertex === undefined) {
      const [h, g] = [heightOf(kept), heightOf(lost)];
      const between = add(points[kept], scale(subtract(points[lost], points[kept]), h / (h - g)));
      vertex = points.push(ontoRim(between)) - 1;
      cuts.set(key, vertex);
      onRim.add(vertex);
    }
    return vertex;
  };
  const kept: number[] = [];
  const isTouched = new Uint8Array(points.length);
  for (const v of beyond) isTouched[v] = 1;
  for (const v of onRim) isTouched[v] = 1;
  for (let i = 0; i < triangles.length; i += 3) {
    const [a, b, c] = [triangles[i], triangles[i + 1], triangles[i + 2]];
    if (!isTouched[a] && !isTouched[b] && !isTouched[c]) {
      kept.push(a, b, c);
      continue;
    }
    const corners = [a, b, c];
    if (corners.every((v) => onRim.has(v) || beyond.has(v))) continue;
    if (corners.every((v) => !beyond.has(v))) {
      kept.push(...corners);
      continue;
    }
    const piece: number[] = [];
    corners.forEach((v, k) => {
      const next = corners[(k + 1) % 3];
      if (!beyond.has(v)) piece.push(v);
      if (beyond.has(v) !== beyond.has(next) && !onRim.has(v) && !onRim.has(next))
        piece.push(beyond.has(v) ? cutOf(next, v) : cutOf(v, next));
    });
    for (let k = 2; k < piece.length; k++) kept.push(piece[0], piece[k - 1], piece[k]);
  }
  if (!isOpen) kept.push(...fan(kept, onRim, points.push(rim.centre) - 1));
  mesh.triangles = kept;
}

/** The neighbours of each vertex near a rim. */
function neighboursNear(
  points: readonly Vec3[],
  triangles: readonly number[],
  rim: Rim,
  cellMm: number,
): Map<number, Set<number>> {
  const reach = rim.radiusMm + (CELLS_PAST_RIM + 3) * cellMm;
  const isNear = points.map((p) => length(subtract(p, rim.centre)) < reach);
  const neighbours = new Map<number, Set<number>>();
  const join = (a: number, b: number): void => {
    neighbours.set(a, (neighbours.get(a) ?? new Set()).add(b));
  };
  for (let i = 0; i < triangles.length; i++) {
    const [a, b] = [triangles[i], triangles[i % 3 === 2 ? i - 2 : i + 1]];
    if (!isNear[a] || !isNear[b]) continue;
    join(a, b);
    join(b, a);
  }
  return neighbours;
}

/** The connected vertices past the rim, never those of an adjacent vessel. */
function flooded(
  neighbours: ReadonlyMap<number, ReadonlySet<number>>,
  points: readonly Vec3[],
  rim: Rim,
  heightOf: (vertex: number) => number,
): Set<number> {
  const toAxis = (v: number): number =>
    length(subtract(subtract(points[v], rim.centre), scale(rim.inwards, heightOf(v))));
  let tip = -1;
  for (const v of neighbours.keys())
    if (heightOf(v) < 0 && toAxis(v) < rim.radiusMm && (tip < 0 || toAxis(v) < toAxis(tip))) tip = v;
  const reached = new Set(tip < 0 ? [] : [tip]);
  for (const v of reached) for (const w of neighbours.get(v)!) if (heightOf(w) < 0) reached.add(w);
  return reached;
}

/** Triangles from the open edges along the rim to its centre. */
function fan(triangles: readonly number[], onRim: ReadonlySet<number>, centre: number): number[] {
  const open = new Map<string, [number, number]>();
  for (let i = 0; i < triangles.length; i++) {
    const [a, b] = [triangles[i], triangles[i % 3 === 2 ? i - 2 : i + 1]];
    if (!onRim.has(a) || !onRim.has(b)) continue;
    if (!open.delete(`${b} ${a}`)) open.set(`${a} ${b}`, [a, b]);
  }
  return [...open.values()].flatMap(([a, b]) => [centre, b, a]);
}
