import { add, distance, normalize, scale, subtract, type Vec3 } from '../foundation/vector.js';
import { neckByCalibre } from '../geometry/whole/neck-by-calibre.js';
import { entry } from './refusals.js';
import { evenBefore, roughTube } from './rough-tube.js';
import type { Scene } from './scene.js';
import { calibreAt, calibresOf, lineOf, nearestStation } from './tube.js';
import type { SeedEnd, Vessel } from './vessel.js';

/** How far the course is extended past a vessel's point, mm. */
const PAST_MM = 3.5;
/** Radius above which a section counts as sac, mm. */
const MOST_RADIUS_MM = 13;
/** Distance before its neck up to which a vessel's wall is its own, mm. */
const BEFORE_NECK_MM = 1.2;

/** A vessel along its course to the sac, with walls at half level and its opening. */
export function roughVessel(scene: Scene, end: SeedEnd, at: Vec3, course: readonly Vec3[]): Vessel {
  const further = course.find((p) => distance(p, course[0]) > 4) ?? course[course.length - 1];
  const outwards = normalize(subtract(course[0], further));
  const path = [add(course[0], scale(outwards, PAST_MM)), ...course];
  const tube = roughTube(path, scene, MOST_RADIUS_MM);
  const { station: start } = nearestStation(tube, at, Math.ceil(2 * (PAST_MM / 0.5)) + 4);
  evenBefore(tube, start);
  const line = lineOf(tube);
  const calibres = calibresOf(tube);
  const profile = calibres.slice(start).map((equivalentMm, i) => ({
    atMm: line.at[start + i],
    equivalentMm,
    minMm: equivalentMm,
    maxMm: equivalentMm,
    areaMm2: (Math.PI / 4) * equivalentMm ** 2,
  }));
  const neckMm = neckByCalibre(profile, 1.25);
  const neck = neckMm === undefined ? calibres.length - 1 : line.at.findIndex((s) => s >= neckMm);
  const last = line.at.findLastIndex((s) => s <= line.at[neck] - BEFORE_NECK_MM);
  return { end, tube, start, neck, last: Math.min(calibres.length - 1, Math.max(start + 3, last)) };
}

/** Ends branches where they enter their parents, since the courses go on to the sac. */
export function endBranches(vessels: readonly Vessel[]): void {
  for (const vessel of vessels) {
    if (vessel.end.role !== 'branch') continue;
    const parent = vessels.find(({ end }) => end.name === vessel.end.of);
    const neck = parent && entry(vessel, parent);
    if (neck === undefined) continue;
    const line = lineOf(vessel.tube);
    const near = nearestStation(parent!.tube, vessel.tube.centres[neck]);
    const before = BEFORE_NECK_MM + 0.25 * calibreAt(parent!.tube, near.station);
    vessel.neck = neck;
    vessel.last = Math.max(
      vessel.start + 3,
      line.at.findLastIndex((s) => s <= line.at[neck] - before),
    );
  }
}
