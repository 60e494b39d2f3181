import { fourthPower } from '../foundation/power.js';
import type { Mm } from '../foundation/unit-types.js';
import type { VesselMeasure } from '../geometry/measure.js';
import { CONSTANTS } from '../reference/constants.js';

/** A vessel's conductance from its calibre profile. Units cancel in shares; absolute values need calibration. */
export interface VesselCalibre {
  /** Integral of dl/d⁴ from the far end to the neck, mm⁻³. */
  poiseuilleIntegral: number;
  /** Mean equivalent calibre over the length, mm. */
  meanCalibreMm: Mm;
  lengthMm: Mm;
}

/**
 * Integrates the measured profile of a vessel.
 *
 * Formula   ∫ dl / d(l)⁴ by the trapezoid rule over the samples between the far end and the neck; the first and last calibre are extended
 *           to the two ends, where sections would cut the cap
 * Source    law of Poiseuille, R = 128·μ/π · ∫ dl/d⁴   [poiseuille-sutera-1993, from memory]
 * Units     mm
 * Absent    undefined if the profile has no sample with a positive calibre or the length is not positive
 * Checked   tests/physiology/flow-network.test.ts (tube and cone in closed form)
 */
export function integrateProfile(vessel: VesselMeasure): VesselCalibre | undefined {
  const end = vessel.neck?.atMm ?? vessel.lengthMm;
  const samples = vessel.profile
    .filter(
      (s) => s.atMm >= 0 && s.atMm <= end + 1e-9 && Number.isFinite(s.equivalentMm) && s.equivalentMm > 0,
    )
    .map((s) => ({ at: s.atMm, d: s.equivalentMm }));
  if (samples.length === 0 || !(end > 0)) return undefined;
  const path = [{ at: 0, d: samples[0].d }, ...samples, { at: end, d: samples[samples.length - 1].d }];
  let poiseuilleIntegral = 0;
  let area = 0;
  for (let i = 1; i < path.length; i++) {
    const step = path[i].at - path[i - 1].at;
    poiseuilleIntegral += (step * (1 / fourthPower(path[i].d) + 1 / fourthPower(path[i - 1].d))) / 2;
    area += (step * (path[i].d + path[i - 1].d)) / 2;
  }
  return { poiseuilleIntegral, meanCalibreMm: area / end, lengthMm: end };
}

/**
 * Resistance of a vessel by the law of Poiseuille, in Wood units (mmHg·min/L). Not calibrated: at physiological flows feeders
 * are short, curved and not fully laminar, so this is used for shares and as a plausibility note only.
 *
 * Formula   R = 128·μ/π · ∫ dl/d⁴
 * Units     mm⁻³, mPa·s; result Wood units
 * Checked   tests/check-values/viscosity.csv (rows `poiseuille-*`)
 * @example  poiseuilleResistance(100 / 6 ** 4, 3.5)   // 1.376
 */
export function poiseuilleResistance(poiseuilleIntegral: number, viscosityMPaS: number): number {
  // mPa·s = 1e-3 Pa·s; 1/mm³ = 1e9 1/m³.
  const paSPerM3 = ((128 * viscosityMPaS * 1e-3) / Math.PI) * poiseuilleIntegral * 1e9;
  return paSPerM3 / CONSTANTS.woodUnitPaSM3.value;
}
