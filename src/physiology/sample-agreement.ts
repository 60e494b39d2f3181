import type { GasSample } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed, rangeText } from '../foundation/number-text.js';
import type { MmHg } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';
import type { Shunt } from '../result/result.generated.js';
import { alveolarPo2 } from './alveolar-gas.js';
import type { GasLimits } from './gas-limits.js';
import { mmHgAndKPa, percent } from './gas-plausibility.js';
import { saturationFromShunt } from './saturation-from-shunt.js';
import type { ResolvedSample } from './shunt-inputs.js';
import type { ShuntWorking } from './shunt-model.js';

/** One arterial sample with its shunt. */
export interface WorkedSample {
  shunt?: Shunt;
  resolved?: ResolvedSample;
  working?: ShuntWorking;
}

/** A saturation measured on air, and its place in the case. Fractions 0..1. */
export interface RoomAirReading {
  where: string;
  words: string;
  saturation: number;
  /** Default: as in the sample on oxygen. */
  alveolarPo2MmHg?: MmHg;
  /** A reading while standing may be lower without contradicting a sample drawn lying or sitting. */
  mayBeLower?: boolean;
}

/** A caution if an arterial sample looks like venous blood. Severe lesions give such blood, so the sample is still used. */
export function venousLook(sample: GasSample, shunt: Shunt | undefined, limits: GasLimits): Finding[] {
  const { po2MmHg, so2Fraction, pco2MmHg } = sample;
  const lowPo2 = po2MmHg !== undefined && po2MmHg <= limits.venousLikePo2MmHg;
  const lowSaturation = so2Fraction !== undefined && so2Fraction <= limits.venousLikeSaturation;
  if (!lowPo2 && !lowSaturation) return [];
  const numbers = [
    po2MmHg === undefined ? undefined : `PO2 ${mmHgAndKPa(po2MmHg)}`,
    so2Fraction === undefined ? undefined : `saturation ${percent(so2Fraction)}`,
    pco2MmHg === undefined ? undefined : `PCO2 ${mmHgAndKPa(pco2MmHg)}`,
  ].filter((words) => words !== undefined);
  const answer =
    shunt?.fraction === undefined
      ? ''
      : ` If it was arterial, the shunt is ${percent(shunt.fraction)}; if it was venous, it gives none.`;
  const text = `The arterial sample ${sample.name} looks like venous blood (${numbers.join(', ')}). A large shunt gives such blood, and so does a vein; a low PCO2 does not tell them apart.${answer} Compare it with pulse oximetry at the time, or repeat it.`;
  return [finding('caution', 'venous-sample-suspect', `${sample.path}.${lowPo2 ? 'po2' : 'so2'}`, text)];
}

/** A caution, with both answers, if a mixed-venous sample was used although it has almost as much oxygen as arterial blood. */
export function smallDifference(worked: WorkedSample, limits: GasLimits): Finding[] {
  const { shunt, resolved } = worked;
  const doubtful = resolved?.doubtfulVenous;
  if (!doubtful || shunt?.fraction === undefined) return [];
  const assumed = CONSTANTS.assumedAvDifferenceMlDl.value;
  const other = shunt.sensitivity?.find((row) => row.av_difference_ml_dl === assumed);
  const beside =
    other === undefined
      ? ''
      : ` With the measured difference the shunt is ${percent(shunt.fraction)}, with the conventional ${assumed} mL/dL it would be ${percent(other.fraction)}.`;
  const text = `The arterio-venous difference of the mixed-venous sample ${doubtful.sample.name} is ${fixed(doubtful.differenceMlDl, 2)} mL/dL, not above ${limits.venousDifferenceDoubtfulMlDl} mL/dL: arterial admixture, or a high output (liver malformation, anaemia).${beside} Measure the output, or draw the sample again.`;
  return [finding('caution', 'mixed-venous-small-difference', doubtful.sample.path, text)];
}

/** A caution for each further sample whose shunt is outside the interval of the reported one, or vice versa. */
export function disagreements(chosen: WorkedSample, others: readonly WorkedSample[]): Finding[] {
  const { shunt, resolved } = chosen;
  if (shunt?.fraction === undefined || !resolved) return [];
  return others.flatMap(({ shunt: other, resolved: from }) => {
    if (other?.fraction === undefined || !from) return [];
    if (within(other.fraction, shunt.interval) && within(shunt.fraction, other.interval)) return [];
    const onAir =
      other.method === 'room-air' && shunt.method !== 'room-air'
        ? ' On less than 100 % oxygen uneven ventilation reads as shunt, so a higher value is expected, a lower one is not.'
        : '';
    const text = `The samples contradict each other: ${from.sample.name} gives ${estimate(other)}, ${resolved.sample.name} ${estimate(shunt)}.${onAir} The latter is reported; check both, or repeat.`;
    return [finding('caution', 'shunt-samples-disagree', from.sample.path, text)];
  });
}

/**
 * Cautions if a saturation on air differs from that expected for the reported shunt by more than the margin.
 *
 * Formula   saturation on air by `saturationFromShunt` with the arterio-venous difference of the shunt. The difference cancels: the
 *           oxygen that the shunt takes from arterial blood is D·f/(1 − f) = Cc' − Ca of the sample itself
 * Absent    without haemoglobin, or if the shunt comes from the same reading
 */
export function roomAirDisagreements(
  chosen: WorkedSample,
  readings: readonly RoomAirReading[],
  limits: GasLimits,
): Finding[] {
  const { shunt, resolved, working } = chosen;
  if (shunt?.fraction === undefined || !resolved || !working) return [];
  const { haemoglobinGDl, ph, pco2MmHg, barometricMmHg, respiratoryQuotient } = resolved.numbers;
  if (haemoglobinGDl === undefined) return [];
  const alveolar = alveolarPo2({
    fio2: CONSTANTS.airOxygenFraction.value,
    barometricMmHg,
    waterVapourMmHg: working.waterVapourMmHg,
    paCO2MmHg: pco2MmHg,
    respiratoryQuotient,
  });
  return readings.flatMap(({ where, words, saturation, alveolarPo2MmHg = alveolar, mayBeLower }) => {
    const expected = saturationFromShunt(shunt.fraction as number, {
      haemoglobinGDl,
      alveolarPo2MmHg,
      avDifferenceMlDl: working.avDifferenceMlDl,
      ph,
    })?.so2Fraction;
    if (expected === undefined) return [];
    const isLower = saturation < expected - limits.roomAirSaturationMargin && !mayBeLower;
    const isHigher = saturation > expected + limits.roomAirSaturationMargin;
    if (!isLower && !isHigher) return [];
    const why = isLower
      ? 'It is lower than this shunt explains: the shunt reads too low, or lung disease, low ventilation or the sample itself lowers the saturation.'
      : 'It is higher than this shunt allows: the shunt reads too high (less than 100 % oxygen, venous blood in the sample), or the saturation is wrong.';
    const text = `${words} is ${percent(saturation)}; the reported shunt of ${percent(shunt.fraction as number)} leaves ${percent(expected)} on air. ${why} Check both, or repeat.`;
    return [finding('caution', 'room-air-saturation-unexplained', where, text)];
  });
}

const within = (value: number | undefined, interval: readonly number[] | undefined): boolean =>
  value !== undefined && interval !== undefined && value >= interval[0] && value <= interval[1];

/** Whether a sample was drawn while the patient breathed room air. */
export const isOnAir = ({ fio2 }: Pick<GasSample, 'fio2'>): boolean =>
  fio2 !== undefined && Math.abs(fio2 - CONSTANTS.airOxygenFraction.value) < 0.01;

function estimate({ fraction, interval }: Shunt): string {
  const range = rangeText([100 * (interval?.[0] ?? 0), 100 * (interval?.[1] ?? 0)], 1, '%');
  return `${percent(fraction ?? 0)} (${range})`;
}
