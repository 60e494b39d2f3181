import type { Patient } from '../case/case.js';
import { fixed, rounded } from '../foundation/number-text.js';
import { CONSTANTS } from '../reference/constants.js';
import { SOURCES } from '../reference/sources.js';
import type { Resection } from '../result/result.generated.js';
import { type NumberRule, type Rules, ruleNumber } from '../rules/rule.js';
import { citeOf } from '../rules/source-text.js';
import { segmentNames } from './lung-segments.js';
import type { ResectionCount } from './resection-count.js';

export interface LungFunctionInput {
  /** Number of segments taken and left, or why they cannot be counted. */
  count: ResectionCount | { absentBecause: string };
  spirometry: Patient['spirometry'];
  rules: Pick<Rules, 'byId'>;
}

export type PredictedLungFunction = Pick<
  Resection,
  | 'predicted_fev1_l'
  | 'predicted_fev1_percent'
  | 'predicted_fev1_percent_interval'
  | 'predicted_dlco_percent'
  | 'predicted_dlco_percent_interval'
  | 'predicted_because'
  | 'predicted_reading'
>;

const c = CONSTANTS;

/**
 * Lung function after a resection, by counting segments.
 *
 * Formula   predicted = measured · kept (`countResection`); the interval gives the published limits of agreement between this count and
 *           later measurements: FEV1 −19.7 to +39.3 points, DLCO −15.9 to +25.6 points
 * Source    BTS/SCTS, Thorax 2001;56:89 [bts-scts-2001, from memory]; agreement: J Thorac Dis 2024;16:247 [lim-2024], 158
 *           resections; the 42-subsegment count of 2010 [bts-2010-resection] is reported if it falls on the other side of a limit
 * Units     L and % of predicted, as given; intervals in % of predicted, truncated at 0
 * Absent    each value whose input is missing; all if nothing can be counted: `predicted_because` says so
 * Checked   tests/check-values/lung-function.csv
 */
export function predictLungFunction({ count, spirometry, rules }: LungFunctionInput): PredictedLungFunction {
  if ('absentBecause' in count) return { predicted_because: `Not predicted: ${count.absentBecause}.` };
  const limits = functionLimits(rules);
  const { fev1L, fev1Percent, dlcoPercent } = spirometry;
  const because = [countText(count)];
  if (count.extent === 'wedge')
    because.push('A wedge takes less than the segments it lies in: more is left than this count says.');
  if (fev1L === undefined && fev1Percent === undefined && dlcoPercent === undefined) {
    because.push('No value is predicted: spirometry is not given.');
  }
  because.push(...otherSideOfThreshold('FEV1', fev1Percent, count, limits));
  because.push(...otherSideOfThreshold('DLCO', dlcoPercent, count, limits));
  const left = (value: number | undefined, digits: number) =>
    value === undefined ? undefined : rounded(value * count.kept, digits);
  const fev1 = left(fev1Percent, 3);
  const dlco = left(dlcoPercent, 3);
  if (fev1 !== undefined || dlco !== undefined)
    because.push(
      `Intervals: published limits of agreement (${SOURCES['lim-2024'].cite}); the count underestimates on average.`,
    );
  const predicted: PredictedLungFunction = {
    predicted_fev1_l: left(fev1L, 4),
    predicted_fev1_percent: fev1,
    predicted_fev1_percent_interval: agreement(fev1, c.fev1AgreementBelow.value, c.fev1AgreementAbove.value),
    predicted_dlco_percent: dlco,
    predicted_dlco_percent_interval: agreement(dlco, c.dlcoAgreementBelow.value, c.dlcoAgreementAbove.value),
    predicted_because: because.join(' '),
    predicted_reading: reading(fev1, dlco, limits),
  };
  return Object.fromEntries(
    Object.entries(predicted).filter(([, v]) => v !== undefined),
  ) as PredictedLungFunction;
}

/** The count in one sentence. */
function countText({ side, what, obstructed, working, left, kept }: ResectionCount): string {
  const total = c.segmentsBothLungs.value;
  const blocked =
    obstructed.length === 0
      ? 'segments with the malformation count as working'
      : `${segmentNames(side, obstructed).join(', ')} no longer breathe${obstructed.length === 1 ? 's' : ''} by the case`;
  return `${total}-segment count (${SOURCES['bts-scts-2001'].cite}); ${blocked}. Without ${what}, ${left} of ${working} working segments are left (${fixed(100 * kept, 1)} %).`;
}

function agreement(value: number | undefined, below: number, above: number): [number, number] | undefined {
  return value === undefined
    ? undefined
    : [rounded(Math.max(0, value - below), 3), rounded(value + above, 3)];
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
  { kept, keptBySubsegments: bySubsegments }: ResectionCount,
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

/** Reading of the predicted values by the published thresholds. They come from lung cancer surgery and are only informative. */
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
          ? `both above ${moderate.value} %: low risk, no further test needed`
          : `above ${moderate.value} %, but low risk needs both FEV1 and DLCO`
        : `a value of ${low.value} to ${moderate.value} %: stair climb or shuttle walk first`;
  const breath =
    lowest < breathless.value
      ? `below ${breathless.value} %: higher risk of breathlessness, not a refusal`
      : `not below ${breathless.value} %`;
  const guideline =
    low.source === moderate.source
      ? `(${citeOf(low.source)})`
      : `(${citeOf(low.source)}) (${citeOf(moderate.source)})`;
  const capital = `${accp.charAt(0).toUpperCase()}${accp.slice(1)}`;
  return `${capital} ${guideline}; ${breath} (${citeOf(breathless.source)}). These limits come from lung cancer surgery.`;
}
