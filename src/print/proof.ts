import { fixed } from '../foundation/number-text.js';
import { student95, Z95 } from '../foundation/student-t.js';
import type { PrintRules } from './process.js';
import type { Reading } from './readings.js';

/** What a check point should read. */
export interface Expectation {
  name: string;
  expectedMm: number;
  toleranceMm: number;
}

export interface ProofRow extends Expectation {
  readingMm: number;
  /** Reading less expected. */
  differenceMm: number;
  isWithin: boolean;
}

/** How a print agrees with its model. */
export interface Proof {
  rows: ProofRow[];
  notRead: string[];
  /** Mean of the differences. */
  biasMm?: number;
  /** Bias less and plus 1.96 standard deviations of the differences. */
  limitsOfAgreementMm?: [number, number];
  worst?: ProofRow;
  /** Readings over expected sizes, by regression through the origin, with its 95 % interval. */
  scale?: { factor: number; interval: [number, number]; isError: boolean };
  /** A mix-up of units or scale that explains all readings. */
  slip?: string;
  /** The one point that disagrees while the others agree. */
  outlier?: string;
  verdict: 'pass' | 'fail' | 'too-few';
  because: string[];
}

const MM_PER_INCH = 25.4;
/** A ratio this near, in natural logarithms, to that of a mix-up is taken for it. */
const SLIP_REACH = 0.04;

/** A mix-up of units or scale: measured size over expected size, and what it is. */
interface Slip {
  factor: number;
  text: string;
  /** What to look at where the sizes are readings. */
  ofReadings?: string;
}

/** The mix-ups that are known, for a print of the given scale; without those that change nothing. */
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

/** The mix-up that gives a ratio of measured to expected size, if one does. */
export const slipNear = (ratio: number, printScale: number): Slip | undefined =>
  knownSlips(printScale).find(({ factor }) => Math.abs(Math.log(ratio / factor)) < SLIP_REACH);

/**
 * Compares caliper readings with what the model gives.
 *
 * Formula   d = reading - expected; bias = mean d; limits of agreement = bias ± 1.96·sd(d)   (Bland and Altman, Lancet 1986;327:307)
 *           scale b = Σ(x·y)/Σ(x²), se = s/sqrt(Σx²), s² = max(Σ(y - b·x)²/(n-1), caliper²), interval b ± t(n-1)·se
 * Assumes   a scale error is only named where b is off 1 by the rule's limit, its interval leaves 1 out, and no single reading
 *           carries it: leaving any one out keeps at least half of the limit, on the same side
 * @example  compareReadings([{ name: 'G1', expectedMm: 10, toleranceMm: 1 }, ...], [{ name: 'G1', valueMm: 10.2, asWritten: '10.2 mm' }, ...], rules, 1)
 */
export function compareReadings(
  expectations: readonly Expectation[],
  readings: readonly Reading[],
  rules: Pick<PrintRules, 'scaleError' | 'caliperSigmaMm' | 'leastReadings'>,
  printScale: number,
): Proof {
  const value = new Map(readings.map((r) => [r.name, r.valueMm]));
  const rows: ProofRow[] = expectations.flatMap((e) => {
    const readingMm = value.get(e.name);
    if (readingMm === undefined) return [];
    const differenceMm = readingMm - e.expectedMm;
    return [{ ...e, readingMm, differenceMm, isWithin: Math.abs(differenceMm) <= e.toleranceMm + 1e-9 }];
  });
  const proof: Proof = {
    rows,
    notRead: expectations.filter((e) => !value.has(e.name)).map((e) => e.name),
    verdict: 'pass',
    because: [],
  };
  if (rows.length > 0) proof.worst = rows.reduce((a, b) => (excess(b) > excess(a) ? b : a));
  const isEnough = rows.length >= Math.max(2, rules.leastReadings);
  if (isEnough) {
    const bias = mean(rows.map((r) => r.differenceMm));
    const sd = Math.sqrt(rows.reduce((sum, r) => sum + (r.differenceMm - bias) ** 2, 0) / (rows.length - 1));
    proof.biasMm = bias;
    proof.limitsOfAgreementMm = [bias - Z95 * sd, bias + Z95 * sd];
    proof.scale = scaleOf(rows, rules);
    proof.slip = slipOf(rows, printScale);
  }
  judge(proof, rules.leastReadings, isEnough);
  return proof;
}

/** Difference as a part of its tolerance. */
const excess = (row: ProofRow): number => Math.abs(row.differenceMm) / row.toleranceMm;

const mean = (values: readonly number[]): number => values.reduce((a, b) => a + b, 0) / values.length;

const slope = (rows: readonly ProofRow[]): number =>
  rows.reduce((sum, r) => sum + r.expectedMm * r.readingMm, 0) /
  rows.reduce((sum, r) => sum + r.expectedMm ** 2, 0);

function scaleOf(
  rows: readonly ProofRow[],
  rules: Pick<PrintRules, 'scaleError' | 'caliperSigmaMm'>,
): NonNullable<Proof['scale']> {
  const factor = slope(rows);
  const squares = rows.reduce((sum, r) => sum + r.expectedMm ** 2, 0);
  const residual =
    rows.reduce((sum, r) => sum + (r.readingMm - factor * r.expectedMm) ** 2, 0) / (rows.length - 1);
  const se = Math.sqrt(Math.max(residual, rules.caliperSigmaMm ** 2) / squares);
  const t = student95(rows.length - 1);
  const interval: [number, number] = [factor - t * se, factor + t * se];
  const off = factor - 1;
  const isCarriedByAll = rows.every(
    (_, i) => (slope(rows.filter((_r, j) => j !== i)) - 1) * Math.sign(off) >= rules.scaleError / 2,
  );
  const isError = Math.abs(off) >= rules.scaleError && (interval[0] > 1 || interval[1] < 1) && isCarriedByAll;
  return { factor, interval, isError };
}

function slipOf(rows: readonly ProofRow[], printScale: number): string | undefined {
  const ratios = rows.map((r) => r.readingMm / r.expectedMm).sort((a, b) => a - b);
  const found = slipNear(ratios[Math.floor(ratios.length / 2)], printScale);
  return found && [found.text, found.ofReadings].filter((part) => part !== undefined).join(' ');
}

function judge(proof: Proof, least: number, isEnough: boolean): void {
  const { rows, because } = proof;
  const out = rows.filter((r) => !r.isWithin);
  if (proof.slip) because.push(`Unit or scale: ${proof.slip}`);
  else if (proof.scale?.isError) {
    const percent = 100 * (proof.scale.factor - 1);
    because.push(
      `Scale error: the print is ${fixed(Math.abs(percent), 2)} % too ${percent > 0 ? 'large' : 'small'} (95 % interval ${proof.scale.interval.map((f) => fixed(100 * (f - 1), 2)).join(' to ')} %). Print again at ${fixed(100 / proof.scale.factor, 2)} % of the size last used, and look for shrinkage and for a changed scale in the printing shop's program.`,
    );
  } else if (out.length === 1 && isEnough) {
    proof.outlier = out[0].name;
    because.push(
      `${out[0].name} alone disagrees; the others agree. Read it again, and look there for warping, support marks or a bent vessel.`,
    );
  }
  for (const row of out)
    because.push(
      `${row.name} reads ${fixed(row.readingMm, 2)} mm for ${fixed(row.expectedMm, 2)} mm: off by ${fixed(row.differenceMm, 2)} mm, tolerance ± ${fixed(row.toleranceMm, 2)} mm.`,
    );
  if (out.length > 0 || proof.slip || proof.scale?.isError) proof.verdict = 'fail';
  else if (!isEnough) {
    proof.verdict = 'too-few';
    because.push(`${rows.length} of at least ${least} check points were read: too few to judge the print.`);
  } else
    because.push(`All ${rows.length} readings lie within their tolerance, and no scale error stands out.`);
}
