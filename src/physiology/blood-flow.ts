import { power } from '../foundation/power.js';
import type { Fraction, LPerMin, Mm } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';

/**
 * Viscosity of blood from its haematocrit.
 *
 * Formula   log10 μ = 0.01138·Hct(%) + 0.03699
 * Source    fit to the data of Lichtman [lichtman-viscosity, secondary]. Other plots read 25 to 30 % lower: take it as ±25 %
 * Units     0..1; result mPa·s (= cP)
 * Valid     haematocrit 0.2 to 0.75; without a haematocrit the nominal 3.5 mPa·s
 * Checked   tests/check-values/viscosity.csv
 * @example  bloodViscosity(0.45)   // 3.541
 */
export function bloodViscosity(haematocritFraction: Fraction | undefined): number {
  if (haematocritFraction === undefined || haematocritFraction < 0.2 || haematocritFraction > 0.75) {
    return CONSTANTS.bloodViscosityMPaS.value;
  }
  return power(10, 0.01138 * 100 * haematocritFraction + 0.03699);
}

/**
 * Reynolds number of flow in a round vessel.
 *
 * Formula   Re = 4·ρ·Q / (π·μ·d)
 * Source    pipe flow; laminar below about 2300 [poiseuille-sutera-1993, from memory]
 * Units     L/min, mm, mPa·s; result a plain number
 * @example  reynoldsNumber(4.4, 6, 3.5)   // about 4700
 */
export function reynoldsNumber(flowLMin: LPerMin, calibreMm: Mm, viscosityMPaS: number): number {
  const flowM3S = flowLMin / 60000;
  return (
    (4 * CONSTANTS.bloodDensityKgM3.value * flowM3S) / (Math.PI * viscosityMPaS * 1e-3 * calibreMm * 1e-3)
  );
}

/** Mean velocity, m/s, from L/min and mm. */
export function meanVelocity(flowLMin: LPerMin, calibreMm: Mm): number {
  return flowLMin / 60000 / ((Math.PI / 4) * (calibreMm * 1e-3) ** 2);
}
