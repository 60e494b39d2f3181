import { distance } from '../foundation/vector.js';
import type { ProfileSample } from './measure.js';
import type { Polyline } from './polyline.js';
import { cutsCap, sectionAt } from './section.js';
import type { Surface } from './surface.js';

/** Half width, in calibres, over which the direction of a section is taken. */
const DIRECTION_WINDOW = 0.6;
/** A section whose centre lies farther than this many calibres from the line is no section of this vessel. */
const LARGEST_OFFSET = 0.5;

/**
 * Sections perpendicular to the centreline every `stepMm` (a divisor of it where the vessel is thin), from
 * `fromMm` to `toMm`. Sections that would cut a cap, run into a rim or leave the vessel are left out.
 */
export function calibreProfile(
  surface: Surface,
  line: Polyline,
  calibreMm: number,
  range: { fromMm: number; toMm: number; stepMm: number },
): ProfileSample[] {
  const samples: ProfileSample[] = [];
  const count = Math.floor((range.toMm - range.fromMm) / range.stepMm + 1e-9);
  for (let i = 0; i <= count; i++) {
    const atMm = range.fromMm + i * range.stepMm;
    const point = line.pointAt(atMm);
    const section = sectionAt(surface, point, line.directionAt(atMm, DIRECTION_WINDOW * calibreMm));
    if (!section || cutsCap(surface, section)) continue;
    if (distance(section.centre, point) > LARGEST_OFFSET * calibreMm) continue;
    const { equivalentMm, minMm, maxMm, areaMm2 } = section;
    samples.push({ atMm, equivalentMm, minMm, maxMm, areaMm2 });
  }
  return samples;
}
