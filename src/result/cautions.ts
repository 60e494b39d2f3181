/** Cautions for every result and document. */
export const STANDING_CAUTIONS: readonly string[] = [
  'This document supports, and never replaces, the judgement of licensed clinicians; local protocols come first.',
  'The device’s instructions for use decide on sizing, placement and contraindications; windows here are generic.',
  'Numbers are estimates; an interval covers resolution and sampling, not an error of segmentation or input.',
  'Check side, vessel, calibre and landing zone on the source images, and again on the angiogram, before anything is placed or divided.',
  'What the case does not say is unknown, not normal.',
  'This software is not a medical device, nor cleared for diagnosis or treatment.',
];
