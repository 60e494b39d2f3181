import { cube } from '../foundation/power.js';
import type { Vec3 } from '../foundation/vector.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { widestFwhmMm } from './blur.js';
import type { LesionToSearch } from './junction.js';
import { depthsOf, opacifiedHu, structureAt, vesselLines } from './opacified.js';
import { placeMm } from '../grid/even-grid.js';
import { beside, gathered, type ScanRegion } from './scan-region.js';
import type { ScanToRead } from './wall.js';

/** A part inside a surface without contrast agent in the scan: thrombus, or drawn too far. Place mm LPS. */
export interface Uncontrasted {
  /** A structure's name, or `sac`. */
  where: string;
  volumeMl: number;
  pointMm: Vec3;
}

/**
 * Parts inside the surfaces that are not opacified and thicker than twice the blur, of at least the rule `uncontrasted-least`, the
 * largest first. A part is the region deeper than the blur among places that are not bright, dilated by the blur, so that the dim rim
 * along every wall does not count.
 */
export function uncontrasted(
  lesion: LesionToSearch,
  region: ScanRegion,
  scan: ScanToRead,
  rules: Pick<Rules, 'byId'>,
): Uncontrasted[] {
  const blurMm = widestFwhmMm(scan.blur);
  const leastMl = numberOf(rules, 'uncontrasted-least');
  const { grey, owner, stepMm } = region;
  const bright = opacifiedHu(scan.blur);
  const isDim = (place: number): boolean => owner[place] > 0 && grey[place] < bright;
  const depth = depthsOf(region, isDim);
  const lines = vesselLines(lesion.vessels, scan.toScan);
  const seen = new Uint8Array(grey.length);
  const found: Uncontrasted[] = [];
  for (let first = 0; first < grey.length; first++) {
    if (seen[first] || depth[first] < blurMm) continue;
    const core = gathered(region, first, seen, (place) => depth[place] >= blurMm);
    const volumeMl = (volumeOf(region, core, depth, isDim, blurMm) * cube(stepMm)) / 1000;
    if (volumeMl < leastMl) continue;
    const deepest = core.reduce((best, place) => (depth[place] > depth[best] ? place : best), core[0]);
    const pointMm = placeMm(region, deepest);
    const { name: where } = structureAt(lesion.surfaces[owner[deepest] - 1], lines, pointMm);
    found.push({ where, volumeMl, pointMm });
  }
  return found.sort((a, b) => b.volumeMl - a.volumeMl);
}

/** Number of dim places within the blur of a core, including the core. */
function volumeOf(
  region: ScanRegion,
  core: readonly number[],
  depth: Float32Array,
  isDim: (place: number) => boolean,
  blurMm: number,
): number {
  const taken = new Set(core);
  let rim = [...core];
  for (let grown = 0; grown < blurMm / region.stepMm; grown++) {
    const next: number[] = [];
    for (const place of rim)
      beside(region, place, (other, steps) => {
        if (steps > 1.5 || taken.has(other) || !isDim(other) || depth[other] > depth[place]) return;
        taken.add(other);
        next.push(other);
      });
    rim = next;
  }
  return taken.size;
}
