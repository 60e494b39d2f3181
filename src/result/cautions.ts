/** Cautions that stand in every result and every document, whatever the case. */
export const STANDING_CAUTIONS: readonly string[] = [
  'This document supports, and never replaces, the judgement of licensed clinicians; local protocols come first.',
  'The device’s own instructions for use decide on its sizing, placement and contraindications; the windows printed here are generic.',
  'Printed numbers are estimates. An interval covers resolution and sampling, not an error in the segmentation or in the input.',
  'Check side, vessel, calibre and landing zone against the source images, and again on the angiogram, before anything is placed or divided.',
  'What the case does not say is marked as absent or unknown. Absent is not normal.',
  'The software that wrote this is not a medical device and is not cleared for diagnosis or treatment.',
];
