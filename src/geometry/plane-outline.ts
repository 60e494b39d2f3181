import { cross, dot, subtract, type Vec3 } from '../foundation/vector.js';

/** A plane with an image on it: unit vectors to the image's right and downwards, perpendicular to each other. */
export interface PicturePlane {
  centre: Vec3;
  right: Vec3;
  down: Vec3;
}

/** A line on a plane: x0 y0 x1 y1 …, mm from its centre to the right and down. */
export type FlatLine = number[];

/**
 * The intersection of a surface with a plane, within `reachMm` of its centre in both directions, as lines; closed ones repeat their first
 * point.
 * A vertex in the plane counts as in front of it, so no tolerance is needed.
 */
export function planeOutline(
  { positions, triangles }: { positions: ArrayLike<number>; triangles: ArrayLike<number> },
  plane: PicturePlane,
  reachMm: number,
): FlatLine[] {
  const away = cross(plane.right, plane.down);
  const heights = new Float64Array(positions.length / 3);
  const offset = dot(away, plane.centre);
  for (let v = 0; v < heights.length; v++)
    heights[v] =
      positions[3 * v] * away[0] + positions[3 * v + 1] * away[1] + positions[3 * v + 2] * away[2] - offset;
  const count = heights.length;
  // the exit edge of each crossed triangle; a line enters each triangle over the exit edge of the previous one
  const next = new Map<number, number[]>();
  const places = new Map<number, [number, number]>();
  const placeOf = (a: number, b: number): number => {
    const [low, high] = a < b ? [a, b] : [b, a];
    const key = low * count + high;
    if (!places.has(key)) {
      const t = heights[low] / (heights[low] - heights[high]);
      const p = [0, 1, 2].map(
        (d) => positions[3 * low + d] + t * (positions[3 * high + d] - positions[3 * low + d]),
      );
      const from = subtract(p as Vec3, plane.centre);
      places.set(key, [dot(from, plane.right), dot(from, plane.down)]);
    }
    return key;
  };
  for (let t = 0; t < triangles.length; t += 3) {
    const ends: number[] = [];
    for (let k = 0; k < 3; k++) {
      const [a, b] = [triangles[t + k], triangles[t + ((k + 1) % 3)]];
      if (heights[a] >= 0 !== heights[b] >= 0) ends.push(placeOf(a, b));
    }
    if (ends.length !== 2) continue;
    const [from, to] = ends;
    const isNear = ends.some((key) => places.get(key)!.every((x) => Math.abs(x) <= reachMm));
    if (!isNear) continue;
    for (const [a, b] of [
      [from, to],
      [to, from],
    ]) {
      const list = next.get(a);
      if (list) list.push(b);
      else next.set(a, [b]);
    }
  }
  return chained(next, places);
}

/** Joins pieces to lines: from open ends first, then the remaining loops. */
function chained(next: Map<number, number[]>, places: Map<number, [number, number]>): FlatLine[] {
  const lines: FlatLine[] = [];
  const take = (from: number): void => {
    const line: FlatLine = [...places.get(from)!];
    for (let here = from; ; ) {
      const to = next.get(here)?.pop();
      if (to === undefined) break;
      const back = next.get(to)!;
      back.splice(back.indexOf(here), 1);
      line.push(...places.get(to)!);
      here = to;
    }
    if (line.length > 2) lines.push(line);
  };
  for (const [from, list] of next) if (list.length === 1) take(from);
  for (const [from, list] of next) while (list.length > 0) take(from);
  return lines;
}
