import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import type { Fraction, MmHg } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';
import { SOURCES } from '../reference/sources.js';
import { type Rules, ruleNumber } from '../rules/rule.js';
import { citeOf } from '../rules/source-text.js';
import { assumedOutput } from './assumed-output.js';
import { outputSdFraction } from './av-difference.js';
import type { FittedCirculation } from './closure-state.js';

export interface ClosureCirculation {
  fitted: FittedCirculation;
  assumed: string[];
  findings: Finding[];
  /** False if the given pressures contradict each other; neither pressure nor output is then predicted. */
  isUsable: boolean;
  /** False if no output was measured or can be assumed (a child without size); no flows are then given. */
  outputIsKnown: boolean;
  meanPaIsMeasured: boolean;
  /** Standard deviation of each: that of its measurement, or of normal values if it was not measured. */
  spread: { meanPaSdMmHg: MmHg; wedgeSdMmHg: MmHg; outputSdFraction: Fraction };
}

const c = CONSTANTS;

/** Output and pressures of the case. Missing ones are replaced by normal values, or by body size, and listed as assumed. */
export function closureCirculation(
  given: Case['circulation'],
  patient: Parameters<typeof assumedOutput>[0],
): ClosureCirculation {
  const assumed: string[] = [];
  const source = SOURCES['ers-normal-haemodynamics'].cite;
  const take = (value: number | undefined, normal: number, words: string, unit: string) => {
    if (value === undefined) assumed.push(`${words} ${normal} ${unit}, a normal value (${source})`);
    return value ?? normal;
  };
  const output = outputOf(given, patient);
  assumed.push(...output.assumed);
  const fitted: FittedCirculation = {
    cardiacOutputLMin: output.lMin ?? NORMAL_CIRCULATION.cardiacOutputLMin,
    meanPaMmHg: take(given.meanPaPressureMmHg, c.normalMeanPaPressureMmHg.value, 'mean PA pressure', 'mmHg'),
    wedgeMmHg: take(given.wedgePressureMmHg, c.normalWedgePressureMmHg.value, 'wedge pressure', 'mmHg'),
  };
  const findings: Finding[] = [];
  const meanPaIsMeasured = given.meanPaPressureMmHg !== undefined;
  if (!meanPaIsMeasured) {
    findings.push(
      finding(
        'note',
        'pa-pressure-not-measured',
        'circulation.mean_pa_pressure',
        `The mean PA pressure is not given: pressures after closure start from the normal ${c.normalMeanPaPressureMmHg.value} mmHg and say nothing about this patient's own. Measure it before the first closure.`,
      ),
    );
  }
  const isUsable = fitted.meanPaMmHg > fitted.wedgeMmHg && fitted.cardiacOutputLMin > 0;
  if (!isUsable) {
    findings.push(
      finding(
        'caution',
        'pressures-contradict',
        'circulation',
        `Mean PA pressure ${fixed(fitted.meanPaMmHg, 0)} mmHg is not above the wedge pressure ${fixed(fitted.wedgeMmHg, 0)} mmHg, or the output is zero: pressure and output after closure are not given. Check them.`,
      ),
    );
  }
  const spread = {
    meanPaSdMmHg: meanPaIsMeasured ? c.measuredCatheterSdMmHg.value : c.normalMeanPaPressureSdMmHg.value,
    wedgeSdMmHg:
      given.wedgePressureMmHg === undefined
        ? c.normalWedgePressureSdMmHg.value
        : c.measuredCatheterSdMmHg.value,
    outputSdFraction: output.sdFraction,
  };
  const outputIsKnown = output.lMin !== undefined;
  return { fitted, assumed, findings, isUsable, outputIsKnown, meanPaIsMeasured, spread };
}

/** The measured output, else one by age and body size, else none, with the reason. */
function outputOf(
  given: Case['circulation'],
  patient: Parameters<typeof assumedOutput>[0],
): { lMin?: number; sdFraction: Fraction; assumed: string[] } {
  const sdFraction = outputSdFraction(given.cardiacOutputMethod);
  if (given.cardiacOutputLMin !== undefined)
    return { lMin: given.cardiacOutputLMin, sdFraction, assumed: [] };
  const answer = assumedOutput(patient);
  if ('absentBecause' in answer)
    return { sdFraction, assumed: [`no cardiac output: ${answer.absentBecause}`] };
  const { lMin, intervalLMin, words } = answer.output;
  return { lMin, sdFraction: (intervalLMin[1] - intervalLMin[0]) / (2 * 1.96 * lMin), assumed: [words] };
}

/** A circulation with normal pressures, for shares of flow if the given ones cannot be used. */
export const NORMAL_CIRCULATION: FittedCirculation = {
  cardiacOutputLMin: c.normalCardiacOutputLMin.value,
  meanPaMmHg: c.normalMeanPaPressureMmHg.value,
  wedgeMmHg: c.normalWedgePressureMmHg.value,
};

/** Findings on the PA pressure after the closure that could raise it most, by the limits of the rules. */
export function pressureFindings(
  circulation: ClosureCirculation,
  after: { closed: string; mmHg: MmHg } | undefined,
  rules: Pick<Rules, 'byId'>,
): Finding[] {
  if (!circulation.meanPaIsMeasured || !circulation.isUsable) return [];
  const now = circulation.fitted.meanPaMmHg;
  const limit = ruleNumber(rules, 'pulmonary-hypertension');
  const largestRise = ruleNumber(rules, 'largest-published-rise');
  const found: Finding[] = [];
  if (after && after.mmHg > limit.value && after.mmHg > now) {
    found.push(
      finding(
        'caution',
        'pulmonary-hypertension-after-closure',
        'closure',
        `With ${after.closed} closed the mean PA pressure could rise from ${fixed(now, 0)} to at most ${fixed(after.mmHg, 0)} mmHg (output unchanged, no recruitment of the normal bed), above ${limit.value} ${limit.unit} (${citeOf(limit.source)}). Published: no significant rise in 43 patients, largest ${largestRise.value} ${largestRise.unit} (${citeOf(largestRise.source)}), severe hypertension left out. Measure the pressure during the procedure.`,
      ),
    );
  }
  return found;
}
