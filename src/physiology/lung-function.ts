import type { Lobe, Patient } from '../case/case.js';
import { fixed, rounded } from '../foundation/number-text.js';
import { CONSTANTS } from '../reference/constants.js';
import { SOURCES } from '../reference/sources.js';
import type { Resection } from '../result/result.generated.js';
import { type NumberRule, type Rules, ruleNumber } from '../rules/rule.js';
import { citeOf } from '../rules/source-text.js';
import { countedSegments, lobeSegments, type Side, subsegmentsOf } from './lung-segments.js';

export interface LungFunctionInput {
  side?: Side;
  /** What is to be removed; `lingula` alone is a segmentectomy. */
  lobe?: Lobe;
  /** Segments that hold the lesion: they exchange no gas worth counting and are already lost. */
  lesionSegments: readonly string[];
  spirometry: Patient['spirometry'];
  rules: Pick<Rules, 'byId'>;
}

export type PredictedLungFunction = Pick<
  Resection,
  | 'predicted_fev1_l'
  | 'predicted_fev1_percent'
  | 'predicted_dlco_percent'
  | 'predicted_because'
  | 'predicted_reading'
>;

const c = CONSTANTS;

/**
 * What lung function a resection leaves, by counting segments.
 *
 * Formula   ppo = pre·((19 − a) − b)/(19 − a), a segments already without function, b functioning segments removed
 * Source    BTS/SCTS, Thorax 2001;56:89 [bts-scts-2001, from memory]; the 42-subsegment count of 2010 [bts-2010-resection] is
 *           worked beside it and told where it falls on the other side of a threshold
 * Assumes   segments of the lesion count as lost (their shunted flow exchanges no gas); with none named a = 0
 * Units     L and % of predicted, as given
 * Absent    each value whose input is missing; all where side or lobe is missing: `predicted_because` says so
 * Checked   tests/check-values/lung-function.csv
 */
export function predictLungFunction(input: LungFunctionInput): PredictedLungFunction {
  const { side, lobe, spirometry } = input;
  const resected = lobeSegments(side, lobe);
  if (!side || !resected) {
    const missing = !side
      ? 'the side is not given'
      : !lobe
        ? 'the lobe is not given'
        : `the ${side} lung has no ${lobe} lobe`;
    return { predicted_because: `Not predicted: ${missing}.` };
  }
  const { known, unknown } = countedSegments(side, input.lesionSegments);
  const total = c.segmentsBothLungs.value;
  const lost = known.length;
  const removed = resected.segments.filter((s) => !known.includes(s)).length;
  const kept = (total - lost - removed) / (total - lost);
  const keptBySubsegments = subsegmentFactor(side, resected, known);
  const limits = functionLimits(input.rules);
  const values = [spirometry.fev1Percent, spirometry.dlcoPercent];
  const because = [
    `${total}-segment count (${SOURCES['bts-scts-2001'].cite}): ${
      lost > 0
        ? `${lost} segment${lost > 1 ? 's' : ''} (${known.join(', ')}) counted as already lost to the lesion, `
        : 'no segment counted as lost to the lesion, '
    }${removed} functioning removed with the ${side} ${lobe}${lobe === 'lingula' ? '' : ' lobe'}: ${total - lost - removed} of ${total - lost} are left (${fixed(100 * kept, 1)} %).`,
  ];
  if (unknown.length > 0) because.push(`Not counted, no such segment on the ${side}: ${unknown.join(', ')}.`);
  if (values.every((v) => v === undefined) && spirometry.fev1L === undefined) {
    because.push('No value is predicted: spirometry is not given.');
  }
  because.push(...otherSideOfThreshold('FEV1', spirometry.fev1Percent, kept, keptBySubsegments, limits));
  because.push(...otherSideOfThreshold('DLCO', spirometry.dlcoPercent, kept, keptBySubsegments, limits));
  const left = (value: number | undefined, digits: number) =>
    value === undefined ? undefined : rounded(value * kept, digits);
  const predicted: PredictedLungFunction = {
    predicted_fev1_l: left(spirometry.fev1L, 4),
    predicted_fev1_percent: left(spirometry.fev1Percent, 3),
    predicted_dlco_percent: left(spirometry.dlcoPercent, 3),
    predicted_because: because.join(' '),
    predicted_reading: reading(left(spirometry.fev1Percent, 3), left(spirometry.dlcoPercent, 3), limits),
  };
  return Object.fromEntries(
    Object.entries(predicted).filter(([, v]) => v !== undefined),
  ) as PredictedLungFunction;
}

/** The same formula with 42 subsegments. */
function subsegmentFactor(
  side: Side,
  resected: { segments: readonly string[]; subsegments: number },
  lesion: string[],
): number {
  const total = c.subsegmentsBothLungs.value;
  const lost = lesion.reduce((sum, s) => sum + subsegmentsOf(side, s), 0);
  const lostInside = lesion
    .filter((s) => resected.segments.includes(s))
    .reduce((sum, s) => sum + subsegmentsOf(side, s), 0);
  return (total - lost - (resected.subsegments - lostInside)) / (total - lost);
}

/** The limits of predicted function, % of predicted, with their sources. */
interface FunctionLimits {
  low: NumberRule;
  moderate: NumberRule;
  breathless: NumberRule;
}

function functionLimits(rules: Pick<Rules, 'byId'>): FunctionLimits {
  return {
    low: ruleNumber(rules, 'low-predicted-function'),
    moderate: ruleNumber(rules, 'moderate-predicted-function'),
    breathless: ruleNumber(rules, 'breathless-predicted-function'),
  };
}

function otherSideOfThreshold(
  name: string,
  pre: number | undefined,
  kept: number,
  bySubsegments: number,
  { moderate, breathless, low }: FunctionLimits,
): string[] {
  if (pre === undefined) return [];
  const limits = [moderate.value, breathless.value, low.value];
  const crossed = limits.filter((limit) => pre * kept >= limit !== pre * bySubsegments >= limit);
  return crossed.map(
    (limit) =>
      `By ${c.subsegmentsBothLungs.value} subsegments (${SOURCES['bts-2010-resection'].cite}) ${name} would be ${fixed(pre * bySubsegments, 1)} %, on the other side of ${limit} %.`,
  );
}

/** What the published thresholds say about the predicted values. They are of lung cancer surgery and inform only. */
function reading(
  fev1: number | undefined,
  dlco: number | undefined,
  { low, moderate, breathless }: FunctionLimits,
): string | undefined {
  const values = [fev1, dlco].filter((v): v is number => v !== undefined);
  if (values.length === 0) return undefined;
  const lowest = Math.min(...values);
  const accp =
    lowest < low.value
      ? `a value below ${low.value} %: cardiopulmonary exercise test before deciding`
      : lowest > moderate.value
        ? values.length === 2
          ? `both above ${moderate.value} %: low risk, no further test asked for`
          : `above ${moderate.value} %, but low risk needs both FEV1 and DLCO`
        : `a value of ${low.value} to ${moderate.value} %: stair climb or shuttle walk first`;
  const breath =
    lowest < breathless.value
      ? `below ${breathless.value} %: higher risk of breathlessness, not a refusal`
      : `not below ${breathless.value} %`;
  const guideline =
    low.source === moderate.source ? citeOf(low.source) : `${citeOf(low.source)}; ${citeOf(moderate.source)}`;
  return `${guideline}: ${accp}. ${citeOf(breathless.source)}: ${breath}. Both are thresholds of lung cancer surgery and inform only.`;
}
