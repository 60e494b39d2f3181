import { fixed } from '../foundation/number-text.js';

const MM_PER_INCH = 25.4;
/** Tolerance on the natural logarithm of a mix-up's ratio. */
const SLIP_REACH = 0.04;

/** A mix-up of units or scale: measured over expected size, and its description. */
interface Slip {
  factor: number;
  text: string;
  /** What to check if the sizes are readings. */
  ofReadings?: string;
}

/** The known mix-ups for a print of the given scale, without those that change nothing. */
export function knownSlips(printScale: number): Slip[] {
  const shown = Number(fixed(printScale, 4));
  const slips: Slip[] = [
    {
      factor: MM_PER_INCH,
      text: 'inches and millimetres were mixed up: everything reads 25.4 times too large.',
      ofReadings: 'Was the file, which is in mm, read as inches?',
    },
    {
      factor: 1 / MM_PER_INCH,
      text: 'inches and millimetres were mixed up: everything reads 25.4 times too small.',
      ofReadings: 'Were the readings taken in inches and written as mm?',
    },
    { factor: 10, text: 'centimetres and millimetres were mixed up: everything reads 10 times too large.' },
    {
      factor: 0.1,
      text: 'centimetres and millimetres were mixed up: everything reads 10 times too small.',
      ofReadings: 'Were the readings taken in cm and written as mm?',
    },
    { factor: 1000, text: 'metres and millimetres were mixed up: everything reads 1000 times too large.' },
    { factor: 0.001, text: 'metres and millimetres were mixed up: everything reads 1000 times too small.' },
    {
      factor: 1 / printScale,
      text: `the model reads at its true size: the print scale of ${shown} was not applied, or taken back.`,
    },
    { factor: printScale, text: `the print scale of ${shown} was applied twice.` },
  ];
  return slips.filter(({ factor }) => Math.abs(Math.log(factor)) > 2 * SLIP_REACH);
}

/** The mix-up that explains a ratio of measured to expected size, if any. */
export const slipNear = (ratio: number, printScale: number): Slip | undefined =>
  knownSlips(printScale).find(({ factor }) => Math.abs(Math.log(ratio / factor)) < SLIP_REACH);
