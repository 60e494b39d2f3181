import { add, cross, normalize, perpendicular, scale, subtract, type Vec3 } from '../foundation/vector.js';
import type { Polyline } from '../geometry/polyline.js';
import { median } from '../geometry/statistics.js';
import { type GreyVolume, valueAt } from '../volume/ct/grey-volume.js';
import { SOFT_HU } from './opacified.js';

const RAYS = 24;
const RAY_STEP_MM = 0.2;

/** Calibre at a place of the axis by the half level between the axis and its surroundings, as the median of rays across. */
export function calibreAt(
  volume: GreyVolume,
  line: Polyline,
  atMm: number,
  guessMm: number,
): { calibre: number; hu: number }[] {
  const { centre, right, up } = planeAt(volume, line, atMm, guessMm);
  const value = valueAt(volume, ...centre);
  if (Number.isNaN(value)) return [];
  const radii: number[] = [];
  const farthest = guessMm + 4;
  for (let ray = 0; ray < RAYS; ray++) {
    const turn = (2 * Math.PI * ray) / RAYS;
    const way = add(scale(right, Math.cos(turn)), scale(up, Math.sin(turn)));
    const along: number[] = [];
    for (let r = 0; r <= farthest; r += RAY_STEP_MM) {
      const v = valueAt(volume, ...add(centre, scale(way, r)));
      if (Number.isNaN(v)) break;
      along.push(v);
    }
    const half = (value + Math.min(...along)) / 2;
    const past = along.findIndex((v) => v < half);
    if (past > 0) {
      const [before, after] = [along[past - 1], along[past]];
      radii.push((past - 1 + (before - half) / (before - after)) * RAY_STEP_MM);
    }
  }
  return radii.length < RAYS / 2 ? [] : [{ calibre: 2 * median(radii), hu: value }];
}

/** The centre of the bright area in the plane across the axis. */
export const centredAt = (volume: GreyVolume, line: Polyline, atMm: number, calibreMm: number): Vec3 =>
  planeAt(volume, line, atMm, calibreMm).centre;

/** A plane across the axis, centred on the bright area. */
function planeAt(
  volume: GreyVolume,
  line: Polyline,
  atMm: number,
  calibreMm: number,
): { centre: Vec3; right: Vec3; up: Vec3 } {
  const ahead = line.pointAt(Math.min(line.lengthMm, atMm + 2));
  const along = normalize(subtract(ahead, line.pointAt(Math.max(0, atMm - 2))));
  const right = perpendicular(along);
  const up = cross(along, right);
  let centre = line.pointAt(atMm);
  for (let round = 0; round < 3; round++) {
    const floor = SOFT_HU;
    let [sum, u, v] = [0, 0, 0];
    const reach = 0.6 * calibreMm + 0.5;
    for (let a = -reach; a <= reach; a += 0.4)
      for (let b = -reach; b <= reach; b += 0.4) {
        if (Math.hypot(a, b) > reach) continue;
        const value = valueAt(volume, ...add(centre, add(scale(right, a), scale(up, b)))) - floor;
        if (!(value > 0)) continue;
        sum += value;
        u += a * value;
        v += b * value;
      }
    if (sum === 0) break;
    centre = add(centre, add(scale(right, u / sum), scale(up, v / sum)));
  }
  return { centre, right, up };
}
