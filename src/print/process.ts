import type { Case } from '../case/case.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { sourceText } from '../rules/source-text.js';

export type PrintProcess = NonNullable<Case['print']['process']>;

/** Limits of one printing process, mm and g/cm³. */
export interface ProcessLimits {
  name: PrintProcess;
  /** Thinnest free-standing wall. */
  wallMm: number;
  /** Thinnest free pin, that is: solid vessel. */
  pinMm: number;
  /** Narrowest hole that stays open. */
  holeMm: number;
  /** Narrowest gap that keeps two surfaces apart. */
  gapMm: number;
  /** Deviation to expect of the process. */
  toleranceMm: number;
  /** Opening that lets resin or powder out; absent where the process needs none. */
  drainMm?: number;
  densityGCm3: number;
}

/** What the printable export and its check rest on; all of it from the rule files. */
export interface PrintRules {
  toleranceMm: number;
  toleranceSource: string;
  thinToleranceMm: number;
  thinToleranceSource: string;
  /** Sizes below it have the tighter tolerance. */
  thinSizeMm: number;
  /** Smallest scale error that is named, as a fraction. */
  scaleError: number;
  caliperSigmaMm: number;
  leastReadings: number;
  largestHoleMm: number;
  /** A loose piece larger than this part of the model is a stop. */
  largestIsland: number;
  /** Absent where the case names no process. */
  process?: ProcessLimits;
  /** What published studies found, for the reader. */
  accuracy: { text: string; source: string }[];
}

/** Rule ids of each process: wall, pin, hole, gap, tolerance, density, drain, published deviation. */
const IDS: Record<PrintProcess, readonly string[]> = {
  'material-extrusion': [
    'material-extrusion-wall',
    'material-extrusion-pin',
    'material-extrusion-hole',
    'material-extrusion-gap',
    'material-extrusion-tolerance',
    'material-extrusion-density',
    '',
    'material-extrusion-published-deviation',
  ],
  'vat-photopolymerisation': [
    'vat-photopolymerisation-wall',
    'vat-photopolymerisation-pin',
    'vat-photopolymerisation-hole',
    'vat-photopolymerisation-gap',
    'vat-photopolymerisation-tolerance',
    'vat-photopolymerisation-density',
    'vat-photopolymerisation-drain',
    'vat-photopolymerisation-published-deviation',
  ],
  'material-jetting': [
    'material-jetting-wall',
    'material-jetting-pin',
    'material-jetting-hole',
    'material-jetting-gap',
    'material-jetting-tolerance',
    'material-jetting-density',
    '',
    'material-jetting-published-deviation',
  ],
  'powder-bed': [
    'powder-bed-wall',
    'powder-bed-pin',
    'powder-bed-hole',
    'powder-bed-gap',
    'powder-bed-tolerance',
    'powder-bed-density',
    'powder-bed-drain',
    'powder-bed-published-deviation',
  ],
};

/** The rules of printing and, where the case names one, of its process. */
export function printRules(rules: Pick<Rules, 'byId'>, process?: PrintProcess): PrintRules {
  const of = (id: string): number => numberOf(rules, id);
  const said = (id: string): { text: string; source: string } => {
    const rule = rules.byId.get(id)!;
    return { text: rule.text, source: sourceText(rule.source) };
  };
  const [wall, pin, hole, gap, tolerance, density, drain, deviation] = process ? IDS[process] : [];
  return {
    toleranceMm: of('print-tolerance'),
    toleranceSource: said('print-tolerance').source,
    thinToleranceMm: of('print-tolerance-thin'),
    thinToleranceSource: said('print-tolerance-thin').source,
    thinSizeMm: of('print-thin-size'),
    scaleError: of('print-scale-error'),
    caliperSigmaMm: of('print-caliper-repeatability'),
    leastReadings: of('print-least-readings'),
    largestHoleMm: of('print-largest-hole'),
    largestIsland: of('print-largest-island'),
    process: process && {
      name: process,
      wallMm: of(wall),
      pinMm: of(pin),
      holeMm: of(hole),
      gapMm: of(gap),
      toleranceMm: of(tolerance),
      densityGCm3: of(density),
      ...(drain && { drainMm: of(drain) }),
    },
    accuracy: [...(deviation ? [said(deviation)] : []), said('segmentation-published-deviation')],
  };
}

/** Tolerance of a check point of the given size, mm, and its source. */
export function toleranceFor(rules: PrintRules, expectedMm: number): { toleranceMm: number; source: string } {
  return expectedMm < rules.thinSizeMm
    ? { toleranceMm: rules.thinToleranceMm, source: rules.thinToleranceSource }
    : { toleranceMm: rules.toleranceMm, source: rules.toleranceSource };
}
