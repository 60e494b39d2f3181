import type { Fraction, LPerMin, MmHg } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';
import type { SaturationModel } from './closure-saturation.js';
import { type FlowNetwork, shuntAfterClosing, solveFlowNetwork } from './flow-network.js';

/** The circulation to which the network is fitted. */
export interface FittedCirculation {
  cardiacOutputLMin: LPerMin;
  meanPaMmHg: MmHg;
  wedgeMmHg: MmHg;
}

/**
 * A network that carries the measured shunt at the given output and pressures, with the feeders' shares of conductance.
 *
 * Formula   Gs = f·CO/ΔP, Gn = (1 − f)·CO/ΔP, ΔP = mean PA pressure − wedge pressure
 * Units     shares 0..1 adding to 1; L/min, mmHg
 */
export function fittedNetwork(
  shares: readonly { name: string; share: number }[],
  shuntFraction: Fraction,
  circulation: FittedCirculation,
): FlowNetwork {
  const total = circulation.cardiacOutputLMin / (circulation.meanPaMmHg - circulation.wedgeMmHg);
  return {
    feeders: shares.map(({ name, share }) => ({ name, conductance: shuntFraction * total * share })),
    seriesResistance: 0,
    normalBedConductance: (1 - shuntFraction) * total,
  };
}

/** The shunt that no closure removes: bronchial and thebesian flow. Never more than the measured shunt. */
export function leastShunt(
  shuntFraction: Fraction,
  physiological = CONSTANTS.physiologicalShuntFraction.value,
): number {
  return Math.min(shuntFraction, Math.max(0, physiological));
}

/** The network with the named feeders closed, all or in part. */
export function closeFeeders(
  network: FlowNetwork,
  closed: readonly string[],
  occlusion: number,
): FlowNetwork {
  return {
    ...network,
    feeders: network.feeders.map((f) =>
      closed.includes(f.name) ? { ...f, conductance: f.conductance * (1 - occlusion) } : f,
    ),
  };
}

/** Rise of the driving pressure at constant output, ΔP'/ΔP. At constant pressure the output changes by the inverse. */
export function pressureRise(before: number, after: number, normalBedLeft = 1): number {
  return (1 - after) / ((1 - before) * normalBedLeft);
}

/** One draw of the uncertain inputs of a closure. */
export interface FlowDraw {
  shuntFraction: Fraction;
  /** Adding to 1. */
  shares: number[];
  /** Sac and drains relative to all feeders in parallel. */
  seriesToFeeders: number;
  physiological: number;
  /** Part of the physiological shunt that bypasses the lesion within the measured shunt, 0..1. */
  besideLesion: number;
}

/** A draw with its circulation and blood. */
export interface ClosureDraw extends FlowDraw, FittedCirculation {
  /** Undefined without haemoglobin. */
  saturation?: SaturationModel;
}

/**
 * Shunt after closing, for one draw of the inputs. Without series resistance and without a shunt outside the lesion this is
 * `shuntAfterClosing`; those two refinements only widen the interval.
 */
export function shuntAfterDraw(draw: FlowDraw, isClosed: readonly boolean[], occlusion: number): number {
  const { shuntFraction: f, seriesToFeeders: series } = draw;
  const open = draw.shares.reduce((sum, share, i) => sum + share * (isClosed[i] ? 1 - occlusion : 1), 0);
  const lost = open <= 0 ? 1 : 1 - (1 + series) / (1 / open + series);
  const floor = leastShunt(f, draw.physiological);
  const beside = floor * draw.besideLesion;
  if (f >= 1) return 1;
  const left = (f - beside) * (1 - lost) + beside;
  return Math.max(floor, left / (left + 1 - f));
}

/** Central answer: the network solved with the feeders closed, never below the physiological shunt. */
export function closedShunt(
  network: FlowNetwork,
  closed: readonly string[],
  occlusion: number,
  shuntFraction: Fraction,
  circulation: FittedCirculation,
): { shuntFraction: Fraction; feederFlows: Record<string, number> } {
  const flows = solveFlowNetwork(closeFeeders(network, closed, occlusion), {
    totalFlow: circulation.cardiacOutputLMin,
  });
  return {
    shuntFraction: Math.max(leastShunt(shuntFraction), flows.shuntFraction),
    feederFlows: flows.feederFlows,
  };
}

/** The answer if shares are not known but everything is closed. */
export function allClosedShunt(shuntFraction: Fraction, occlusion: number): number {
  return Math.max(leastShunt(shuntFraction), shuntAfterClosing(shuntFraction, occlusion));
}
