import { type Candidate, piecesOf } from './candidates.js';

/** One feeder with the devices that fit it, best first. */
export interface Demand {
  name: string;
  candidates: Candidate[];
}

/** The device assigned to one feeder, and whether it is on the shelf or must be ordered. */
export interface Assignment {
  candidate: Candidate;
  fromStock: boolean;
}

export interface Allocation {
  /** One entry per demand, in order; undefined if nothing fits. */
  assigned: (Assignment | undefined)[];
  /** False if the search was cut short and a better allocation may exist. */
  provenBest: boolean;
}

/** Search steps after which the best allocation found is taken; ordinary cases need under a thousand. */
const MOST_STEPS = 400_000;

interface Option {
  assignment: Assignment | undefined;
  unready: number;
  cost: number;
}

/**
 * Gives each feeder a device so that, in this order: most feeders can be closed from the shelf, devices that can be
 * obtained come before those that cannot, and the choices are of the best quality. No piece is given twice.
 * `shelfOnly`: nothing is ordered; a feeder without stock stays without a device.
 * Branch and bound; ties are broken by the order of demands and candidates, so the answer is unique.
 */
export function allocate(demands: readonly Demand[], shelfOnly = false): Allocation {
  const options = demands.map((demand) => optionsOf(demand, demands.length, shelfOnly));
  const restUnready = tailSums(options.map((list) => Math.min(...list.map((o) => o.unready))));
  const restCost = tailSums(options.map((list) => Math.min(...list.map((o) => o.cost))));
  const left = new Map<string, number>();
  for (const demand of demands) {
    for (const { device } of demand.candidates) left.set(device.code, device.inStock ?? 0);
  }
  const chosen: (Assignment | undefined)[] = [];
  let best: { assigned: (Assignment | undefined)[]; unready: number; cost: number } | undefined;
  let steps = 0;

  const search = (index: number, unready: number, cost: number): void => {
    if (best !== undefined) {
      const leastUnready = unready + restUnready[index];
      if (leastUnready > best.unready) return;
      if (leastUnready === best.unready && cost + restCost[index] >= best.cost - 1e-9) return;
      if (++steps > MOST_STEPS) return;
    }
    if (index === demands.length) {
      best = { assigned: [...chosen], unready, cost };
      return;
    }
    for (const option of options[index]) {
      const { assignment } = option;
      const takes = assignment?.fromStock ? piecesOf(assignment.candidate) : 0;
      const code = assignment?.candidate.device.code ?? '';
      const stock = left.get(code) ?? 0;
      if (takes > stock) continue;
      if (takes > 0) left.set(code, stock - takes);
      chosen[index] = assignment;
      search(index + 1, unready + option.unready, cost + option.cost);
      if (takes > 0) left.set(code, stock);
    }
  };
  search(0, 0, 0);
  return { assigned: best?.assigned ?? [], provenBest: steps <= MOST_STEPS };
}

/**
 * Options of one feeder, best first. Other feeders can use up at most one stocked device each, so as many stocked
 * candidates as there are feeders hold the best answer; of devices to order, only the best one can.
 */
function optionsOf(demand: Demand, feeders: number, shelfOnly: boolean): Option[] {
  const quality = demand.candidates.map((candidate, rank) => ({
    candidate,
    cost: costOf(candidate) + rank * 1e-7,
  }));
  const stocked = quality
    .filter(({ candidate }) => (candidate.device.inStock ?? 0) >= piecesOf(candidate))
    .slice(0, feeders)
    .map(({ candidate, cost }): Option => ({ assignment: { candidate, fromStock: true }, unready: 0, cost }));
  if (shelfOnly) return [...stocked, { assignment: undefined, unready: 1, cost: 0 }];
  const obtainable = quality.find(({ candidate }) => candidate.device.leadTimeDays !== undefined);
  const orders = obtainable ?? quality[0];
  if (orders === undefined) return [{ assignment: undefined, unready: 1, cost: 0 }];
  const order: Option = {
    assignment: { candidate: orders.candidate, fromStock: false },
    unready: 1,
    cost: orders.cost + (obtainable === undefined ? UNOBTAINABLE : 0),
  };
  return [...stocked, order];
}

const UNOBTAINABLE = 1e6;

/** Kind has most weight, then an unstated metal if there is an allergy, then the distance from the middle of the window. */
function costOf(candidate: Candidate): number {
  return candidate.kindRank * 1000 + (candidate.nickelDoubt ? 100 : 0) + Math.min(candidate.offMiddle, 10);
}

/** Sum of the entries from each index to the end, with a closing 0. */
function tailSums(values: readonly number[]): number[] {
  const sums = [0];
  for (let i = values.length - 1; i >= 0; i--) sums.unshift(sums[0] + values[i]);
  return sums;
}
