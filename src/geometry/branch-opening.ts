import { lerp, type Vec3 } from '../foundation/vector.js';
import { nearestVertex } from './neighbours.js';
import type { Polyline } from './polyline.js';
import type { Surface } from './surface.js';
import { WallProbe } from './wall-probe.js';

/** Range in which a branch's surface passes through its parent's, projected on the parent's centreline, mm from the far end. */
export interface OpeningRange {
  fromMm: number;
  toMm: number;
}

/**
 * The branch's opening on its parent: every edge of the branch that passes through the parent's wall is cut
 * there, and the cuts are projected on the parent's centreline. A branch that only touches or stops short has no such edge; the vertices
 * of its end nearest to the parent (within `nearMm` of the nearest one) are then used instead.
 */
export function branchOpening(
  branch: Surface,
  parent: Surface,
  parentLine: Polyline,
  nearMm: number,
): OpeningRange | undefined {
  const probe = new WallProbe(parent);
  const inside = new Uint8Array(branch.vertexCount);
  for (let v = 0; v < branch.vertexCount; v++) inside[v] = probe.isInside(branch.vertex(v)) ? 1 : 0;
  const gap = (v: number): number => parent.closest(branch.vertex(v))?.distance ?? 0;
  const places: number[] = [];
  const { triangles } = branch;
  for (let h = 0; h < triangles.length; h++) {
    const a = triangles[h];
    const b = triangles[h % 3 === 2 ? h - 2 : h + 1];
    if (inside[a] === inside[b] || branch.isCap[(h / 3) | 0]) continue;
    const [fromA, fromB] = [gap(a), gap(b)];
    const f = fromA / (fromA + fromB || 1);
    places.push(parentLine.project(lerp(branch.vertex(a), branch.vertex(b), f)).at);
  }
  if (places.length === 0) {
    const nearest = inside.includes(1) ? 0 : (nearestVertex(branch, parent)?.distanceMm ?? 0);
    for (let v = 0; v < branch.vertexCount; v++)
      if (!inside[v] && probe.mayReach(branch.vertex(v), nearest + nearMm))
        places.push(parentLine.project(branch.vertex(v)).at);
  }
  return places.length === 0
    ? undefined
    : {
        fromMm: places.reduce((least, x) => Math.min(least, x), Infinity),
        toMm: places.reduce((most, x) => Math.max(most, x), -Infinity),
      };
}

/** The place where the branch's line, extended, comes closest to the parent's centreline. */
export interface BranchPlace {
  /** On the parent, mm from its far end. */
  atMm: number;
  point: Vec3;
  /** Distance beyond the end of the branch's line, mm; 0 if the line itself comes closest. */
  beyondMm: number;
}

/** Finds the place at which a branch leaves the axis of its parent. */
export function branchPlace(branchLine: Polyline, parentLine: Polyline, calibreMm: number): BranchPlace {
  const last = branchLine.points[branchLine.points.length - 1];
  const direction = branchLine.directionAt(branchLine.lengthMm, 0.8 * calibreMm);
  let best = { atMm: 0, point: last, beyondMm: 0 };
  let nearest = Number.POSITIVE_INFINITY;
  const consider = (p: Vec3, beyondMm: number): void => {
    const found = parentLine.project(p);
    if (found.distanceMm >= nearest) return;
    nearest = found.distanceMm;
    best = { atMm: found.at, point: found.point, beyondMm };
  };
  for (const p of branchLine.points) consider(p, 0);
  // A branch that leaves at 15 degrees still has its parent's axis within four times the distance.
  const reach = parentLine.project(last).distanceMm * 4;
  for (let s = 0; s <= reach; s += 0.1)
    consider([last[0] + direction[0] * s, last[1] + direction[1] * s, last[2] + direction[2] * s], s);
  return best;
}
