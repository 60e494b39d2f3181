import { add, distance, normalize, scale, subtract, type Vec3 } from '../foundation/vector.js';
import { markRoundTip } from './caps.js';
import { extendAlong } from './refine-centreline.js';
import { cutsCap, sectionAt } from './section.js';
import type { Surface } from './surface.js';

/**
 * Distance before the end of the lumen from which the end is examined, calibres: near enough for the end to be straight ahead in a bend,
 * far enough for a complete section.
 */
const LOOK_CALIBRES = 0.7;

/**
 * Follows a vessel from the end of its line to the end of its lumen. It first stops short of the end and marks the cap straight ahead,
 * and then continues to the last section that does not cut the cap: on a surface made from voxels a flat end is rounded and bumpy, and
 * sections that cut its rim would turn the line back on itself.
 */
export function extendToEnd(surface: Surface, from: Vec3, direction: Vec3, calibreMm: number): Vec3[] {
  // A vessel may be much narrower or wider at its end than elsewhere.
  const calibreAt = (p: Vec3, d: Vec3): number => sectionAt(surface, p, d)?.equivalentMm ?? calibreMm;
  const startMm = calibreAt(from, direction);
  const isClear = (point: Vec3, ahead: Vec3): boolean =>
    surface.raycast(point, ahead, LOOK_CALIBRES * startMm) === undefined;
  const short = isClear(from, direction)
    ? extendAlong(
        surface,
        from,
        direction,
        startMm,
        (section, ahead) => !cutsCap(surface, section) && isClear(section.centre, ahead),
      )
    : [];
  const line = [from, ...short];
  const last = line[line.length - 1];
  const back = line.findLast((p) => distance(last, p) > 0.5 * startMm);
  const outward = back ? normalize(subtract(last, back)) : direction;
  const endMm = calibreAt(last, outward);
  endAtCap(surface, last, outward, endMm);
  return [...short, ...extendAlong(surface, last, outward, endMm, (s) => !cutsCap(surface, s))];
}

/** The place where the line leaves the lumen at its end; marks the cap there. */
export function endAtCap(surface: Surface, from: Vec3, outward: Vec3, calibreMm: number): Vec3 | undefined {
  const hit = surface.raycast(from, outward, 2 * calibreMm);
  if (!hit) return undefined;
  if (!surface.isCap[hit.triangle])
    markRoundTip(surface, hit.triangle, outward, add(hit.point, scale(outward, -calibreMm / 2)), calibreMm);
  return hit.distance > 1e-6 ? hit.point : undefined;
}
