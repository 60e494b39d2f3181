import { type Finding, finding } from '../foundation/finding.js';
import { fixed, pointText } from '../foundation/number-text.js';
import type { ProfileSample } from './measure.js';
import type { Polyline } from './polyline.js';
import type { Surface } from './surface.js';

/** Numerical settings of the recognition. No clinical meaning. */
const CROWDED = {
  /**
   * A section that fills less than this of its convex hull is waisted, like two lumens side by side. On synthetic trees with voxels of 0.6
   * to 1 mm, including noise, sections of one lumen fill at least 0.97 of it, and those with a fused neighbour 0.80 to 0.94.
   */
  fullness: 0.95,
  /** Number of consecutive sections. */
  sections: 2,
  /** Distance to the neck within which the vessel flares into the sac, mm. */
  beforeNeckMm: 1,
} as const;

/** A stretch whose sections contain more than the vessel, mm from its far end. */
export interface CrowdedStretch {
  fromMm: number;
  toMm: number;
}

/**
 * Stretches of a vessel at which its sections are waisted and no known branch opens: a touching neighbour is fused with it, or something
 * opens there that has no end on the surface. `profile` ends at `endMm`.
 */
export function crowdedStretches(profile: readonly ProfileSample[], endMm: number): CrowdedStretch[] {
  const found: CrowdedStretch[] = [];
  let run: ProfileSample[] = [];
  const close = (): void => {
    if (run.length >= CROWDED.sections) found.push({ fromMm: run[0].atMm, toMm: run[run.length - 1].atMm });
    run = [];
  };
  for (const sample of profile) {
    if (sample.atMm > endMm - CROWDED.beforeNeckMm) break;
    // an opening within a crowded stretch may be that of the neighbour, so it neither counts nor ends the stretch
    if (sample.atOpening) continue;
    if ((sample.fullness ?? 1) < CROWDED.fullness) run.push(sample);
    else close();
  }
  close();
  return found;
}

/** The finding for these stretches of a vessel along `line`. */
export function saysCrowded(
  name: string,
  stretches: readonly CrowdedStretch[],
  surface: Surface,
  line: Polyline,
): Finding {
  const [first] = stretches;
  const place = pointText(surface.toFile(line.pointAt((first.fromMm + first.toMm) / 2)));
  const listed = stretches.map(({ fromMm, toMm }) => `${fixed(fromMm, 1)} and ${fixed(toMm, 1)} mm`);
  const text = `between ${listed.join(' and between ')} from its far end its sections contain more than this vessel, near ${place} mm: a touching neighbour is fused with it, or a branch without an end opens there. Its length, its calibre there, and the places of its branches may be off, and no landing zone goes past that place. Look there, and separate them in the segmentation.`;
  return finding('caution', 'neighbour-fused', name, text);
}
