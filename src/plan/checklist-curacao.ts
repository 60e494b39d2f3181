import type { Case } from '../case/case.js';
import { numberOf, type Rules } from '../rules/rule.js';

/** Curacao criteria of one case. */
export interface Curacao {
  /** Number of criteria met, 1 to 4: the pulmonary lesion itself is a visceral one. */
  score: number;
  /** Criteria that the case does not answer. */
  open: number;
  reading: 'definite' | 'possible' | 'unlikely';
}

/**
 * Counts the Curacao criteria of hereditary haemorrhagic telangiectasia: nosebleeds, telangiectases, visceral lesion, first-degree
 * relative. The rules `curacao-definite` and `curacao-possible` state how many criteria make it definite or possible. A genetic finding,
 * which the case file has no field for, also makes it definite. Children must not be excluded by these criteria. Source: Shovlin et al., Am
 * J Med Genet 2000;91:66 (excerpt).
 */
export function curacao({ patient }: Pick<Case, 'patient'>, rules: Pick<Rules, 'byId'>): Curacao {
  const { hht, history } = patient;
  const criteria = [
    history.includes('epistaxis') ? 'yes' : hht.epistaxis,
    hht.telangiectasia,
    'yes',
    history.includes('hht-family') ? 'yes' : hht.firstDegreeRelative,
  ];
  const score = criteria.filter((answer) => answer === 'yes').length;
  const open = criteria.filter((answer) => answer === undefined || answer === 'unknown').length;
  const isDefinite = score >= numberOf(rules, 'curacao-definite');
  const isPossible = score >= numberOf(rules, 'curacao-possible');
  return { score, open, reading: isDefinite ? 'definite' : isPossible ? 'possible' : 'unlikely' };
}
