import type { MlPerDl } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';
import { saturationFromPo2 } from './oxygen-saturation.js';
import { middle95, seededRandom } from './seeded-random.js';
import { type ShuntNumbers, workShunt } from './shunt-model.js';

/** The uncertainty of inputs that were not measured on the analyser. */
export interface ShuntSpread {
  pressure: 'measured' | 'altitude' | 'assumed';
  pco2: 'measured' | 'assumed';
  /** Standard deviation of the arterio-venous difference, if no mixed-venous sample is used. */
  avDifferenceSdMlDl: MlPerDl;
}

/** One draw of the true inputs of a shunt, and its shunt. */
export interface ShuntDraw {
  numbers: ShuntNumbers;
  /** Not truncated to 0..1; 1 if the drawn numbers allow no solution. */
  fraction: number;
  avDifferenceMlDl: MlPerDl;
}

/** Lists all inputs of a shunt, so that none is forgotten. */
type EveryNumber = { [Key in keyof Required<ShuntNumbers>]: ShuntNumbers[Key] };

const DRAWS = 2000;
const SEED = 20020127;

/**
 * 2000 seeded draws of the inputs of a shunt from their errors, each put through the whole computation.
 *
 * Errors    one standard deviation each, from constants.ts: PO2, PCO2, saturation, haemoglobin, barometric pressure by its source,
 *           arterio-venous difference, respiratory quotient, curve. Most are common practice, no source. The curve's error cannot raise
 *           saturation above 1.
 * Same      the same numbers give the same draws on every run
 */
export function shuntDraws(numbers: ShuntNumbers, spread: ShuntSpread): ShuntDraw[] {
  const random = seededRandom(SEED);
  const c = CONSTANTS;
  const pressureSd = {
    measured: c.measuredPressureSdMmHg.value,
    altitude: c.altitudePressureSdMmHg.value,
    assumed: c.assumedPressureSdMmHg.value,
  }[spread.pressure];
  const pco2Sd = spread.pco2 === 'measured' ? c.pco2SdMmHg.value : c.assumedPaco2SdMmHg.value;
  const scaledBy = (sd: number) => Math.max(0.01, 1 + sd * random.normal());
  const moved = (value: number, sd: number) => Math.max(0, value + sd * random.normal());
  const saturation = (value: number) => Math.min(1, moved(value, c.so2Sd.value));
  const { haemoglobinGDl, arterialSaturation, venous } = numbers;
  return Array.from({ length: DRAWS }, () => {
    // written out, because copying all properties takes longer than the equation
    const drawn: EveryNumber = {
      fio2: numbers.fio2,
      ph: numbers.ph,
      temperatureC: numbers.temperatureC,
      barometricMmHg: moved(numbers.barometricMmHg, pressureSd),
      pco2MmHg: moved(numbers.pco2MmHg, pco2Sd),
      po2MmHg: numbers.po2MmHg * scaledBy(c.po2SdFraction.value),
      respiratoryQuotient: Math.max(
        0.5,
        numbers.respiratoryQuotient + c.respiratoryQuotientSd.value * random.normal(),
      ),
      haemoglobinGDl:
        haemoglobinGDl === undefined ? undefined : haemoglobinGDl * scaledBy(c.haemoglobinSdFraction.value),
      arterialSaturation: arterialSaturation === undefined ? undefined : saturation(arterialSaturation),
      venous: venous && drawnVenous(venous, scaledBy(c.po2SdFraction.value), saturation),
      avDifferenceMlDl: Math.max(0.5, moved(numbers.avDifferenceMlDl, spread.avDifferenceSdMlDl)),
      curveError: {
        arterial: c.curveSd.value * random.normal(),
        endCapillary: c.curveSd.value * random.normal(),
      },
    };
    const { fraction, avDifferenceMlDl } = workShunt(drawn);
    return { numbers: drawn, fraction: Number.isFinite(fraction) ? fraction : 1, avDifferenceMlDl };
  });
}

/** The middle 95 % of the drawn shunts; it may reach below zero. */
export const drawnInterval = (draws: readonly ShuntDraw[]): [number, number] =>
  middle95(Float64Array.from(draws, ({ fraction }) => fraction));

/** 95 % interval of a shunt of 0..1: the middle of its draws, truncated to 0..1; it always contains the fraction. */
export function shuntInterval(fraction: number, drawn: readonly [number, number]): [number, number] {
  const cut = (value: number): number => Math.min(1, Math.max(0, value));
  return [Math.min(cut(drawn[0]), fraction), Math.max(cut(drawn[1]), fraction)];
}

/** A saturation derived from the PO2 varies with the error of that PO2 along the curve, not independently. */
function drawnVenous(
  venous: NonNullable<ShuntNumbers['venous']>,
  po2Factor: number,
  saturation: (value: number) => number,
): NonNullable<ShuntNumbers['venous']> {
  const po2MmHg = venous.po2MmHg * po2Factor;
  if (venous.derived !== 'so2') return { so2Fraction: saturation(venous.so2Fraction), po2MmHg };
  const along = saturationFromPo2(po2MmHg) - saturationFromPo2(venous.po2MmHg);
  return { so2Fraction: Math.min(1, Math.max(0, venous.so2Fraction + along)), po2MmHg };
}
