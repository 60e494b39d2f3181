import type { Fraction, GPerDl, MlPerDl, MmHg } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';
import { alveolarPo2 } from './alveolar-gas.js';
import { oxygenContent } from './oxygen-content.js';
import { po2FromSaturation } from './oxygen-pressure.js';
import { saturationFromPo2 } from './oxygen-saturation.js';
import { shuntFromContents, shuntFromDissolved } from './shunt-equation.js';
import { waterVapourPressure } from './water-vapour.js';

/** The complete input of the shunt equation, as plain numbers. */
export interface ShuntNumbers {
  fio2: Fraction;
  barometricMmHg: MmHg;
  pco2MmHg: MmHg;
  po2MmHg: MmHg;
  ph: number;
  temperatureC: number;
  respiratoryQuotient: number;
  /** If absent, only the dissolved form can be computed. */
  haemoglobinGDl?: GPerDl;
  /** Default: from PO2 by the curve. */
  arterialSaturation?: number;
  /** A mixed-venous sample; default: `avDifferenceMlDl` below the arterial content. */
  venous?: { so2Fraction: Fraction; po2MmHg: MmHg; derived?: 'po2' | 'so2' };
  avDifferenceMlDl: MlPerDl;
  /** Error of the curve on the arterial and the end-capillary side, 0 except in draws for an interval. */
  curveError?: { arterial: number; endCapillary: number };
}

/** One computed shunt with all steps. Contents mL/dL, pressures mmHg, saturations and shunt 0..1. */
export interface ShuntWorking {
  waterVapourMmHg: MmHg;
  alveolarPo2MmHg: MmHg;
  arterialSaturation: number;
  endCapillarySaturation: number;
  endCapillaryContentMlDl?: MlPerDl;
  arterialContentMlDl?: MlPerDl;
  venousContentMlDl?: MlPerDl;
  avDifferenceMlDl: MlPerDl;
  /** May be outside 0..1 if the numbers contradict each other. */
  fraction: number;
}

/**
 * Computes the shunt: alveolar PO2, saturations, contents, fraction.
 *
 * Formula   Qs/Qt = (Cc'O2 − CaO2) / (Cc'O2 − CvO2) with full contents; without haemoglobin the dissolved form
 * Source    see alveolar-gas.ts, oxygen-saturation.ts, oxygen-content.ts, shunt-equation.ts
 * Assumes   end-capillary blood on 100 % oxygen is fully saturated; on less it follows the curve at the alveolar PO2
 *           with the arterial pH and temperature
 */
export function workShunt(numbers: ShuntNumbers): ShuntWorking {
  const { fio2, po2MmHg, ph, temperatureC, haemoglobinGDl, venous } = numbers;
  const conditions = { ph, temperatureC };
  const waterVapourMmHg = waterVapourPressure(temperatureC);
  const alveolar = alveolarPo2({
    fio2,
    barometricMmHg: numbers.barometricMmHg,
    waterVapourMmHg,
    paCO2MmHg: numbers.pco2MmHg,
    respiratoryQuotient: numbers.respiratoryQuotient,
  });
  const arterialSaturation =
    numbers.arterialSaturation ??
    shifted(saturationFromPo2(po2MmHg, conditions), numbers.curveError?.arterial);
  const endCapillarySaturation =
    fio2 === 1
      ? 1
      : shifted(saturationFromPo2(Math.max(alveolar, 0), conditions), numbers.curveError?.endCapillary);
  // the answers are written out: copying properties takes longer than the equation, which is computed for every draw of an interval
  if (haemoglobinGDl === undefined)
    return {
      waterVapourMmHg,
      alveolarPo2MmHg: alveolar,
      arterialSaturation,
      endCapillarySaturation,
      avDifferenceMlDl: numbers.avDifferenceMlDl,
      fraction: shuntFromDissolved(alveolar, po2MmHg, numbers.avDifferenceMlDl),
    };
  const endCapillary = oxygenContent(haemoglobinGDl, endCapillarySaturation, alveolar);
  const arterial = oxygenContent(haemoglobinGDl, arterialSaturation, po2MmHg);
  const mixed = venous
    ? oxygenContent(haemoglobinGDl, venous.so2Fraction, venous.po2MmHg)
    : arterial - numbers.avDifferenceMlDl;
  return {
    waterVapourMmHg,
    alveolarPo2MmHg: alveolar,
    arterialSaturation,
    endCapillarySaturation,
    endCapillaryContentMlDl: endCapillary,
    arterialContentMlDl: arterial,
    venousContentMlDl: mixed,
    avDifferenceMlDl: arterial - mixed,
    fraction: shuntFromContents(endCapillary, arterial, mixed),
  };
}

/**
 * Saturation and PO2 of a sample; if one is missing it is derived from the other by the curve. Undefined if neither is known, or only a
 * saturation on the flat part of the curve.
 */
export function completedSample(
  po2MmHg: MmHg | undefined,
  so2Fraction: Fraction | undefined,
  conditions: { ph?: number; temperatureC?: number },
): { so2Fraction: Fraction; po2MmHg: MmHg; derived?: 'po2' | 'so2' } | undefined {
  if (po2MmHg !== undefined && so2Fraction !== undefined) return { so2Fraction, po2MmHg };
  if (po2MmHg !== undefined) {
    return { so2Fraction: saturationFromPo2(po2MmHg, conditions), po2MmHg, derived: 'so2' };
  }
  if (so2Fraction === undefined || so2Fraction > CONSTANTS.invertibleSaturation.value) return undefined;
  return { so2Fraction, po2MmHg: po2FromSaturation(so2Fraction, conditions), derived: 'po2' };
}

function shifted(saturation: number, error = 0): number {
  return Math.min(1, Math.max(0, saturation + error));
}
