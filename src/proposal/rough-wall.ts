import type { Vec3 } from '../foundation/vector.js';
import { type GreyVolume, valueAt } from '../volume/ct/grey-volume.js';

const STEP_MM = 0.2;
/** Least fall from the lumen to the outside, HU. */
const LEAST_CONTRAST_HU = 120;
/** The outside is sampled until the scan gets brighter again by this share of the fall, */
const RISE = 0.15;
/** or up to this far past the darkest place, mm. */
const PAST_MM = 1.5;

/** Buffer for the values of one ray. */
const kept = new Float64Array(256);

/** A wall, mm from the start of the search, and the value outside it. */
export interface RoughWall {
  atMm: number;
  outsideHu: number;
}

/** Search for a wall: value and greatest value of the lumen, HU, and greatest distance of the wall, mm. */
export interface WallSearch {
  lumenHu: number;
  /** A brighter value before the wall is bone, and a wall behind it would be that of the bone. */
  mostHu: number;
  mostMm: number;
}

/**
 * First wall from a place in the lumen along a unit direction: the half level between the lumen and the value just outside it, mm from
 * the place; 'bone' if that comes first. Undefined if nothing darker by 120 HU comes within `mostMm`, or the scan ends.
 */
export function roughWall(
  volume: GreyVolume,
  from: Vec3,
  direction: Vec3,
  { lumenHu, mostHu, mostMm }: WallSearch,
): RoughWall | 'bone' | undefined {
  const most = Math.floor((mostMm + PAST_MM) / STEP_MM) + 1;
  const values = most <= kept.length ? kept : new Float64Array(most);
  let count = 0;
  let [lowest, lowestAt] = [lumenHu, 0];
  for (; count < most; count++) {
    const at = count * STEP_MM;
    const value = valueAt(
      volume,
      from[0] + at * direction[0],
      from[1] + at * direction[1],
      from[2] + at * direction[2],
    );
    if (Number.isNaN(value)) break;
    values[count] = value;
    if (value < lowest) [lowest, lowestAt] = [value, at];
    const fall = lumenHu - lowest;
    if (fall < LEAST_CONTRAST_HU) continue;
    if (value > lowest + RISE * fall || at > lowestAt + PAST_MM) break;
  }
  if (lumenHu - lowest < LEAST_CONTRAST_HU) return undefined;
  const level = (lumenHu + lowest) / 2;
  let first = 0;
  while (first < count && values[first] >= level) {
    if (values[first] > mostHu) return 'bone';
    first++;
  }
  if (first === count || first === 0) return undefined;
  const [a, b] = [values[first - 1], values[first]];
  const atMm = (first - 1 + (a - level) / (a - b)) * STEP_MM;
  return atMm <= mostMm ? { atMm, outsideHu: lowest } : undefined;
}
