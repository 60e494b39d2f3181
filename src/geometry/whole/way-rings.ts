import type { Vec3 } from '../../foundation/vector.js';
import type { Way } from '../lumen.js';
import { localFit, Polyline } from '../polyline.js';
import type { Ring } from '../rough-path.js';
import { sectionAt } from '../section.js';
import { RunningMedian } from '../statistics.js';
import type { Surface } from '../surface.js';

/** Numerical settings. */
const RINGS = {
  stepMm: 0.5,
  leastCount: 12,
  /** Half width of the smoothing, in depths and mm. */
  windowDepths: 1.2,
  windowMm: 0.8,
  /** A place with this many times the usual depth is in the sac. */
  wide: 1.7,
} as const;

/** A path through the lumen as places with radii, from the far end to the sac. */
export interface WayRings {
  /** Up to the wide part of the sac. */
  rings: Ring[];
  /** The last place as narrow as the vessel, which its line must reach. */
  lastNarrow: Ring;
}

/**
 * A resampled path, cut where the sac begins: beyond the last place at which its depth, or the calibre of a section there, is not above
 * `ratio` times the median from the far end up to there. A bifurcation or bulge on the way, after which the lumen narrows again, is
 * ignored.
 */
export function ringsAlongWay(surface: Surface, way: Way, ratio: number): WayRings {
  const line = new Polyline(way.points);
  const stepMm = Math.min(RINGS.stepMm, line.lengthMm / RINGS.leastCount);
  const count = Math.max(1, Math.floor(line.lengthMm / stepMm));
  const all: Ring[] = [];
  const [depths, calibres] = [new RunningMedian(), new RunningMedian()];
  let last = 0;
  let usual = 0;
  for (let i = 0; i <= count; i++) {
    const at = (i * line.lengthMm) / count;
    const radiusMm = depthAt(line, way.depthMm, at);
    const half = Math.max(RINGS.windowMm, RINGS.windowDepths * radiusMm);
    const { point, direction } = localFit(line, at, half);
    const centre: Vec3 = surface.isInside(point) ? point : line.pointAt(at);
    all.push({ centre, radiusMm });
    depths.add(radiusMm);
    const calibreMm = sectionAt(surface, centre, direction)?.equivalentMm;
    if (calibreMm !== undefined) calibres.add(calibreMm);
    const isWide =
      radiusMm > ratio * depths.value && (calibreMm === undefined || calibreMm > ratio * calibres.value);
    if (isWide) continue;
    last = i;
    usual = depths.value;
  }
  // sections on the line decide where the flare begins, so they must extend into it
  let end = last + 1;
  while (end < all.length && all[end].radiusMm < RINGS.wide * usual) end++;
  return { rings: all.slice(0, end), lastNarrow: all[last] };
}

function depthAt(line: Polyline, depthMm: readonly number[], at: number): number {
  let low = 0;
  let high = line.at.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (line.at[middle] < at) low = middle + 1;
    else high = middle;
  }
  if (low === 0) return depthMm[0];
  const span = line.at[low] - line.at[low - 1];
  const f = span > 0 ? (at - line.at[low - 1]) / span : 1;
  return depthMm[low - 1] + f * (depthMm[low] - depthMm[low - 1]);
}
