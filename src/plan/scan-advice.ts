import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import type { VesselMeasure } from '../geometry/measure.js';
import { ruleNumber, type Rules } from '../rules/rule.js';
import { citeOf } from '../rules/source-text.js';

/**
 * Whether the slices are thin enough for the thinnest feeder, by the calibre of its landing zone or else its mean calibre. Lengths mm.
 */
export function scanAdvice(
  { scan }: Pick<Case, 'scan'>,
  vessels: readonly Pick<VesselMeasure, 'name' | 'role' | 'landing' | 'calibreMm'>[],
  rules: Pick<Rules, 'byId'>,
): Finding[] {
  const thickness = scan.sliceThicknessMm;
  const feeders = vessels
    .filter(({ role }) => role === 'feeder')
    .map(({ name, landing, calibreMm }) => ({ name, calibre: landing?.calibreMm ?? calibreMm.mean }))
    .sort((a, b) => a.calibre - b.calibre);
  if (thickness === undefined || feeders.length === 0) return [];
  const [thinnest] = feeders;
  const slices = ruleNumber(rules, 'scan-thinnest-slices');
  const advice = ruleNumber(rules, 'scan-slice-advice');
  if (thinnest.calibre < slices.value * thickness)
    return [
      finding(
        'caution',
        'scan-coarse',
        thinnest.name,
        `The feeder is ${fixed(thinnest.calibre, 1)} mm wide, less than ${fixed(slices.value, 0)} slices of ${fixed(thickness, 2)} mm: a scan shows so small a vessel with the wrong size (${citeOf(slices.source)}). Have the scan reconstructed with slices of at most ${fixed(thinnest.calibre / slices.value, 2)} mm, or size the device on the angiogram.`,
      ),
    ];
  if (thickness > advice.value)
    return [
      finding(
        'caution',
        'scan-coarse',
        'scan.slice_thickness',
        `Slices of ${fixed(thickness, 2)} mm are coarse for this plan, which needs at most ${fixed(advice.value, 2)} mm (${citeOf(advice.source)}). Ask for a thin reconstruction.`,
      ),
    ];
  return [];
}
