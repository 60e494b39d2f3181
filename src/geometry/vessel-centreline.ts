import { scale } from '../foundation/vector.js';
import { markFlatCaps } from './caps.js';
import type { SurfaceDistances } from './geodesic.js';
import { Polyline } from './polyline.js';
import { refineCentreline } from './refine-centreline.js';
import { ringsAlongPath } from './rough-path.js';
import { median } from './statistics.js';
import type { Surface } from './surface.js';
import { endAtCap, extendToEnd } from './vessel-end.js';

export interface VesselLine {
  /** From the cap or rim of the far end to the other end. */
  line: Polyline;
  /** Median calibre, mm. */
  calibreMm: number;
}

/**
 * Centreline of a single tube. `distances` are those from the end that meets the sac (or the parent vessel); the line starts at the far
 * end's cap. Marks the triangles of both caps on the surface. Returns undefined if no tube can be followed.
 */
export function vesselCentreline(surface: Surface, distances: SurfaceDistances): VesselLine | undefined {
  let tip = -1;
  let run = 0;
  distances.distanceMm.forEach((d, v) => {
    if (Number.isFinite(d) && d > run) {
      run = d;
      tip = v;
    }
  });
  if (tip < 0) return undefined;
  const stepMm = Math.min(1, Math.max(run / 200, 0.1, run / 400));
  const rings = ringsAlongPath(surface, distances, tip, Math.min(stepMm, run / 12));
  if (rings.length < 4) return undefined;
  const calibre = 2 * median(rings.map((r) => r.radiusMm));
  const spacing = Math.min(stepMm, run / 12);
  const trim = Math.floor(Math.min(1.2 * calibre, 0.25 * run) / spacing);
  const middle = rings.slice(trim, rings.length - trim).map((r) => r.centre);
  const first = refineCentreline(surface, middle, calibre);
  if (!first) return undefined;
  const refined = first.calibreMm;
  const reach = (t: number): number => distances.distanceMm[surface.triangles[3 * t]];
  const [start, end] = [first.line.points[0], first.line.points[first.line.points.length - 1]];
  markFlatCaps(surface, (t) => reach(t) > run - refined, start, refined);
  markFlatCaps(surface, (t) => reach(t) < refined, end, refined);
  return closeEnds(surface, first.line, refined);
}

/** Follows a refined line to both ends of the lumen, marks the caps and ends the line on them. */
export function closeEnds(surface: Surface, middle: Polyline, calibreMm: number): VesselLine | undefined {
  const window = 0.8 * calibreMm;
  const last = middle.points[middle.points.length - 1];
  const ahead = extendToEnd(surface, last, middle.directionAt(middle.lengthMm, window), calibreMm);
  const behind = extendToEnd(surface, middle.points[0], scale(middle.directionAt(0, window), -1), calibreMm);
  const whole = refineCentreline(surface, [...behind.reverse(), ...middle.points, ...ahead], calibreMm);
  if (!whole) return undefined;
  const line = whole.line;
  const start = endAtCap(surface, line.points[0], scale(line.directionAt(0, window), -1), calibreMm);
  const end = endAtCap(
    surface,
    line.points[line.points.length - 1],
    line.directionAt(line.lengthMm, window),
    calibreMm,
  );
  const points = [...(start ? [start] : []), ...line.points, ...(end ? [end] : [])];
  return { line: new Polyline(points), calibreMm: whole.calibreMm };
}
