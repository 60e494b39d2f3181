import { power } from '../foundation/power.js';
import type { MmHg } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';

/** Conditions that shift the dissociation curve; default pH 7.40 and 37 degC. */
export interface BloodConditions {
  ph?: number;
  temperatureC?: number;
}

/** `exp(1.1·ΔpH)`: natural-log slope of the Bohr shift, −0.48 in decadic logarithms. */
const BOHR_SLOPE = 1.1;

/**
 * Change of ln PO2 per degree at constant content.
 *
 * Formula   d ln P / dT = 0.058 / ((0.243·P/100)^3.88 + 1) + 0.013, P at 37 °C. The exponent holds for the whole bracket.
 * Source    Severinghaus, J Appl Physiol 1979;46(3):599-602, Eq 3   [severinghaus-1979]
 * Units     mmHg; result 1/°C
 * @example  temperatureCoefficient(100)   // 0.0708
 */
export function temperatureCoefficient(po2At37MmHg: MmHg): number {
  return 0.058 / (power((0.243 * po2At37MmHg) / 100, 3.88) + 1) + 0.013;
}

/**
 * PO2 that the same blood would have at 37 °C and pH 7.40, for use with the standard curve.
 *
 * Formula   P(37) = P(T)·exp(−c·(T − 37)), c from Eq 3 at P(37) and found by iteration;
 *           P(7.40) = P·exp(1.1·(pH − 7.40))
 * Source    Severinghaus 1979 [severinghaus-1979]; the simple Bohr shift is from memory
 * Units     mmHg, °C
 */
export function standardPo2(po2MmHg: MmHg, conditions: BloodConditions): MmHg {
  const warmer =
    (conditions.temperatureC ?? CONSTANTS.bodyTemperatureC.value) - CONSTANTS.bodyTemperatureC.value;
  const bohr = Math.exp(
    BOHR_SLOPE * ((conditions.ph ?? CONSTANTS.standardPh.value) - CONSTANTS.standardPh.value),
  );
  return at37(po2MmHg, warmer) * bohr;
}

/** The reverse: PO2 at the blood's pH and temperature from the PO2 of the standard curve. Exact inverse of `standardPo2`. */
export function po2AtConditions(standardMmHg: MmHg, conditions: BloodConditions): MmHg {
  const warmer =
    (conditions.temperatureC ?? CONSTANTS.bodyTemperatureC.value) - CONSTANTS.bodyTemperatureC.value;
  const bohr = Math.exp(
    -BOHR_SLOPE * ((conditions.ph ?? CONSTANTS.standardPh.value) - CONSTANTS.standardPh.value),
  );
  const p37 = standardMmHg * bohr;
  return p37 * Math.exp(temperatureCoefficient(p37) * warmer);
}

/**
 * Solves P(T) = P37·exp(c(P37)·ΔT) for P37. Each step is at most a quarter of the last for |ΔT| up to 4 °C, and still at most half at 9 °C.
 */
function at37(po2MmHg: MmHg, warmer: number): number {
  if (warmer === 0 || po2MmHg === 0) return po2MmHg;
  let p37 = po2MmHg;
  for (let i = 0; i < 60; i++) {
    const next = po2MmHg * Math.exp(-temperatureCoefficient(p37) * warmer);
    if (Math.abs(next - p37) <= 1e-13 * next) return next;
    p37 = next;
  }
  return p37;
}
