import { isBleeding } from '../case/bleeding.js';
import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed, rounded } from '../foundation/number-text.js';
import type { VesselMeasure } from '../geometry/measure.js';
import { CONSTANTS } from '../reference/constants.js';
import { SOURCES } from '../reference/sources.js';
import type { Closure, Shunt } from '../result/result.generated.js';
import type { Rules } from '../rules/rule.js';
import {
  type ClosureCirculation,
  closureCirculation,
  NORMAL_CIRCULATION,
  pressureFindings,
} from './closure-circulation.js';
import { closureDraws } from './closure-draws.js';
import { closureSaturations, type SaturationModel, saturationModel } from './closure-saturation.js';
import { closureSets } from './closure-sets.js';
import {
  allClosedShunt,
  type ClosureDraw,
  closedShunt,
  fittedNetwork,
  leastShunt,
  pressureRise,
  shuntAfterDraw,
} from './closure-state.js';
import { closureOrder, type FeederShares, feederShares } from './feeder-shares.js';
import { flowFindings } from './flow-plausibility.js';
import { judgePressure, pulmonaryPressureFindings } from './pulmonary-pressure.js';
import { countResection, type ResectionCount } from './resection-count.js';
import { middle95 } from './seeded-random.js';

export interface ClosureInput {
  vessels: readonly VesselMeasure[];
  shunt?: Shunt;
  case: Pick<Case, 'bleeding' | 'blood' | 'circulation' | 'gases' | 'lesion' | 'patient' | 'surgery'>;
  rules: Pick<Rules, 'byId'>;
  /** How far each feeder is closed, 0..1; left out: 1. */
  occlusion?: number;
  /** The sets to work out; left out: those of `closureSets`, then the lobe. */
  sets?: readonly (readonly string[] | 'lobe')[];
}

export interface ClosureOutcome {
  rows: Closure[];
  findings: Finding[];
  /** Feeders by falling share. */
  order: string[];
  shares: FeederShares;
}

const c = CONSTANTS;

/**
 * What is left after closing feeders: shunt, saturation on air and on oxygen, bounds of PA pressure and output.
 *
 * Formula   f' = f·(1 − w)/(1 − f·w) for the closed share w, never below the physiological shunt (2.7 %, Thorax 1992;47:790
 *           [whyte-1992]) nor above the measured one; mean PA pressure = wedge + ΔP·(1 − f')/(1 − f), an upper bound;
 *           output = CO·(1 − f)/(1 − f'), a lower bound; for the resection the normal bed also loses its segments
 * Assumes   the whole measured shunt runs through this lesion; central shares by Poiseuille. The interval holds Murray's shares,
 *           calibre error, the shunt's own interval, and sac and drains in series
 * Units     as the keys say; intervals 95 %
 * Absent    rows say `absent_because`; without haemoglobin the saturations are left out with a finding
 * Checked   tests/check-values/closure.csv, tests/physiology/closure-table.test.ts
 */
export function closureTable(input: ClosureInput): ClosureOutcome {
  const names = input.vessels.filter((v) => v.role === 'feeder').map((v) => v.name);
  const shares = feederShares(input.vessels);
  const order = closureOrder(shares.shares);
  const occlusion = input.occlusion ?? 1;
  if (!(occlusion >= 0 && occlusion <= 1))
    throw new RangeError(`occlusion is ${occlusion}; it is from 0 to 1`);
  const sets = input.sets ?? [...closureSets(names, order.length > 0 ? order : names), 'lobe' as const];
  const findings = vesselFindings(input.vessels, shares);
  const pressure = judgePressure(input.case.circulation, input.shunt, input.rules);
  findings.push(...pulmonaryPressureFindings(pressure, input.rules, isBleeding(input.case)));
  const fraction = input.shunt?.fraction;
  if (fraction === undefined) {
    const because = `the shunt is not known: ${input.shunt?.absent_because ?? 'there is no usable blood gas'}`;
    return { rows: sets.map((set) => absentRow(set, occlusion, because)), findings, order, shares };
  }
  const circulation = closureCirculation(input.case.circulation, input.case.patient);
  findings.push(...circulation.findings);
  const saturation = saturationModel(input.shunt as Shunt, input.case);
  findings.push(...saturation.findings);
  const interval = input.shunt?.interval ?? [fraction, fraction];
  const others = input.case.lesion.otherLesions !== undefined && input.case.lesion.otherLesions !== 'no';
  if (others) findings.push(otherLesions(input.case.lesion.otherLesions === 'yes', interval[1]));
  const context: RowContext = {
    othersAtMost: others ? [interval[1]] : [],
    names,
    shares,
    occlusion,
    fraction,
    circulation,
    saturation: saturation.model,
    draws: closureDraws(shares, fraction, interval),
    removal: countResection(input.case.lesion, input.case.surgery),
    assumed: [
      others
        ? 'at most the whole measured shunt runs through this lesion; other lesions may carry a share, so the shunt left lies between this value and the shunt measured'
        : 'the whole measured shunt runs through this lesion',
      `no shunt below the physiological ${fixed(100 * leastShunt(fraction), 1)} % (${SOURCES['whyte-1992'].cite})`,
      ...circulation.assumed,
      ...saturation.assumed,
    ],
  };
  const rows = sets.map((set) => closureRow(set, context));
  findings.push(...pressureFindings(circulation, highestPressure(rows), input.rules));
  findings.push(...flowFindings(shares, fraction, circulation, input.case.blood.haematocritFraction));
  findings.push(...orderFindings(order, occlusion < 1 ? [] : rows, names));
  return { rows, findings, order, shares };
}

interface RowContext {
  names: string[];
  shares: FeederShares;
  occlusion: number;
  fraction: number;
  circulation: ClosureCirculation;
  saturation?: SaturationModel;
  draws: ClosureDraw[];
  /** What the row of the resection takes: its part of the normal bed goes with it. */
  removal: ResectionCount | { absentBecause: string };
  assumed: string[];
  /** The most that lesions outside the surfaces may carry, where the case does not rule them out; else empty. */
  othersAtMost: number[];
}

function closureRow(set: readonly string[] | 'lobe', context: RowContext): Closure {
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

  const isClosed = names.map((name) => closed.includes(name));
  const murray = shuntAfterDraw(
    { shuntFraction: fraction, shares: shares.shares.map((s) => s.murray), ...PLAIN_DRAW },
    isClosed,
    occlusion,
  );
  const afterDraws = new Float64Array(context.draws.length);
  const riseDraws = new Float64Array(context.draws.length);
  const { removal } = context;
  const bedLeft = !isLobe ? 1 : 'absentBecause' in removal ? undefined : removal.kept;
  context.draws.forEach((draw, i) => {
    afterDraws[i] =
      sharesKnown || isLobe
        ? shuntAfterDraw(draw, isClosed, occlusion)
        : allClosedShunt(draw.shuntFraction, occlusion);
    riseDraws[i] = pressureRise(draw.shuntFraction, afterDraws[i], bedLeft);
  });
  const shuntInterval = holding(middle95(afterDraws), [
    ...(sharesKnown ? [after, murray] : [after]),
    ...context.othersAtMost,
  ]);
  const row: Closure = { closed: isLobe ? 'lobe' : closed, shunt_fraction: rounded(after, 5) };
  if (occlusion < 1) row.occlusion_percent = rounded(100 * occlusion, 2);
  row.intervals = { shunt_fraction: [rounded(shuntInterval[0], 4), rounded(shuntInterval[1], 4)] };
  const assumed = [...context.assumed];
  if (context.saturation) assumed.push(...closureSaturations(row, after, shuntInterval, context.saturation));
  if (circulation.isUsable && fraction < 1 && bedLeft !== undefined) {
    const { cardiacOutputLMin, meanPaMmHg, wedgeMmHg } = circulation.fitted;
    const rise = pressureRise(fraction, after, bedLeft);
    const range = holding(middle95(riseDraws), [rise]);
    const pressure = (r: number) => rounded(wedgeMmHg + (meanPaMmHg - wedgeMmHg) * r, 2);
    row.mean_pa_pressure_mmhg = pressure(rise);
    row.intervals.mean_pa_pressure_mmhg = [pressure(range[0]), pressure(range[1])];
    if (circulation.outputIsKnown) {
      row.cardiac_output_l_min = rounded(cardiacOutputLMin / rise, 3);
      row.intervals.cardiac_output_l_min = [
        rounded(cardiacOutputLMin / range[1], 3),
        rounded(cardiacOutputLMin / range[0], 3),
      ];
    }
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

const PLAIN_DRAW = {
  seriesToFeeders: 0,
  physiological: c.physiologicalShuntFraction.value,
  besideLesion: 0,
};

/** No promise of the physiological shunt where lesions outside the surfaces carry a share, or may. */
function otherLesions(isSaid: boolean, highest: number): Finding {
  const why = isSaid
    ? 'The case says that there are other lesions'
    : 'The case does not rule out other lesions';
  return finding(
    'caution',
    'other-lesions',
    'lesion.other_lesions',
    `${why}: closing every feeder here gives no promise of the physiological shunt. Up to ${fixed(100 * highest, 1)} % may stay, and each feeder carries at most the share given.`,
  );
}

function holding(interval: [number, number], values: number[]): [number, number] {
  return [Math.min(interval[0], ...values), Math.max(interval[1], ...values)];
}

/** Flow through every feeder that still conducts, at unchanged output, and its share of the shunt before closing. */
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

/** The row of closed feeders (not the lobe) that could raise the PA pressure most. */
function highestPressure(rows: readonly Closure[]): { closed: string; mmHg: number } | undefined {
  let highest: { closed: string; mmHg: number } | undefined;
  for (const { closed, mean_pa_pressure_mmhg: mmHg } of rows) {
    if (closed === 'lobe' || mmHg === undefined || (highest && mmHg <= highest.mmHg)) continue;
    highest = { closed: closed.join(', '), mmHg };
  }
  return highest;
}

function absentRow(set: readonly string[] | 'lobe', occlusion: number, because: string): Closure {
  const row: Closure = { closed: set === 'lobe' ? 'lobe' : [...set], absent_because: because };
  if (set !== 'lobe' && occlusion < 1) row.occlusion_percent = rounded(100 * occlusion, 2);
  return row;
}

function vesselFindings(vessels: readonly VesselMeasure[], shares: FeederShares): Finding[] {
  const found = shares.unusable.map((name) =>
    finding(
      'caution',
      'feeder-without-profile',
      name,
      `${name} has no usable calibre profile: the share of each feeder is not given. Repair or extend its surface.`,
    ),
  );
  for (const { name, role } of vessels) {
    if (role !== 'systemic-feeder') continue;
    found.push(
      finding(
        'caution',
        'systemic-feeder-stays',
        name,
        `${name} brings systemic blood: it is not in the virtual closure, and it may keep the sac open after the pulmonary feeders are closed.`,
      ),
    );
  }
  return found;
}

/** The proposed order of closing, and what a missed feeder leaves (told only where the others are closed whole). */
function orderFindings(
  order: readonly string[],
  rows: readonly Closure[],
  names: readonly string[],
): Finding[] {
  if (order.length < 2) return [];
  const found = [
    finding(
      'note',
      'closure-order',
      'closure',
      `By share of flow, close in the order ${order.join(', ')}. The room may give reasons for another.`,
    ),
  ];
  for (const missed of order) {
    const others = names.filter((name) => name !== missed);
    const row = rows.find(
      (r) => r.closed !== 'lobe' && r.closed.length === others.length && !r.closed.includes(missed),
    );
    if (row?.shunt_fraction === undefined) continue;
    found.push(
      finding(
        'note',
        'missed-feeder',
        missed,
        `If ${missed} is missed, a shunt of ${fixed(100 * row.shunt_fraction, 1)} % is left.`,
      ),
    );
  }
  return found;
}
