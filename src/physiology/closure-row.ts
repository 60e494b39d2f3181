import { fixed, rounded } from '../foundation/number-text.js';
import { CONSTANTS } from '../reference/constants.js';
import type { Closure } from '../result/result.generated.js';
import { type ClosureCirculation, NORMAL_CIRCULATION } from './closure-circulation.js';
import { closureSaturations, type SaturationModel } from './closure-saturation.js';
import {
  allClosedShunt,
  type ClosureDraw,
  closedShunt,
  fittedNetwork,
  pressureRise,
  shuntAfterDraw,
} from './closure-state.js';
import type { FeederShares } from './feeder-shares.js';
import type { ResectionCount } from './resection-count.js';
import { middle95 } from './seeded-random.js';

const c = CONSTANTS;

/** Values shared by the rows of one table. */
export interface RowContext {
  names: string[];
  shares: FeederShares;
  occlusion: number;
  fraction: number;
  circulation: ClosureCirculation;
  saturation?: SaturationModel;
  /** Set if lesions without a surface here exist or may exist. */
  otherLesions?: 'yes' | 'unknown';
  draws: ClosureDraw[];
  /** Input of the row for the resection: its part of the normal bed is also removed. */
  removal: ResectionCount | { absentBecause: string };
  assumed: string[];
}

/** The row of one set of closed feeders, or of the lobe; see `closureTable` for formula and sources. */
export function closureRow(set: readonly string[] | 'lobe', context: RowContext): Closure {
  const { names, shares, fraction, circulation } = context;
  const isLobe = set === 'lobe';
  const occlusion = isLobe ? 1 : context.occlusion;
  const closed = isLobe ? names : [...set];
  const sharesKnown = shares.shares.length > 0;
  const closesAll = closed.length === names.length;
  if (!isLobe && names.length === 0) return absentRow(set, occlusion, 'the case has no measured feeder');
  if (!sharesKnown && !closesAll) {
    const because = `no share of flow can be given: ${shares.unusable.join(', ')} ${shares.unusable.length > 1 ? 'have' : 'has'} no usable calibre profile`;
    return absentRow(set, occlusion, because);
  }
  const fitted = circulation.isUsable ? circulation.fitted : NORMAL_CIRCULATION;
  const network = fittedNetwork(
    shares.shares.map((s) => ({ name: s.name, share: s.poiseuille })),
    fraction,
    fitted,
  );
  const central = sharesKnown
    ? closedShunt(network, closed, occlusion, fraction, fitted)
    : { shuntFraction: allClosedShunt(fraction, occlusion), feederFlows: {} };
  const after = central.shuntFraction;

  const isClosed = (sharesKnown ? shares.shares.map(({ name }) => name) : names).map((name) =>
    closed.includes(name),
  );
  const murray = shuntAfterDraw(
    { shuntFraction: fraction, shares: shares.shares.map((s) => s.murray), ...PLAIN_DRAW },
    isClosed,
    occlusion,
  );
  const { removal } = context;
  const bedLeft = !isLobe ? 1 : 'absentBecause' in removal ? undefined : removal.kept;
  const through = context.draws.map((draw): AfterDraw => {
    const closedFraction =
      sharesKnown || isLobe
        ? shuntAfterDraw(draw, isClosed, occlusion)
        : allClosedShunt(draw.shuntFraction, occlusion);
    return { draw, after: closedFraction };
  });
  // If other lesions may carry the shunt, the other extreme is that this lesion carries none of it.
  const states = context.otherLesions ? [through, beside(context.draws, bedLeft ?? 1)] : [through];
  const shuntInterval = hull(
    states.map((state) => middle95(Float64Array.from(state, (one) => one.after))),
    sharesKnown ? [after, murray] : [after],
  );
  const row: Closure = { closed: isLobe ? 'lobe' : closed, shunt_fraction: rounded(after, 5) };
  if (context.otherLesions) row.shunt_fraction_is = 'at-least';
  if (occlusion < 1) row.occlusion_percent = rounded(100 * occlusion, 2);
  row.intervals = { shunt_fraction: roundedRange(shuntInterval, 5) };
  const assumed = [...context.assumed];
  if (context.saturation) {
    const blood = states.map((state) =>
      state.flatMap(({ draw, after: shuntFraction }, i) =>
        draw.saturation && i % SATURATION_STRIDE === 0 ? [{ shuntFraction, model: draw.saturation }] : [],
      ),
    );
    assumed.push(...closureSaturations(row, { shuntFraction: after, model: context.saturation }, blood));
  }
  if (circulation.isUsable && fraction < 1 && bedLeft !== undefined) {
    addPressures(row, { circulation, fraction, after, bedLeft, states });
    if (isLobe)
      assumed.push(
        `the resection takes ${fixed(100 * (1 - bedLeft), 1)} % of the normal bed with it, by segments`,
      );
  } else if (isLobe && 'absentBecause' in removal) {
    assumed.push(`${removal.absentBecause}: pressure and output after the resection are not predicted`);
  }
  if (!isLobe && sharesKnown && circulation.outputIsKnown)
    row.remaining = remainingFlows(context, closed, central.feederFlows, occlusion);
  row.assumed = assumed;
  return row;
}

/** Bounds of pressure and output once the closed feeders no longer let blood bypass the lung. */
function addPressures(
  row: Closure,
  {
    circulation,
    fraction,
    after,
    bedLeft,
    states,
  }: {
    circulation: ClosureCirculation;
    fraction: number;
    after: number;
    bedLeft: number;
    states: readonly AfterDraw[][];
  },
): void {
  const { cardiacOutputLMin, meanPaMmHg, wedgeMmHg } = circulation.fitted;
  const rise = pressureRise(fraction, after, bedLeft);
  const over = (read: (one: AfterDraw, rise: number) => number): [number, number][] =>
    states.map((state) =>
      middle95(
        Float64Array.from(state, (one) =>
          read(one, pressureRise(one.draw.shuntFraction, one.after, bedLeft)),
        ),
      ),
    );
  const pressure = wedgeMmHg + (meanPaMmHg - wedgeMmHg) * rise;
  const pressures = over(({ draw }, r) => draw.wedgeMmHg + (draw.meanPaMmHg - draw.wedgeMmHg) * r);
  row.mean_pa_pressure_mmhg = rounded(pressure, 2);
  row.intervals = {
    ...row.intervals,
    mean_pa_pressure_mmhg: roundedRange(hull(pressures, [pressure]), 2),
  };
  if (!circulation.outputIsKnown) return;
  const output = cardiacOutputLMin / rise;
  const outputs = over(({ draw }, r) => draw.cardiacOutputLMin / r);
  row.cardiac_output_l_min = rounded(output, 3);
  row.intervals.cardiac_output_l_min = roundedRange(hull(outputs, [output]), 3);
}

/** One draw and the shunt that remains after it. */
interface AfterDraw {
  draw: ClosureDraw;
  after: number;
}

/** The same draws if none of the shunt runs through this lesion: closing removes nothing, a lobectomy only normal bed. */
const beside = (draws: readonly ClosureDraw[], bedLeft: number): AfterDraw[] =>
  draws.map((draw) => {
    const { shuntFraction: f } = draw;
    return { draw, after: f / (f + (1 - f) * bedLeft) };
  });

/** Saturations are computed for every fourth draw: each needs a search, and 500 are enough for the ends of an interval. */
const SATURATION_STRIDE = 4;

const PLAIN_DRAW = {
  seriesToFeeders: 0,
  physiological: c.physiologicalShuntFraction.value,
  besideLesion: 0,
};

/** The smallest interval that contains all of these intervals and values. */
function hull(intervals: readonly [number, number][], values: readonly number[]): [number, number] {
  const all = [...intervals.flat(), ...values];
  return [Math.min(...all), Math.max(...all)];
}

const roundedRange = ([low, high]: [number, number], digits: number): [number, number] => [
  rounded(low, digits),
  rounded(high, digits),
];

/** Flow through every feeder that still conducts, at unchanged output, and its share of the shunt before closure. */
function remainingFlows(
  context: RowContext,
  closed: readonly string[],
  flows: Record<string, number>,
  occlusion: number,
): NonNullable<Closure['remaining']> {
  const remaining: NonNullable<Closure['remaining']> = {};
  for (const { name, poiseuille, murray } of context.shares.shares) {
    if (closed.includes(name) && occlusion === 1) continue;
    remaining[name] = {
      flow_l_min: rounded(flows[name], 4),
      share: rounded(poiseuille, 4),
      share_range: [rounded(Math.min(poiseuille, murray), 4), rounded(Math.max(poiseuille, murray), 4)],
    };
  }
  return remaining;
}

/** A row without numbers, with the reason. */
export function absentRow(set: readonly string[] | 'lobe', occlusion: number, because: string): Closure {
  const row: Closure = { closed: set === 'lobe' ? 'lobe' : [...set], absent_because: because };
  if (set !== 'lobe' && occlusion < 1) row.occlusion_percent = rounded(100 * occlusion, 2);
  return row;
}
