import { fixed } from '../foundation/number-text.js';
import { numberOf, type Rules } from '../rules/rule.js';
import type { LesionPose } from './lesion-pose.js';
import type { VesselMatch } from './match-vessels.js';
import type { Remarks } from './scan-pair.js';

const CHECK_FRAME = 'check surfaces.frame and the export of both cases';

/** Remarks on the pose of the new lesion on the old one: mirror images, turns, vessels in other places, changed names. */
export function placementRemarks(
  found: LesionPose | undefined,
  inPatientAxes: boolean,
  matches: readonly VesselMatch[],
  rules: Pick<Rules, 'byId'>,
): Remarks {
  const remarks: Remarks = { obstacles: [], cautions: [], notes: [] };
  const handed = found?.handedness;
  if (found !== undefined) {
    const { turnDeg, misfitMm, mirrorMisfitMm = 0 } = found;
    const misfits = `misfit of the mirror image ${fixed(mirrorMisfitMm, 1)} mm, of the lesion itself ${fixed(misfitMm, 1)} mm`;
    const turn = fixed(turnDeg, 0);
    if (handed === 'mirrored')
      remarks.obstacles.push(`the new scan is a mirror image of the old one (${misfits}); ${CHECK_FRAME}`);
    else if (handed === 'mirrored-or-turned')
      remarks.obstacles.push(
        `the new scan is a mirror image of the old one, or is turned by ${turn}° (${misfits}); ${CHECK_FRAME}`,
      );
    else if (handed === 'unlike')
      remarks.cautions.push(
        'the vessels of the two scans do not match in any pose: check that it is one lesion',
      );
    else if (inPatientAxes && turnDeg > numberOf(rules, 'overlay-largest-turn'))
      remarks.cautions.push(
        `the patient is turned by ${turn}° between the scans, which is doubtful: ${CHECK_FRAME}`,
      );
    if (handed === 'undecided')
      remarks.notes.push(
        'The courses of the vessels fit as well in a mirror image, so they cannot show that the new scan is not one. See whether --overlay can.',
      );
  }
  // one cause is reported once
  if (handed !== 'mirrored' && handed !== 'mirrored-or-turned' && handed !== 'unlike')
    for (const { newName, matchedBy } of matches)
      if (matchedBy === 'name-only')
        remarks.cautions.push(`${newName} is not where it was: check that it is the same vessel`);
  addNames(matches, remarks);
  return remarks;
}

/** Vessels that were renamed; a name that now means another vessel is a danger. */
function addNames(matches: readonly VesselMatch[], { cautions, notes }: Remarks): void {
  const oldNames = new Set(matches.map(({ oldName }) => oldName));
  for (const { oldName, newName } of matches) {
    if (oldName === undefined || newName === undefined || oldName === newName) continue;
    if (oldNames.has(newName))
      cautions.push(`${oldName} of the old plan is called ${newName} in the new one`);
    else notes.push(`${oldName} of the old plan is called ${newName} in the new one.`);
  }
}
