import type { Case } from '../case/case.js';

/** Curacao criteria of one case. */
export interface Curacao {
  /** Criteria met, 1 to 4: the pulmonary lesion itself is a visceral one. */
  score: number;
  /** Criteria the case does not answer. */
  open: number;
  reading: 'definite' | 'possible' | 'unlikely';
}

/**
 * Counts the Curacao criteria of hereditary haemorrhagic telangiectasia: nosebleeds, telangiectases, visceral lesion,
 * first-degree relative. 3 or more: definite; 2: possible or suspected; fewer: unlikely. A genetic finding, which the
 * case does not hold, also makes it definite; children must not be excluded on the criteria.
 * Source: Shovlin et al., Am J Med Genet 2000;91:66 (excerpt).
 */
export function curacao({ patient }: Pick<Case, 'patient'>): Curacao {
  const { hht, history } = patient;
  const criteria = [
    history.includes('epistaxis') ? 'yes' : hht.epistaxis,
    hht.telangiectasia,
    'yes',
    history.includes('hht-family') ? 'yes' : hht.firstDegreeRelative,
  ];
  const score = criteria.filter((answer) => answer === 'yes').length;
  const open = criteria.filter((answer) => answer === undefined || answer === 'unknown').length;
  return { score, open, reading: score >= 3 ? 'definite' : score === 2 ? 'possible' : 'unlikely' };
}
