import type { Case } from '../../case/case.js';
import { listedStructures } from '../../case/listed-structures.js';
import { fixed, pointText } from '../../foundation/number-text.js';
import type { MissedVessel } from '../../witness/missed-vessels.js';

const INDENT = '      ';

/**
 * Opacified vessels that join the lesion and are outside all surfaces, as lines for `surfaces.from_scan.ends`: those that join the sac as
 * named ends, those that leave a vessel as comments.
 */
export function suggestedEnds(patientCase: Case, missed: readonly MissedVessel[] | undefined): string {
  if (!missed) return '# The scan was not searched: the surface was not found in it.\n';
  if (missed.length === 0) return '# No further opacified vessel was found that joins the lesion.\n';
  const names = nextNames(patientCase);
  const lines = missed.map((one) => {
    const { kind, joins, calibreMm, lengthMm, endMm } = one;
    const at = pointText(endMm);
    const seen = `${fixed(calibreMm, 1)} mm wide, followed for ${fixed(lengthMm, 0)} mm`;
    if (kind === 'side-branch')
      return `${INDENT}# - { name: ${names('B')}, role: branch, of: ${joins}, at: ${at} }  # leaves ${joins}, ${seen}`;
    const where = kind === 'unclear' ? `leaves ${joins} close to its neck` : `joins the ${joins}`;
    return `${INDENT}- { name: ${names('N')}, role: feeder, at: ${at} }  # ${where}, ${seen}; feeder, drain or neither?`;
  });
  return `${INDENT}# Look at each on the slices before it goes into surfaces.from_scan.ends; artery and vein look alike here.\n${lines.join('\n')}\n`;
}

/** Generates unused names from a letter and a number. */
function nextNames(patientCase: Case): (letter: string) => string {
  const taken = new Set((listedStructures(patientCase) ?? []).map(({ name }) => name.toLowerCase()));
  return (letter) => {
    for (let n = 1; ; n++) {
      const name = `${letter}${n}`;
      if (taken.has(name.toLowerCase())) continue;
      taken.add(name.toLowerCase());
      return name;
    }
  };
}
