import type { VesselMeasure } from '../geometry/measure.js';
import { integrateProfile, type VesselCalibre } from './vessel-resistance.js';
import { cube } from '../foundation/power.js';

/** One feeder's part of the flow through the lesion. */
export interface FeederShare {
  name: string;
  calibre: VesselCalibre;
  /** By Poiseuille's law over the measured profile, 0..1; the central answer. */
  poiseuille: number;
  /** By Murray's law from the mean calibre, 0..1; the other end of the range. */
  murray: number;
  /** Standard deviation of its calibre as a fraction of its calibre, from scan resolution. */
  calibreError: number;
}

export interface FeederShares {
  /** In the order of the case. Empty if shares cannot be given. */
  shares: FeederShare[];
  /** Sac and drains: their Poiseuille integral over that of all feeders in parallel; 0 if no drain was measured. */
  seriesToFeeders: number;
  /** Feeders without a usable profile. With any of these no shares can be given, except for a single feeder. */
  unusable: string[];
}

/**
 * Shares of the feeders in the shunt flow.
 *
 * Formula   Poiseuille: w ∝ 1/∫dl/d⁴; Murray: w ∝ d̄³
 * Source    [poiseuille-sutera-1993], Murray 1926 [murray-1926], both from memory
 * Takes     only vessels with the role feeder: a branch runs to normal lung and belongs to the normal bed, a systemic feeder
 *           does not carry pulmonary blood
 * Checked   tests/check-values/closure.csv
 */
export function feederShares(vessels: readonly VesselMeasure[]): FeederShares {
  const feeders = vessels.filter((v) => v.role === 'feeder');
  const measured = feeders.map((vessel) => ({ vessel, calibre: integrateProfile(vessel) }));
  const unusable = measured.filter((m) => !m.calibre).map((m) => m.vessel.name);
  if (unusable.length > 0 || measured.length === 0) return { shares: [], seriesToFeeders: 0, unusable };
  const parts = measured.map(({ vessel, calibre }) => {
    const whole = calibre as VesselCalibre;
    return { vessel, calibre: whole, g4: 1 / whole.poiseuilleIntegral, g3: cube(whole.meanCalibreMm) };
  });
  const sum4 = parts.reduce((sum, p) => sum + p.g4, 0);
  const sum3 = parts.reduce((sum, p) => sum + p.g3, 0);
  const drains = vessels.filter((v) => v.role === 'drain').map(integrateProfile);
  const drainConductance = drains.reduce((sum, d) => sum + (d ? 1 / d.poiseuilleIntegral : 0), 0);
  return {
    shares: parts.map(({ vessel, calibre, g4, g3 }) => ({
      name: vessel.name,
      calibre,
      poiseuille: g4 / sum4,
      murray: g3 / sum3,
      calibreError: vessel.calibreSigmaMm / calibre.meanCalibreMm,
    })),
    seriesToFeeders: drainConductance > 0 ? sum4 / drainConductance : 0,
    unusable,
  };
}

/** Names by descending share: the order in which closing removes most. Ties keep the order of the case. */
export function closureOrder(shares: readonly FeederShare[]): string[] {
  return [...shares].sort((a, b) => b.poiseuille - a.poiseuille).map((s) => s.name);
}

/** Name of the flow through lesions without a surface. */
export const REMAINDER = 'remainder';

/** The shares with a part of the shunt reserved for lesions without a surface, which is never closed. */
export function withRemainder(found: FeederShares, part: number): FeederShares {
  const [first] = found.shares;
  if (first === undefined || part <= 0) return found;
  const rest = { name: REMAINDER, calibre: first.calibre, poiseuille: part, murray: part, calibreError: 0 };
  return {
    ...found,
    shares: [
      ...found.shares.map((share) => ({
        ...share,
        poiseuille: share.poiseuille * (1 - part),
        murray: share.murray * (1 - part),
      })),
      rest,
    ],
  };
}
