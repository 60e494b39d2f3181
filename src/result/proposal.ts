import type { PatientResult } from './patient-result.js';
import type { Result } from './result.generated.js';

type Proposal = NonNullable<Result['proposal']>;

/** The mark on every document, figure, page and print of an unconfirmed surface. */
export const NOT_CONFIRMED = 'proposal, not confirmed';

/** That mark, if needed; undefined for a surface that is given in the case or confirmed by a reader. */
export const proposalMark = ({ proposal }: { proposal?: Pick<Proposal, 'confirmed'> }): string | undefined =>
  proposal?.confirmed === 'no' ? NOT_CONFIRMED : undefined;

/** The same over all lesions of a patient. */
export const patientProposalMark = ({ lesions }: Pick<PatientResult, 'lesions'>): string | undefined =>
  Object.values(lesions).some(({ surface_confirmed: confirmed }) => confirmed === 'no')
    ? NOT_CONFIRMED
    : undefined;

/** Why a stretch is unsure, in words. */
export const UNSURE_WORDS: Readonly<Record<Proposal['unsure'][number]['kind'], string>> = {
  'directions-disagree': 'the wall differs between directions',
  'low-contrast': 'low contrast',
  neighbour: 'a neighbour touches',
  'sharp-turn': 'it turns sharply: two vessels may cross or touch here',
};
