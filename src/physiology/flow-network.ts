import type { Fraction } from '../foundation/unit-types.js';
/**
 * Lumped circulation of the lungs: feeders in parallel run into the sac; sac and drains are one resistance in series downstream of them;
 * the normal bed is parallel to both. Pressures mmHg, flows L/min, conductances L/min/mmHg, resistances mmHg·min/L.
 */
export interface FlowNetwork {
  feeders: readonly { name: string; conductance: number }[];
  /** Of the sac and the draining veins; 0 to ignore them. */
  seriesResistance: number;
  normalBedConductance: number;
}

/** Exactly one of the two is constant: the output, or the pressure between PA and left atrium. */
export type Drive = { totalFlow: number } | { drivingPressure: number };

export interface NetworkFlows {
  drivingPressure: number;
  totalFlow: number;
  normalFlow: number;
  shuntFlow: number;
  feederFlows: Record<string, number>;
  /** Pressure in the sac, relative to the left atrium. */
  sacPressure: number;
  /** Shunt flow over total flow. */
  shuntFraction: Fraction;
}

/**
 * Flows and pressures of the network.
 *
 * Formula   Gs = 1/(1/Σg + Rs);  f = Gs/(Gs + Gn);  each feeder carries its share g/Σg of the shunt flow
 * Source    Ohm's law for flow (Kirchhoff's rules)
 * Errors    RangeError for negative or non-finite conductances, or if nothing conducts
 * Checked   tests/physiology/flow-network.test.ts against independent nodal analysis, and against ngspice if installed
 */
export function solveFlowNetwork(network: FlowNetwork, drive: Drive): NetworkFlows {
  const values = [
    ...network.feeders.map((f) => f.conductance),
    network.seriesResistance,
    network.normalBedConductance,
  ];
  if (values.some((v) => !Number.isFinite(v) || v < 0))
    throw new RangeError('a conductance or resistance is negative or not finite');
  const feeders = network.feeders.reduce((sum, f) => sum + f.conductance, 0);
  const shunt = feeders === 0 ? 0 : 1 / (1 / feeders + network.seriesResistance);
  const total = shunt + network.normalBedConductance;
  if (total === 0) throw new RangeError('nothing in the network conducts');
  const drivingPressure = 'totalFlow' in drive ? drive.totalFlow / total : drive.drivingPressure;
  const shuntFlow = shunt * drivingPressure;
  const feederFlows: Record<string, number> = {};
  for (const { name, conductance } of network.feeders) {
    feederFlows[name] = feeders === 0 ? 0 : (shuntFlow * conductance) / feeders;
  }
  return {
    drivingPressure,
    totalFlow: total * drivingPressure,
    normalFlow: network.normalBedConductance * drivingPressure,
    shuntFlow,
    feederFlows,
    sacPressure: shuntFlow * network.seriesResistance,
    shuntFraction: shunt / total,
  };
}

/**
 * Shunt left after a part of the shunt's conductance is closed; the same at constant output or constant pressure.
 *
 * Formula   f' = f·(1 − w) / (1 − f·w)
 * Source    follows from f = Gs/(Gs + Gn) with Gs' = Gs·(1 − w)
 * Units     all 0..1
 * Checked   tests/check-values/closure.csv
 * @example  shuntAfterClosing(0.3, 0.5)   // 0.1765: closing half the conductance does not halve the shunt
 */
export function shuntAfterClosing(shuntFraction: Fraction, closedShare: number): number {
  if (closedShare >= 1) return 0;
  return (shuntFraction * (1 - closedShare)) / (1 - shuntFraction * closedShare);
}
