import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import { CONSTANTS } from '../reference/constants.js';
import { SOURCES } from '../reference/sources.js';
import type { FittedCirculation } from './closure-state.js';

export interface ClosureCirculation {
  fitted: FittedCirculation;
  assumed: string[];
  findings: Finding[];
  /** False where the given pressures contradict each other: then no pressure and no output is predicted. */
  isUsable: boolean;
  meanPaIsMeasured: boolean;
}

const c = CONSTANTS;

/** Output and pressures of the case; what is missing is a normal value, named. */
export function closureCirculation(given: Case['circulation']): ClosureCirculation {
  const assumed: string[] = [];
  const source = SOURCES['ers-normal-haemodynamics'].cite;
  const take = (value: number | undefined, normal: number, words: string, unit: string) => {
    if (value === undefined) assumed.push(`${words} ${normal} ${unit}, a normal value (${source})`);
    return value ?? normal;
  };
  const fitted: FittedCirculation = {
    cardiacOutputLMin: take(
      given.cardiacOutputLMin,
      c.normalCardiacOutputLMin.value,
      'cardiac output',
      'L/min',
    ),
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
  return { fitted, assumed, findings, isUsable, meanPaIsMeasured };
}

/** A circulation of normal pressures, for shares of flow where the given ones cannot be used. */
export const NORMAL_CIRCULATION: FittedCirculation = {
  cardiacOutputLMin: c.normalCardiacOutputLMin.value,
  meanPaMmHg: c.normalMeanPaPressureMmHg.value,
  wedgeMmHg: c.normalWedgePressureMmHg.value,
};

/** Cautions about the PA pressure now and after the closure that could raise it most. */
export function pressureFindings(
  circulation: ClosureCirculation,
  after: { closed: string; mmHg: number } | undefined,
): Finding[] {
  if (!circulation.meanPaIsMeasured || !circulation.isUsable) return [];
  const now = circulation.fitted.meanPaMmHg;
  const limit = c.pulmonaryHypertensionMmHg.value;
  const severe = c.severePulmonaryHypertensionMmHg.value;
  const found: Finding[] = [];
  if (now > limit) {
    const isSevere = now >= severe;
    found.push(
      finding(
        isSevere ? 'stop' : 'caution',
        'pulmonary-hypertension',
        'circulation.mean_pa_pressure',
        `Mean PA pressure ${fixed(now, 0)} mmHg: pulmonary hypertension (above ${limit} mmHg, ${SOURCES['esc-ers-2022'].cite}). ${
          isSevere
            ? `From ${severe} mmHg it is severe (${SOURCES['esc-ers-2015'].cite}): no closure before a specialist decision with right-heart catheter.`
            : `A relative contraindication to embolisation (${SOURCES['bts-2017'].cite}): look for a hepatic malformation and anaemia, and discuss before closing.`
        }`,
      ),
    );
  }
  if (after && after.mmHg > limit && after.mmHg > now) {
    found.push(
      finding(
        'caution',
        'pulmonary-hypertension-after-closure',
        'closure',
        `With ${after.closed} closed the mean PA pressure could rise from ${fixed(now, 0)} to at most ${fixed(after.mmHg, 0)} mmHg (output unchanged, no recruitment of the normal bed), above ${limit} mmHg (${SOURCES['esc-ers-2022'].cite}). Published: no significant rise in 43 patients, largest ${c.largestPublishedRiseMmHg.value} mmHg (${SOURCES['shovlin-2008-pressure'].cite}), severe hypertension left out. Measure the pressure during the procedure.`,
      ),
    );
  }
  return found;
}
