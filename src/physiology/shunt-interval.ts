import { CONSTANTS } from '../reference/constants.js';
import { saturationFromPo2 } from './oxygen-saturation.js';
import { middle95, seededRandom } from './seeded-random.js';
import { type ShuntNumbers, workShunt } from './shunt-model.js';

/** How well the inputs that were not measured on the analyser are known. */
export interface ShuntSpread {
  pressure: 'measured' | 'altitude' | 'assumed';
  pco2: 'measured' | 'assumed';
}

const DRAWS = 2000;
const SEED = 20020127;

/**
 * 95 % interval of the shunt fraction from the errors of its inputs, by 2000 seeded draws through the whole chain.
 *
 * Errors    one standard deviation each, from constants.ts: PO2, PCO2, saturation, haemoglobin, barometric pressure by
 *           where it came from, arterio-venous difference, respiratory quotient, curve. Most are common practice, no source.
 *           The curve's error cannot carry saturation past 1.
 * Units     0..1; draws outside are cut to 0..1; the interval always holds the fraction itself
 * Same      the same numbers give the same interval on every run
 */
export function shuntInterval(
  numbers: ShuntNumbers,
  spread: ShuntSpread,
  fraction: number,
): [number, number] {
  const random = seededRandom(SEED);
  const c = CONSTANTS;
  const pressureSd = {
    measured: c.measuredPressureSdMmHg.value,
    altitude: c.altitudePressureSdMmHg.value,
    assumed: c.assumedPressureSdMmHg.value,
  }[spread.pressure];
  const pco2Sd = spread.pco2 === 'measured' ? c.pco2SdMmHg.value : c.assumedPaco2SdMmHg.value;
  const draws = new Float64Array(DRAWS);
  for (let i = 0; i < DRAWS; i++) {
    const scaledBy = (sd: number) => Math.max(0.01, 1 + sd * random.normal());
    const moved = (value: number, sd: number) => Math.max(0, value + sd * random.normal());
    const saturation = (value: number) => Math.min(1, moved(value, c.so2Sd.value));
    const { haemoglobinGDl, arterialSaturation, venous } = numbers;
    const drawn: ShuntNumbers = {
      ...numbers,
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
      avDifferenceMlDl: Math.max(0.5, moved(numbers.avDifferenceMlDl, c.avDifferenceSdMlDl.value)),
      curveError: {
        arterial: c.curveSd.value * random.normal(),
        endCapillary: c.curveSd.value * random.normal(),
      },
    };
    const { fraction: value } = workShunt(drawn);
    draws[i] = Number.isFinite(value) ? Math.min(1, Math.max(0, value)) : 1;
  }
  const [low, high] = middle95(draws);
  return [Math.min(low, fraction), Math.max(high, fraction)];
}

/** A saturation that was taken from the PO2 moves with the error of that PO2 along the curve, not on its own. */
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
