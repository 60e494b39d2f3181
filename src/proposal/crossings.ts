import { pointText } from '../foundation/number-text.js';
import { add, normalize, scale, subtract, type Vec3 } from '../foundation/vector.js';
import { median } from '../geometry/statistics.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { settledPoint } from './courses.js';
import { huText } from './refusals.js';
import type { Scene } from './scene.js';
import { calibreAt, calibresOf, lineOf, nearestStation } from './tube.js';
import type { Vessel } from './vessel.js';

/** Least gap of lung between a vessel and the one that continues straight on, mm. */
const CLEAR_MM = 0.4;
/** Length over which the direction of a vessel is taken, calibres and at least mm. */
const OVER_CALIBRES = 2;
const OVER_MM = 3;
/**
 * Search for a straight continuation: distance ahead in calibres, number of places, and the shift allowed at each as a fraction of the
 * calibre.
 */
const AHEAD_CALIBRES = 4.5;
const PLACES = 8;
const ASIDE = 0.35;
/** Number of the last places that must be clear of the vessel itself. */
const CLEAR_PLACES = 3;
/** Length within which a path may change from one vessel to another, calibres. */
const CHANGE_CALIBRES = 4;

/**
 * Vessels whose path changes from one vessel to another where the two cross or touch: the first vessel continues straight on, and the
 * second comes from straight behind, and neither is named.
 */
export function crossings(
  scene: Scene,
  vessels: readonly Vessel[],
  isSac: (p: Vec3) => boolean,
  rules: Rules,
): string[] {
  const like = numberOf(rules, 'proposal-opacified');
  return vessels.flatMap((vessel) => {
    const { end, tube, start, last } = vessel;
    const line = lineOf(tube);
    const calibreMm = median(calibresOf(tube).slice(start, last + 1));
    const overMm = Math.max(OVER_MM, OVER_CALIBRES * calibreMm);
    const look = (station: number, side: 1 | -1): boolean => {
      const here = tube.centres[station];
      const from = line.pointAt(line.at[station] - side * overMm);
      const ahead = { from: here, direction: normalize(subtract(here, from)), calibreMm, like };
      return goesOn(scene, vessel, ahead, vessels, isSac);
    };
    const stations = tube.centres.map((_, i) => i).slice(start, last + 1);
    const leaving = stations.filter((i) => line.at[i] - overMm >= line.at[start] && look(i, 1));
    const coming = stations.filter(
      (j) => j >= leaving[0] && line.at[j] + overMm <= line.at[last] && look(j, -1),
    );
    for (const i of leaving) {
      const until = line.at[i] + CHANGE_CALIBRES * calibreMm;
      const j = coming.find((one) => one >= i && line.at[one] <= until);
      if (j !== undefined)
        return [
          `${end.name}: the way from its point, where ${huText(scene.volume, end.at)}, to the sac changes from one vessel to another at ${pointText(line.pointAt((line.at[i] + line.at[j]) / 2))}, where both cross or touch: the point is in the one that does not lead to the sac. Move it into the other; if both are branches of it, name them.`,
        ];
    }
    return [];
  });
}

/** Whether an unnamed opacified vessel continues straight on from a place in a vessel and leaves it. */
function goesOn(
  { volume, lumenHu }: Scene,
  own: Vessel,
  { from, direction, calibreMm, like }: { from: Vec3; direction: Vec3; calibreMm: number; like: number },
  vessels: readonly Vessel[],
  isSac: (p: Vec3) => boolean,
): boolean {
  for (let n = PLACES; n > 0; n--) {
    const p = add(from, scale(direction, (AHEAD_CALIBRES * calibreMm * n) / PLACES));
    const found = settledPoint(volume, p, ASIDE * calibreMm, lumenHu);
    if (!found || found.like < like) return false;
    if (n <= PLACES - CLEAR_PLACES) continue;
    // the vessel also continues past its own point
    if (isSac(found.at) || nearestStation(own.tube, found.at).station <= own.start + 1) return false;
    const isNamed = vessels.some((other) => {
      const near = nearestStation(other.tube, found.at, other.neck);
      return near.mm < Math.min(calibreMm, calibreAt(other.tube, near.station)) / 2 + CLEAR_MM;
    });
    if (isNamed) return false;
  }
  return true;
}
