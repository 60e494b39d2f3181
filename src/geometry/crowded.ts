import { type Finding, finding } from '../foundation/finding.js';
import { fixed, pointText } from '../foundation/number-text.js';
import type { ProfileSample } from './measure.js';
import type { Polyline } from './polyline.js';
import type { Surface } from './surface.js';

/** Numerical settings of the recognition. No clinical meaning. */
const CROWDED = {
  /**
   * A section that fills less of its convex hull is waisted, as two lumens side by side are. On grown trees of voxels of 0.6 to 1 mm,
   * noise and all, sections of one lumen fill 0.97 of it or more, those that hold a fused neighbour 0.80 to 0.94.
   */
  fullness: 0.95,
  /** So many sections in a row. */
  sections: 2,
  /** Nearer to the neck the vessel flares into the sac, mm. */
  beforeNeckMm: 1,
} as const;

/** A stretch whose sections hold more than their vessel, mm from its far end. */
export interface CrowdedStretch {
  fromMm: number;
  toMm: number;
}

/**
 * Stretches of a vessel at which its sections are waisted and no known branch opens: a neighbour that touches it is fused with it, or
 * something opens there that no end of the surface shows. `profile` ends at `endMm`.
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
    // an opening within a crowded stretch may be the neighbour's: it neither counts nor ends it
    if (sample.atOpening) continue;
    if ((sample.fullness ?? 1) < CROWDED.fullness) run.push(sample);
    else close();
  }
  close();
  return found;
}

/** What to say of such stretches of a vessel along `line`. */
export function saysCrowded(
  name: string,
  stretches: readonly CrowdedStretch[],
  surface: Surface,
  line: Polyline,
): Finding {
  const [first] = stretches;
  const place = pointText(surface.toFile(line.pointAt((first.fromMm + first.toMm) / 2)));
  const listed = stretches.map(({ fromMm, toMm }) => `${fixed(fromMm, 1)} and ${fixed(toMm, 1)} mm`);
  const text = `between ${listed.join(' and between ')} from its far end its sections hold more than this vessel, near ${place} mm: a neighbour that touches it is fused with it, or a branch that no end shows opens there. Its length, its calibre there, and the places of its branches may be off, and no landing zone goes past that place. Look there, and part them in the segmentation.`;
  return finding('caution', 'neighbour-fused', name, text);
}
