import { addTo } from '../foundation/add-to.js';
import { fixed } from '../foundation/number-text.js';
import { Z99 } from '../foundation/student-t.js';
import {
  type Agreement,
  agreement,
  type KnownError,
  readingsNeeded,
  repeatabilityMm,
  type ScaleFit,
  scaleFit,
  withinDeviation,
} from './agreement.js';
import type { Turn } from './handedness.js';
import type { PrintRules } from './process.js';
import type { Reading } from './readings.js';
import { type Repeatability, repeatabilityOf } from './repeatability.js';
import { slipNear } from './slips.js';

/** The expected reading of a check point. */
export interface Expectation {
  name: string;
  /** Diameters decide; all other sizes show scale and shape. */
  kind: 'diameter' | 'width' | 'span' | 'tag';
  expectedMm: number;
  toleranceMm: number;
  /** The vessel of a diameter. */
  vessel?: string;
  /** Deviation of that vessel at which another device would be chosen; absent without a device there or without a shelf. */
  deviceChangeMm?: number;
}

export interface ProofRow extends Expectation {
  /** Mean of the readings of this point. */
  readingMm: number;
  readings: number;
  /** Reading minus expected. */
  differenceMm: number;
  isWithin: boolean;
  /** Past the tolerance by more than reading error explains. */
  isOut: boolean;
}

/** Diameters, or all other sizes. */
export interface ProofGroup extends Agreement {
  readings: number;
  /** The smallest tolerance of its points. */
  toleranceMm: number;
  scale?: ScaleFit;
}

/** The result for one vessel, from its diameters. */
export interface ProofVessel {
  name: string;
  points: number;
  biasMm: number;
  interval99Mm: [number, number];
  toleranceMm: number;
  deviceChangeMm?: number;
}

/** `proved`; within tolerance, but `biased`; `not-proved`. */
export type Verdict = 'proved' | 'biased' | 'not-proved';

/** The agreement of a print with its model. */
export interface Proof {
  rows: ProofRow[];
  notRead: string[];
  diameters?: ProofGroup;
  spans?: ProofGroup;
  vessels: ProofVessel[];
  worst?: ProofRow;
  /** Standard deviation between readings of one point, and the largest difference expected between two. */
  repeats?: { withinMm: number; repeatabilityMm: number };
  /** Gauge study of the diameters. */
  gaugeStudy?: Repeatability;
  /** A scale error large enough for the print not to be proved. */
  isScaleError: boolean;
  /** Whether the three landmarks are in the expected order; absent if not read. */
  isMirrored?: boolean;
  /** A mix-up of units or scale that explains all readings. */
  slip?: string;
  /** The only point that disagrees, if the others agree. */
  outlier?: string;
  verdict: Verdict;
  because: string[];
}

type Limits = Pick<
  PrintRules,
  | 'scaleError'
  | 'scaleLeast'
  | 'biasLeastMm'
  | 'caliperSigmaMm'
  | 'caliperLeastMm'
  | 'pointCoverage'
  | 'leastReadings'
>;

/**
 * Judges caliper readings by what the print is for: the diameters decide, spans and the tag show scale.
 *
 * Proved    the 99 % interval of the diameters' bias is within the smallest tolerance and contains 0, no single point is out, no vessel can
 *           be off by enough to change its device, and no scale error is significant
 * Biased    the same, but the bias or the scale is significant
 * Source    bias, intervals, limits of agreement: `agreement.ts`; a single point is out past its tolerance plus reading error, as in
 *           ISO 14253-1 (from memory)
 * Checked   tests/print/proof-power.test.ts simulates a thousand prints of each kind
 */
export function compareReadings(
  expectations: readonly Expectation[],
  readings: readonly Reading[],
  rules: Limits,
  printScale: number,
  hand: { read?: Turn; expected?: Turn } = {},
): Proof {
  const byName = new Map<string, number[]>();
  for (const { name, valueMm } of readings) addTo(byName, name, valueMm);
  const read = expectations
    .map((e) => ({ e, values: byName.get(e.name) ?? [] }))
    .filter(({ values }) => values.length > 0);
  const withinMm = withinDeviation(read.map(({ values }) => values));
  const sigmaMm = Math.max(rules.caliperSigmaMm, withinMm ?? 0);
  const error: ReadingError = {
    sigmaMm,
    leastMm: rules.caliperLeastMm,
    ...(withinMm !== undefined && { withinMm }),
  };
  const rows = read.map(({ e, values }): ProofRow => {
    const readingMm = values.reduce((a, b) => a + b, 0) / values.length;
    const differenceMm = readingMm - e.expectedMm;
    const off = Math.abs(differenceMm) - 1e-9;
    const guardMm = (rules.pointCoverage * sigmaMm) / Math.sqrt(values.length);
    return {
      ...e,
      readingMm,
      readings: values.length,
      differenceMm,
      isWithin: off <= e.toleranceMm,
      isOut: off > e.toleranceMm + guardMm,
    };
  });
  const proof: Proof = {
    rows,
    notRead: expectations.filter((e) => !byName.has(e.name)).map((e) => e.name),
    vessels: [],
    isScaleError: false,
    verdict: 'not-proved',
    because: [],
  };
  if (rows.length > 0) proof.worst = rows.reduce((a, b) => (excess(b) > excess(a) ? b : a));
  if (withinMm !== undefined) proof.repeats = { withinMm, repeatabilityMm: repeatabilityMm(withinMm) };
  const isDiameter = ({ kind }: Expectation): boolean => kind === 'diameter';
  const groupOf = (some: readonly ProofRow[]): ProofGroup | undefined =>
    some.length === 0 ? undefined : groupFrom(some, error);
  proof.diameters = groupOf(rows.filter(isDiameter));
  proof.spans = groupOf(rows.filter((r) => !isDiameter(r)));
  proof.vessels = vesselsOf(rows.filter(isDiameter), error);
  const names = new Set(expectations.filter(isDiameter).map((e) => e.name));
  proof.gaugeStudy = repeatabilityOf(readings.filter((r) => names.has(r.name)));
  proof.slip = slipOf(rows, printScale);
  if (hand.read !== undefined && hand.expected !== undefined) proof.isMirrored = hand.read !== hand.expected;
  judge(proof, rules, sigmaMm);
  if (hand.expected !== undefined && hand.read === undefined)
    proof.because.push(
      'Not checked: a caliper does not see a mirrored print. Read the three landmarks of gauges.md and write handedness.',
    );
  return proof;
}

/** Difference as a fraction of its tolerance. */
const excess = (row: ProofRow): number => Math.abs(row.differenceMm) / row.toleranceMm;

const readingsIn = (rows: readonly ProofRow[]): number => rows.reduce((sum, r) => sum + r.readings, 0);

type ReadingError = Omit<KnownError, 'readingsEach'>;

// The harmonic mean gives points read once their proper weight.
const knownError = (rows: readonly ProofRow[], error: ReadingError): KnownError => ({
  ...error,
  readingsEach: rows.length / rows.reduce((sum, r) => sum + 1 / r.readings, 0),
});

function groupFrom(rows: readonly ProofRow[], error: ReadingError): ProofGroup {
  const known = knownError(rows, error);
  return {
    ...agreement(
      rows.map((r) => r.differenceMm),
      known,
    ),
    readings: readingsIn(rows),
    toleranceMm: Math.min(...rows.map((r) => r.toleranceMm)),
    ...(rows.length > 1 && { scale: scaleFit(rows, known) }),
  };
}

/** The bias of each vessel; its error is from the scatter within all vessels, since a single one has few diameters. */
function vesselsOf(rows: readonly ProofRow[], error: ReadingError): ProofVessel[] {
  const names = [...new Set(rows.flatMap((r) => r.vessel ?? []))];
  const scatterMm =
    withinDeviation(names.map((n) => rows.flatMap((r) => (r.vessel === n ? r.differenceMm : [])))) ?? 0;
  return names.map((name) => {
    const own = rows.filter((r) => r.vessel === name);
    const known = knownError(own, error);
    const { biasMm } = agreement(
      own.map((r) => r.differenceMm),
      known,
    );
    const sdMm = Math.max(known.leastMm / Math.sqrt(known.readingsEach), scatterMm);
    const half = (Z99 * sdMm) / Math.sqrt(own.length);
    const changes = own.flatMap((r) => r.deviceChangeMm ?? []);
    return {
      name,
      points: own.length,
      biasMm,
      interval99Mm: [biasMm - half, biasMm + half],
      toleranceMm: Math.min(...own.map((r) => r.toleranceMm)),
      ...(changes.length > 0 && { deviceChangeMm: Math.min(...changes) }),
    };
  });
}

function slipOf(rows: readonly ProofRow[], printScale: number): string | undefined {
  if (rows.length < 2) return undefined;
  const ratios = rows.map((r) => r.readingMm / r.expectedMm).sort((a, b) => a - b);
  const found = slipNear(ratios[Math.floor(ratios.length / 2)], printScale);
  return found && [found.text, found.ofReadings].filter((part) => part !== undefined).join(' ');
}

const farthest = ([low, high]: [number, number]): number => Math.max(Math.abs(low), Math.abs(high));
const nearest = ([low, high]: [number, number]): number =>
  low <= 0 && high >= 0 ? 0 : Math.min(Math.abs(low), Math.abs(high));
const sizeWord = (mm: number): string => (mm > 0 ? 'large' : 'small');
const rangeOf = ([low, high]: [number, number], digits = 2): string =>
  `${fixed(low, digits)} to ${fixed(high, digits)}`;
/** The deviation of a scale from 1, in percent. */
const percentOff = (factor: number): string => fixed(100 * Math.abs(factor - 1), 2);
const percentRange = ([low, high]: [number, number]): string =>
  `${fixed(100 * (low - 1), 2)} to ${fixed(100 * (high - 1), 2)}`;

/** Advice on a scale error. */
export const scaleCure = (factor: number): string =>
  `Print again at ${fixed(100 / factor, 2)} % of the size last used, and look for shrinkage and for a changed scale in the printing shop's program.`;

function judge(proof: Proof, rules: Limits, sigmaMm: number): void {
  const { rows, diameters, spans, because } = proof;
  const faults: string[] = [];
  const biases: string[] = [];
  const out = rows.filter((r) => r.isOut);
  const scale = spans?.scale ?? diameters?.scale;
  const scaled = scale && scaleFault(scale, rules);
  proof.isScaleError = scaled?.isError ?? false;
  if (proof.isMirrored)
    faults.push(
      'Mirrored: the three landmarks lie the other way round than on the model. Left and right are exchanged; do not use the print.',
    );
  if (proof.slip) faults.push(`Unit or scale: ${proof.slip}`);
  else if (scaled) (scaled.isError ? faults : biases).push(scaled.text);
  const diameterFault = diameters && biasFault(diameters, rules, sigmaMm);
  if (diameters && nearest(diameters.interval99Mm) > diameters.toleranceMm) faults.push(diameterFault!.text);
  if (out.length === 1 && rows.length > 3 && !proof.slip && !scaled?.isError) {
    proof.outlier = out[0].name;
    faults.push(
      `${out[0].name} alone disagrees; the others agree. Read it again, and look there for warping, support marks or a bent vessel.`,
    );
  }
  for (const row of out)
    faults.push(
      `${row.name} reads ${fixed(row.readingMm, 2)} mm for ${fixed(row.expectedMm, 2)} mm: off by ${fixed(row.differenceMm, 2)} mm, tolerance ± ${fixed(row.toleranceMm, 2)} mm.`,
    );
  for (const vessel of proof.vessels) {
    const fault = vesselFault(vessel);
    if (fault) faults.push(fault);
  }
  if (spans && nearest(spans.interval99Mm) > spans.toleranceMm && !scaled)
    faults.push(
      `Spans, widths and tag read ${fixed(Math.abs(spans.biasMm), 2)} mm too ${sizeWord(spans.biasMm)} (99 % interval ${rangeOf(spans.interval99Mm)} mm), tolerance ± ${fixed(spans.toleranceMm, 2)} mm.`,
    );
  if (!diameters || diameters.readings < rules.leastReadings)
    faults.push(
      `${diameters?.readings ?? 0} readings of diameters; ${rules.leastReadings} or more are needed: too few readings to judge the print.`,
    );
  else if (diameterFault && nearest(diameters.interval99Mm) <= diameters.toleranceMm)
    (diameterFault.isWithin ? biases : faults).push(diameterFault.text);
  proof.verdict = faults.length > 0 ? 'not-proved' : biases.length > 0 ? 'biased' : 'proved';
  because.push(...faults, ...biases);
  if (proof.verdict === 'proved')
    because.push(
      `The ${diameters!.readings} readings of ${diameters!.count} diameters show no bias (${fixed(diameters!.biasMm, 2)} mm, 99 % interval ${rangeOf(diameters!.interval99Mm)} mm, tolerance ± ${fixed(diameters!.toleranceMm, 2)} mm), and no scale error stands out.`,
    );
}

/** A significant scale error; undefined if there is none. */
function scaleFault(scale: ScaleFit, rules: Limits): { text: string; isError: boolean } | undefined {
  const { factor, interval99, interval95, isCarriedByAll } = scale;
  const off = Math.abs(factor - 1);
  if (off < rules.scaleLeast || (interval99[0] <= 1 && interval99[1] >= 1) || !isCarriedByAll)
    return undefined;
  const text = `Scale error: the print is ${percentOff(factor)} % too ${sizeWord(factor - 1)} (95 % interval ${percentRange(interval95)} %). ${scaleCure(factor)}`;
  return { text, isError: off >= rules.scaleError };
}

/** A significant bias, or one that could exceed the tolerance; undefined if there is neither. */
function biasFault(
  group: ProofGroup,
  rules: Limits,
  sigmaMm: number,
): { text: string; isWithin: boolean } | undefined {
  const { biasMm, interval99Mm, toleranceMm } = group;
  const isWithin = farthest(interval99Mm) <= toleranceMm + 1e-9;
  const standsOut = nearest(interval99Mm) > 0 && Math.abs(biasMm) > rules.biasLeastMm + 1e-6;
  const limit = `tolerance ± ${fixed(toleranceMm, 2)} mm`;
  if (standsOut)
    return {
      text: `Bias: the diameters read ${fixed(Math.abs(biasMm), 2)} mm too ${sizeWord(biasMm)} (99 % interval ${rangeOf(interval99Mm)} mm), ${limit}.`,
      isWithin,
    };
  if (isWithin) return undefined;
  const scatterMm = Math.max(sigmaMm, group.sdMm);
  return {
    text: `Too few readings, or too much scatter, to tell: the bias of the diameters may be anything from ${rangeOf(interval99Mm)} mm, ${limit}. About ${readingsNeeded(toleranceMm, scatterMm)} readings of diameters are needed; read each point again, in a second round or by a second reader.`,
    isWithin,
  };
}

function vesselFault(vessel: ProofVessel): string | undefined {
  const { name, biasMm, interval99Mm, toleranceMm, deviceChangeMm } = vessel;
  const reads = `${name} reads ${fixed(Math.abs(biasMm), 2)} mm too ${sizeWord(biasMm)} (99 % interval ${rangeOf(interval99Mm)} mm)`;
  if (nearest(interval99Mm) > toleranceMm) return `${reads}, tolerance ± ${fixed(toleranceMm, 2)} mm.`;
  if (deviceChangeMm !== undefined && farthest(interval99Mm) >= deviceChangeMm)
    return `${reads}: from ${fixed(deviceChangeMm, 2)} mm on another device would be chosen. Read its diameters again.`;
  return undefined;
}
