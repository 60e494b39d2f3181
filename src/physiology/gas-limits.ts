import type { Fraction, MlPerDl, MmHg } from '../foundation/unit-types.js';
import { numberOf, type Rules } from '../rules/rule.js';

/** The plausibility limits of blood gases; each is a number rule with its source. Fractions are 0..1. */
export interface GasLimits {
  po2AboveAlveolarMmHg: MmHg;
  po2AboveAlveolarFraction: Fraction;
  saturationAboveEndCapillary: number;
  venousDifferenceUnusedMlDl: MlPerDl;
  venousDifferenceDoubtfulMlDl: MlPerDl;
  venousLikePo2MmHg: MmHg;
  venousLikeSaturation: number;
  roomAirSaturationMargin: number;
  normalShuntFraction: Fraction;
  lowestRestUptakeMlKgMin: number;
  highestRestUptakeMlKgMin: number;
  obeseBmi: number;
}

/** Reads the limits of `gases.yaml`, and the normal shunt, from the rules in force. */
export function gasLimits(rules: Pick<Rules, 'byId'>): GasLimits {
  const percent = (id: string): number => numberOf(rules, id) / 100;
  return {
    po2AboveAlveolarMmHg: numberOf(rules, 'po2-above-alveolar-pressure'),
    po2AboveAlveolarFraction: percent('po2-above-alveolar-percent'),
    saturationAboveEndCapillary: percent('saturation-above-end-capillary'),
    venousDifferenceUnusedMlDl: numberOf(rules, 'venous-difference-unused'),
    venousDifferenceDoubtfulMlDl: numberOf(rules, 'venous-difference-doubtful'),
    venousLikePo2MmHg: numberOf(rules, 'venous-like-po2'),
    venousLikeSaturation: percent('venous-like-saturation'),
    roomAirSaturationMargin: percent('room-air-saturation-margin'),
    normalShuntFraction: percent('normal-shunt'),
    lowestRestUptakeMlKgMin: numberOf(rules, 'rest-uptake-low'),
    highestRestUptakeMlKgMin: numberOf(rules, 'rest-uptake-high'),
    obeseBmi: numberOf(rules, 'obese-bmi'),
  };
}

/** The highest PaO2 that analyser error explains at this alveolar PO2, with the smaller of both allowances. */
export function highestBelievedPo2MmHg(alveolarMmHg: MmHg, limits: GasLimits): MmHg {
  return (
    alveolarMmHg +
    Math.min(limits.po2AboveAlveolarMmHg, limits.po2AboveAlveolarFraction * Math.max(0, alveolarMmHg))
  );
}
