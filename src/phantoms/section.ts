import { add, cross, perpendicular, scale, type Vec3 } from '../foundation/vector.js';

/** A plane section of an implicit body: the piece that contains the given point. */
export interface BodySection {
  areaMm2: number;
  /** 2·sqrt(area/pi), mm. */
  equivalentMm: number;
  /** Largest distance of the piece from the point, mm. */
  reachMm: number;
}

/**
 * Section of `field` by the plane through `point` across `direction`, by filling a square grid of `gridMm` from `point`; boundary squares
 * are weighted by depth. Shares no code with the program's sections. Stops at `enoughMm2` and then returns the area found so far.
 */
export function sectionOf(
  field: (p: Vec3) => number,
  point: Vec3,
  direction: Vec3,
  gridMm: number,
  enoughMm2: number,
): BodySection {
  const u = perpendicular(direction);
  const v = cross(direction, u);
  const seen = new Set<number>();
  const keyOf = (i: number, j: number): number => (i + 4096) * 8192 + (j + 4096);
  const stack: [number, number][] = [[0, 0]];
  seen.add(keyOf(0, 0));
  let squares = 0;
  let reachMm = 0;
  const enough = enoughMm2 / gridMm ** 2;
  for (let at = stack.pop(); at !== undefined && squares < enough; at = stack.pop()) {
    const [i, j] = at;
    const value = field(add(point, add(scale(u, i * gridMm), scale(v, j * gridMm))));
    squares += Math.min(1, Math.max(0, 0.5 - value / gridMm));
    if (value >= 0) continue;
    reachMm = Math.max(reachMm, Math.hypot(i, j) * gridMm);
    for (const [p, q] of [
      [i + 1, j],
      [i - 1, j],
      [i, j + 1],
      [i, j - 1],
    ] as const) {
      const key = keyOf(p, q);
      if (seen.has(key)) continue;
      seen.add(key);
      stack.push([p, q]);
    }
  }
  const areaMm2 = squares * gridMm ** 2;
  return { areaMm2, equivalentMm: 2 * Math.sqrt(areaMm2 / Math.PI), reachMm };
}
