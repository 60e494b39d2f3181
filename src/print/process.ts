import type { Case } from '../case/case.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { sourceText } from '../rules/source-text.js';

export type PrintProcess = NonNullable<Case['print']['process']>;

/** Limits of one printing process, mm and g/cm³; each is the rule `PROCESS-NAME`, for example `powder-bed-wall`. */
export interface ProcessLimits {
  name: PrintProcess;
  /** Thinnest free-standing wall. */
  wallMm: number;
  /** Thinnest free pin, that is, a solid vessel. */
  pinMm: number;
  /** Narrowest hole that stays open. */
  holeMm: number;
  /** Narrowest gap that stays open between two surfaces. */
  gapMm: number;
  /** Expected deviation of the process. */
  toleranceMm: number;
  /** Opening that lets resin or powder out; absent if the process needs none. */
  drainMm?: number;
  densityGCm3: number;
  /**
   * A surface that faces down at less than `deg` needs support, which fills this share of the space under it; absent if no support is
   * needed.
   */
  overhang?: { deg: number; supportFraction: number };
  /** Smallest share of the inside that is filled, under a solid skin; absent if all of it is. */
  infill?: { fraction: number; skinMm: number };
  /** Slowest and fastest build per hour, as plastic or as height. */
  rate: { low: number; high: number; unit: 'cm3/h' | 'mm/h' };
}

/** The parameters of the printable export and its proof, all from the rule files. */
export interface PrintRules {
  /** Deviation allowed for a print, and its source. */
  deviationMm: number;
  deviationSource: string;
  /** Share of a calibre, and of a span, by which a print may be off. */
  calibreShare: number;
  calibreShareSource: string;
  spanShare: number;
  spanShareSource: string;
  /** Share of a step between device sizes at which a deviation changes the device. */
  deviceStep: number;
  /** Smallest bias and smallest scale error that are reported. */
  biasLeastMm: number;
  scaleLeast: number;
  /** Scale error at which a print is not proved, as a fraction. */
  scaleError: number;
  /** Standard deviation of one reading: a conservative value, and the least scatter assumed. */
  caliperSigmaMm: number;
  caliperLeastMm: number;
  /** Number of standard deviations of one reading past its tolerance at which a single point is out. */
  pointCoverage: number;
  leastReadings: number;
  largestHoleMm: number;
  /** A loose piece larger than this share of the model is a stop. */
  largestIsland: number;
  /** Pegs of a cut model: length over diameter, largest diameter, and the smallest if no process is named. */
  peg: { lengthRatio: number; largestMm: number; leastMm: number; fitMm: number };
  /** Rods that hold structures in place: thinnest, free length over diameter, longest. */
  strut: { leastMm: number; slenderness: number; longestMm: number };
  /** Absent if the case names no process. */
  process?: ProcessLimits;
  /** Published deviation of segmentations, mm. */
  segmentationMm: number;
  /** Findings of published studies, for the reader. */
  accuracy: { text: string; source: string }[];
}

/** The rules of printing and, if the case names one, of its process. */
export function printRules(rules: Pick<Rules, 'byId'>, process?: PrintProcess): PrintRules {
  const of = (id: string): number => numberOf(rules, id);
  const said = (id: string): { text: string; source: string } => {
    const rule = rules.byId.get(id)!;
    return { text: rule.text, source: sourceText(rule.source) };
  };
  const its = (what: string): number => of(`${process}-${what}`);
  const has = (what: string): boolean => rules.byId.has(`${process}-${what}`);
  return {
    ...deviationOf(rules, process),
    calibreShare: of('print-calibre-share'),
    calibreShareSource: said('print-calibre-share').source,
    spanShare: of('print-span-share'),
    spanShareSource: said('print-span-share').source,
    deviceStep: of('print-device-step'),
    biasLeastMm: of('print-bias-least'),
    scaleLeast: of('print-scale-least'),
    scaleError: of('print-scale-error'),
    caliperSigmaMm: of('print-caliper-repeatability'),
    caliperLeastMm: of('print-caliper-least'),
    pointCoverage: of('print-point-coverage'),
    leastReadings: of('print-least-readings'),
    largestHoleMm: of('print-largest-hole'),
    largestIsland: of('print-largest-island'),
    peg: {
      lengthRatio: of('print-peg-length'),
      largestMm: of('print-peg-largest'),
      leastMm: process ? its('peg') : of('print-peg-least'),
      fitMm: process ? its('fit') : of('print-peg-fit'),
    },
    strut: {
      leastMm: of('print-strut-least'),
      slenderness: of('print-strut-slenderness'),
      longestMm: of('print-strut-longest'),
    },
    process: process && {
      name: process,
      wallMm: its('wall'),
      pinMm: its('pin'),
      holeMm: its('hole'),
      gapMm: its('gap'),
      toleranceMm: its('tolerance'),
      densityGCm3: its('density'),
      ...(has('drain') && { drainMm: its('drain') }),
      ...(has('overhang') && { overhang: { deg: its('overhang'), supportFraction: its('support') } }),
      ...(has('infill') && { infill: { fraction: its('infill'), skinMm: its('skin') } }),
      rate: {
        low: its('rate-low'),
        high: its('rate-high'),
        unit: rateUnit(rules, process),
      },
    },
    segmentationMm: of('segmentation-published-deviation'),
    accuracy: [
      ...(process ? [said(`${process}-published-deviation`)] : []),
      said('segmentation-published-deviation'),
    ],
  };
}

/** The published deviation of the process, else that of common practice. */
function deviationOf(
  rules: Pick<Rules, 'byId'>,
  process?: PrintProcess,
): Pick<PrintRules, 'deviationMm' | 'deviationSource'> {
  const published = `${process}-trueness`;
  const id =
    process === undefined
      ? 'print-tolerance'
      : rules.byId.has(published)
        ? published
        : `${process}-tolerance`;
  const source = sourceText(rules.byId.get(id)!.source);
  const what =
    id === published
      ? `published deviation of ${process}`
      : process === undefined
        ? 'deviation where no process is named'
        : `deviation of ${process}, as none is published`;
  return { deviationMm: numberOf(rules, id), deviationSource: `${what} (${source})` };
}

/** Whether a rate is stated as plastic or as height, by the unit of its rule. */
function rateUnit(rules: Pick<Rules, 'byId'>, process: PrintProcess): 'cm3/h' | 'mm/h' {
  const rule = rules.byId.get(`${process}-rate-low`);
  return rule?.kind === 'number' && rule.unit === 'cm3/h' ? 'cm3/h' : 'mm/h';
}
