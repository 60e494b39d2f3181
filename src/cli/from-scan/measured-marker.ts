import { markerOf, type ProposalMarker } from '../../report/proposal-mark.js';
import { proposalMark } from '../../result/proposal.js';
import type { MeasuredCase } from '../measure/measure-case.js';

/** The marker for the outputs of these cases, present if the surface of one of them is not confirmed. */
export const measuredMarker = (...cases: readonly Pick<MeasuredCase, 'proposed'>[]): ProposalMarker =>
  markerOf(
    cases
      .map(({ proposed }) => proposalMark({ proposal: proposed?.result }))
      .find((mark) => mark !== undefined),
  );
