import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { asWritten, besideLimits, fixed } from '../foundation/number-text.js';
import type { Shunt } from '../result/result.generated.js';
import { ruleNumber, type Rules } from '../rules/rule.js';
import { citeOf } from '../rules/source-text.js';

export type PressureClass =
  | 'no pulmonary hypertension'
  | 'pre-capillary'
  | 'isolated post-capillary'
  | 'combined'
  | 'unclassified';

/** The assessment of the measured pressures before closure. */
export interface PulmonaryPressure {
  /** `severe`: neither closing nor resecting; `not classifiable`: raised, and wedge or output is missing. */
  reading: 'normal' | 'raised' | 'not classifiable' | 'severe';
  class?: PressureClass;
  /** Of the whole lung, shunt included, Wood units. */
  resistanceWu?: number;
  /** Of the normal bed alone, Wood units. */
  bedResistanceWu?: number;
  /** From the 95 % interval of the shunt. */
  bedIntervalWu?: [number, number];
  isWedgeRaised: boolean;
  /** The measured numbers, the class and both resistances. */
  text: string;
}

type Inputs = Pick<Case['circulation'], 'meanPaPressureMmHg' | 'wedgePressureMmHg' | 'cardiacOutputLMin'>;

/**
 * Assesses the pulmonary artery pressure by mean pressure, wedge and resistance, and by the resistance of the normal bed, which a shunt
 * masks; undefined without a mean pressure.
 *
 * Formula   R = (mPAP − PAWP)/Q; normal bed: (mPAP − PAWP)/(Q·(1 − Qs/Qt)). Classes: mPAP above 20 mmHg, split at a wedge
 *           of 15 mmHg and a resistance of 2 Wood units. Severe: from 35 mmHg, or either resistance above 5 Wood units
 * Source    ESC/ERS guidelines 2022 [esc-ers-2022]; the limits are in rules/readiness.yaml, each with its source
 * Units     mmHg, L/min, fraction; Wood units (mmHg·min/L)
 * Assumes   the output is the total one, shunt flow included; the same pressure drop over shunt and normal bed
 * Checked   tests/check-values/pulmonary-pressure.csv
 */
export function judgePressure(
  { meanPaPressureMmHg: mean, wedgePressureMmHg: wedge, cardiacOutputLMin: output }: Inputs,
  shunt: Pick<Shunt, 'fraction' | 'interval'> | undefined,
  rules: Pick<Rules, 'byId'>,
): PulmonaryPressure | undefined {
  if (mean === undefined) return undefined;
  const limit = (id: string): number => ruleNumber(rules, id).value;
  const drop = wedge === undefined ? undefined : mean - wedge;
  const isUsable = drop !== undefined && drop > 0 && output !== undefined && output > 0;
  const resistanceWu = isUsable ? drop / output : undefined;
  const bed = (fraction: number | undefined): number | undefined =>
    resistanceWu === undefined || fraction === undefined || fraction < 0 || fraction >= 1
      ? undefined
      : resistanceWu / (1 - fraction);
  const bedResistanceWu = bed(shunt?.fraction);
  const ends = shunt?.interval?.map((end) => bed(Math.max(0, end)));
  const bedIntervalWu =
    bedResistanceWu !== undefined && ends?.[0] !== undefined && ends[1] !== undefined
      ? ([ends[0], ends[1]] as [number, number])
      : undefined;
  const isWedgeRaised = wedge !== undefined && wedge > limit('raised-wedge-pressure');
  const isRaised = mean > limit('pulmonary-hypertension');
  const highest = Math.max(resistanceWu ?? 0, bedResistanceWu ?? 0);
  const isSevere =
    mean >= limit('severe-pulmonary-hypertension') ||
    (isRaised && highest > limit('severe-pulmonary-resistance'));
  const found: Omit<PulmonaryPressure, 'text'> = {
    reading: isSevere
      ? 'severe'
      : !isRaised
        ? 'normal'
        : resistanceWu === undefined
          ? 'not classifiable'
          : 'raised',
    class: classOf(isRaised, isWedgeRaised, resistanceWu, limit('raised-pulmonary-resistance')),
    resistanceWu,
    bedResistanceWu,
    bedIntervalWu,
    isWedgeRaised,
  };
  const limits = [limit('raised-pulmonary-resistance'), limit('severe-pulmonary-resistance')];
  return { ...found, text: textOf(found, { mean, wedge, output }, limits) };
}

function classOf(
  isRaised: boolean,
  isWedgeRaised: boolean,
  resistanceWu: number | undefined,
  limitWu: number,
): PressureClass | undefined {
  if (!isRaised) return 'no pulmonary hypertension';
  if (resistanceWu === undefined) return undefined;
  if (resistanceWu > limitWu) return isWedgeRaised ? 'combined' : 'pre-capillary';
  return isWedgeRaised ? 'isolated post-capillary' : 'unclassified';
}

function textOf(
  judged: Omit<PulmonaryPressure, 'text'>,
  { mean, wedge, output }: { mean: number; wedge?: number; output?: number },
  limitsWu: readonly number[],
): string {
  const given = [
    `Mean pulmonary artery pressure ${asWritten(mean, 2)} mmHg`,
    wedge === undefined ? 'wedge not given' : `wedge ${asWritten(wedge, 2)} mmHg`,
    output === undefined ? 'output not given' : `output ${fixed(output, 1)} L/min`,
  ].join(', ');
  const { resistanceWu, bedResistanceWu, bedIntervalWu, class: kind } = judged;
  if (resistanceWu === undefined) return `${given}${judged.reading === 'normal' ? '' : ', not classifiable'}`;
  const range = bedIntervalWu ? ` (${fixed(bedIntervalWu[0], 1)} to ${fixed(bedIntervalWu[1], 1)})` : '';
  const bed =
    bedResistanceWu === undefined
      ? ', of the normal bed not known without a shunt'
      : `, of the normal bed ${besideLimits(bedResistanceWu, 1, limitsWu)}${range}`;
  return `${given}: ${kind}, resistance ${besideLimits(resistanceWu, 1, limitsWu)}${bed} Wood units`;
}

/** The finding on the measured pressure. `isBleeding`: a bleed takes precedence, and nothing here delays treatment. */
export function pulmonaryPressureFindings(
  judged: PulmonaryPressure | undefined,
  rules: Pick<Rules, 'byId'>,
  isBleeding = false,
): Finding[] {
  if (judged === undefined) return [];
  const wedge = ruleNumber(rules, 'raised-wedge-pressure');
  const first = judged.isWedgeRaised
    ? ` Wedge above ${wedge.value} ${wedge.unit}: heart, anaemia and liver first.`
    : '';
  const where = 'circulation.mean_pa_pressure';
  if (judged.reading === 'normal') {
    return judged.isWedgeRaised
      ? [finding('caution', 'wedge-raised', 'circulation.wedge_pressure', `${judged.text}.${first}`)]
      : [];
  }
  if (isBleeding) {
    const text = `${judged.text}. The bleed decides: this does not delay it.`;
    return [finding('caution', 'pulmonary-hypertension', where, text)];
  }
  if (judged.reading === 'severe') {
    const mean = ruleNumber(rules, 'severe-pulmonary-hypertension');
    const resistance = ruleNumber(rules, 'severe-pulmonary-resistance');
    const missing =
      judged.resistanceWu === undefined ? ' Measure wedge and output (right heart catheter).' : '';
    return [
      finding(
        'stop',
        'pulmonary-hypertension',
        where,
        `${judged.text}: severe, from ${mean.value} ${mean.unit} (${citeOf(mean.source)}) or above ${resistance.value} ${resistance.unit} (${citeOf(resistance.source)}). Neither closing nor resecting before a specialist decision: the lobe takes normal bed with it.${missing}${first} Leaving the lesion open has its own risk: stroke or abscess in more than 1 in 4 (${citeOf('bts-2017')}), and a fatal haemothorax is reported (${citeOf('err-2009-left-open')}).`,
      ),
    ];
  }
  const advice =
    judged.reading === 'not classifiable'
      ? 'Not classifiable: wedge pressure or output is missing. Measure them before the first device.'
      : `A relative contraindication to embolisation (${citeOf('bts-2017')}): look for a liver malformation and anaemia, and discuss before closing.`;
  return [finding('caution', 'pulmonary-hypertension', where, `${judged.text}. ${advice}${first}`)];
}
