import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import type { Fraction } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';
import { bloodViscosity, meanVelocity, reynoldsNumber } from './blood-flow.js';
import type { ClosureCirculation } from './closure-circulation.js';
import { type FeederShares, REMAINDER } from './feeder-shares.js';
import { poiseuilleResistance } from './vessel-resistance.js';

/**
 * One note for each feeder: its flow from the measured shunt, its velocity and Reynolds number, and for comparison the flow by calibre
 * alone; none for the remainder outside the lesion, which has no calibre. The flow by calibre is not used for anything else, because it is
 * wrong several-fold if flow is not laminar.
 */
export function flowFindings(
  feeders: FeederShares,
  shuntFraction: Fraction,
  circulation: ClosureCirculation,
  { blood }: Pick<Case, 'blood'>,
  isUpperBound: boolean,
): Finding[] {
  if (!circulation.isUsable || !circulation.outputIsKnown) return [];
  const { cardiacOutputLMin, meanPaMmHg, wedgeMmHg } = circulation.fitted;
  const viscosity = bloodViscosity(blood.haematocritFraction);
  const limit = CONSTANTS.laminarReynolds.value;
  const named = feeders.shares.filter(({ name }) => name !== REMAINDER);
  return named.map(({ name, poiseuille, calibre }) => {
    const flow = shuntFraction * cardiacOutputLMin * poiseuille;
    const reynolds = reynoldsNumber(flow, calibre.meanCalibreMm, viscosity);
    const alone = (meanPaMmHg - wedgeMmHg) / poiseuilleResistance(calibre.poiseuilleIntegral, viscosity);
    return finding(
      'note',
      'feeder-flow',
      name,
      `${name} carries ${isUpperBound ? 'at most' : 'about'} ${fixed(flow, 2)} L/min: ${fixed(meanVelocity(flow, calibre.meanCalibreMm), 2)} m/s at ${fixed(calibre.meanCalibreMm, 1)} mm, Reynolds number ${fixed(reynolds, 0)} (${reynolds < limit ? 'laminar, below' : 'not laminar, above'} ${limit}). By calibre alone, not used: ${fixed(alone, 1)} L/min at ${fixed(meanPaMmHg - wedgeMmHg, 0)} mmHg.`,
    );
  });
}
