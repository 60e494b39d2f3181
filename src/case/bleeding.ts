import type { Bleeding, Case } from './case.js';

/** Whether the lesion is bleeding or bled within the last day; `unknown` if the case does not answer both. */
export function bleedingState(bleeding: Bleeding | undefined): 'yes' | 'no' | 'unknown' {
  const answers = [bleeding?.now, bleeding?.within24h];
  if (answers.includes('yes')) return 'yes';
  return answers.every((answer) => answer === 'no') ? 'no' : 'unknown';
}

/** Whether the case says that the lesion is bleeding or bled within the last day. */
export const isBleeding = ({ bleeding }: Pick<Case, 'bleeding'>): boolean =>
  bleedingState(bleeding) === 'yes';
