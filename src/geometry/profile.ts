import { distance } from '../foundation/vector.js';
import type { BranchOpening, ProfileSample } from './measure.js';
import { measureOutline } from './outline.js';
import type { Polyline } from './polyline.js';
import { cutsCap, type Section, sectionAt } from './section.js';
import type { Surface } from './surface.js';

/** Numerical settings of a profile, in calibres. No clinical meaning. */
const PROFILE = {
  /** Half width over which the direction of a section is fitted. */
  directionWindow: 0.6,
  /** A section whose centre is farther than this from the line is not a section of this vessel. */
  largestOffset: 0.5,
  /** At a branch's opening the outline is limited to the neighbours' largest half width, with this allowance. */
  openingAllowance: 1.03,
  /** Margin of an opening to either side, in calibres of its branch. */
  openingMargin: 0.25,
} as const;

/** Stretches of a vessel where a branch opens, so that its sections include the branch. */
export interface OpenStretch {
  fromMm: number;
  toMm: number;
}

/** The stretches over which sections include branches, with a quarter of their calibre to either side. */
export const openStretches = (openings: readonly BranchOpening[]): OpenStretch[] =>
  openings.map(({ fromMm, toMm, calibreMm = 0 }) => {
    const margin = PROFILE.openingMargin * calibreMm;
    return { fromMm: fromMm - margin, toMm: toMm + margin };
  });

export interface ProfileRange {
  fromMm: number;
  toMm: number;
  stepMm: number;
}

/**
 * Sections perpendicular to the centreline every `stepMm` from `fromMm` to `toMm`. Sections that would cut a cap, run into a rim or leave
 * the vessel are left out. At a branch's opening the outline is cut off along the wall of the sections on both sides, so that the profile
 * does not jump there; such samples are marked.
 */
export function calibreProfile(
  surface: Surface,
  line: Polyline,
  calibreMm: number,
  range: ProfileRange,
  openings: readonly OpenStretch[] = [],
): ProfileSample[] {
  const found: { atMm: number; section: Section; opening?: OpenStretch }[] = [];
  const count = Math.floor((range.toMm - range.fromMm) / range.stepMm + 1e-9);
  for (let i = 0; i <= count; i++) {
    const atMm = range.fromMm + i * range.stepMm;
    const point = line.pointAt(atMm);
    const section = sectionAt(surface, point, line.directionAt(atMm, PROFILE.directionWindow * calibreMm));
    if (!section || cutsCap(surface, section)) continue;
    const opening = openings.find((o) => atMm >= o.fromMm && atMm <= o.toMm);
    if (opening) found.push({ atMm, section, opening });
    else if (
      distance(section.centre, point) <=
      PROFILE.largestOffset * Math.max(calibreMm, section.equivalentMm)
    )
      found.push({ atMm, section });
  }
  const clear = found.filter((f) => !f.opening);
  return found.flatMap(({ atMm, section, opening }) => {
    if (!opening) return [sampleOf(atMm, section)];
    const before = clear.findLast((f) => f.atMm < atMm);
    const after = clear.find((f) => f.atMm > atMm);
    const sides = [before, after].flatMap((f) => (f ? [f.section.maxMm / 2] : []));
    if (sides.length === 0) return [];
    const outline = heldTo(section.outline, PROFILE.openingAllowance * Math.max(...sides));
    return [{ ...sampleOf(atMm, measureOutline(outline)), atOpening: true }];
  });
}

function sampleOf(
  atMm: number,
  m: Pick<Section, 'equivalentMm' | 'minMm' | 'maxMm' | 'areaMm2' | 'fullness'>,
): ProfileSample {
  const { equivalentMm, minMm, maxMm, areaMm2, fullness } = m;
  return { atMm, equivalentMm, minMm, maxMm, areaMm2, fullness };
}

/** The outline with every point limited to `radiusMm` from the centreline. */
function heldTo(outline: Float64Array, radiusMm: number): Float64Array {
  const held = outline.slice();
  for (let i = 0; i < held.length; i += 2) {
    const r = Math.hypot(held[i], held[i + 1]);
    if (r <= radiusMm) continue;
    held[i] *= radiusMm / r;
    held[i + 1] *= radiusMm / r;
  }
  return held;
}
