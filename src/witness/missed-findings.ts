import { type Finding, finding } from '../foundation/finding.js';
import { fixed, pointText } from '../foundation/number-text.js';
import type { Vec3 } from '../foundation/vector.js';
import type { VesselMeasure } from '../geometry/measure.js';
import { type Rules, ruleNumber } from '../rules/rule.js';
import { citeOf } from '../rules/source-text.js';
import type { MissedVessel } from './missed-vessels.js';
import type { Uncontrasted } from './uncontrasted.js';

const placed = (p: Vec3): string => `${pointText(p)} mm`;

/** Findings on vessels outside the surfaces, and on parts without contrast agent. */
export function missedFindings(
  missed: readonly MissedVessel[],
  dim: readonly Uncontrasted[],
  vessels: readonly VesselMeasure[],
  rules: Rules,
): Finding[] {
  const limit = ruleNumber(rules, 'smallest-usual-feeder');
  const findings: Finding[] = [];
  for (const { kind, calibreMm, lengthMm, pointMm, joins } of missed) {
    const seen = `${fixed(calibreMm, 1)} mm wide at ${placed(pointMm)}, followed for ${fixed(lengthMm, 0)} mm`;
    if (kind === 'feeder-candidate') {
      const isTreated = calibreMm >= limit.value;
      findings.push(
        finding(
          isTreated ? 'stop' : 'caution',
          'feeder-not-segmented',
          joins,
          `An opacified vessel joins the sac and is in no surface: ${seen}. A feeder or drain that was not segmented?${isTreated ? ` A feeder of ${fixed(limit.value, 0)} ${limit.unit} or more is treated (${citeOf(limit.source)}).` : ''} Look at it on the slices, add it to the segmentation and name it.`,
        ),
      );
    } else if (kind === 'unclear')
      findings.push(
        finding(
          'caution',
          'missed-unclear',
          joins,
          `An opacified vessel leaves ${joins} close to the neck and is in no surface: ${seen}. It may feed the sac or lead away: look at it on the slices.`,
        ),
      );
  }
  findings.push(...branchFindings(missed, vessels));
  for (const { where, volumeMl, pointMm } of dim)
    findings.push(
      finding(
        'caution',
        'uncontrasted',
        where,
        `${fixed(volumeMl, 1)} mL inside ${where}, about ${placed(pointMm)}, is not opacified in the scan: thrombus, or drawn too far. Calibres and volumes include it.`,
      ),
    );
  return findings;
}

/** Side branches: a caution for each that leaves in a landing zone, one note for all others. */
function branchFindings(missed: readonly MissedVessel[], vessels: readonly VesselMeasure[]): Finding[] {
  const branches = missed.filter(({ kind }) => kind === 'side-branch');
  const inZone = branches.flatMap((branch) => {
    const landing = vessels.find(({ name }) => name === branch.joins)?.landing;
    const at = branch.joinsAtMm;
    const half = branch.calibreMm / 2;
    const isIn = landing && at !== undefined && at + half > landing.fromMm && at - half < landing.toMm;
    return isIn ? [{ ...branch, at }] : [];
  });
  const found = inZone.map(({ joins, at, calibreMm, pointMm }) =>
    finding(
      'caution',
      'missed-branch-in-zone',
      joins,
      `A branch ${fixed(calibreMm, 1)} mm wide, in no surface, leaves ${joins} inside its landing zone, ${fixed(at, 1)} mm from the far end, at ${placed(pointMm)}. A device there would close it: look at it on the slices and name it.`,
    ),
  );
  const [largest] = branches;
  if (branches.length > inZone.length)
    found.push(
      finding(
        'note',
        'missed-side-branches',
        'scan.series',
        `${branches.length === 1 ? 'One opacified side branch lies' : `${branches.length} opacified side branches lie`} in no surface, the largest ${fixed(largest.calibreMm, 1)} mm wide on ${largest.joins}, at ${placed(largest.pointMm)}. They lead away from the lesion.`,
      ),
    );
  return found;
}
