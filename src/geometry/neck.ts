import { add, distance, scale, type Vec3 } from '../foundation/vector.js';
import { Polyline } from './polyline.js';
import type { Surface } from './surface.js';

/** The place where a vessel's centreline meets the sac. */
export interface NeckOnSac {
  /** The line, extended to the sac if it stopped short. */
  line: Polyline;
  atMm: number;
  /** Gap between the vessel's surface and the sac, mm; 0 if it reaches it. */
  gapMm: number;
}

/**
 * First place, coming from the far end, where the centreline passes into the sac. A vessel that stops short is extended along its
 * direction by at most `largestGapMm`. Returns undefined if it still does not meet the sac.
 */
export function neckOnSac(
  line: Polyline,
  sac: Surface,
  calibreMm: number,
  largestGapMm: number,
): NeckOnSac | undefined {
  for (let i = 0; i + 1 < line.points.length; i++) {
    const hit = sac.firstEntry(line.points[i], line.points[i + 1]);
    if (hit) return { line, atMm: line.at[i] + hit.distance, gapMm: 0 };
  }
  const last = line.points[line.points.length - 1];
  const direction = line.directionAt(line.lengthMm, 0.8 * calibreMm);
  // A vessel that ends exactly on the sac may end inside it by a rounding error, so the search starts a little before.
  const before = Math.min(0.25 * calibreMm, line.lengthMm / 2);
  const from = add(last, scale(direction, -before));
  const hit = sac.firstEntry(from, add(last, scale(direction, largestGapMm)));
  if (!hit) return undefined;
  const end: Vec3 = hit.point;
  const gapMm = Math.max(0, hit.distance - before);
  if (gapMm === 0) return { line, atMm: line.lengthMm - (before - hit.distance), gapMm };
  return { line: new Polyline([...line.points, end]), atMm: line.lengthMm + distance(last, end), gapMm };
}
