import { isBleeding } from '../case/bleeding.js';
import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed, rounded } from '../foundation/number-text.js';
import type { MmHg } from '../foundation/unit-types.js';
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
  pressureRise,
  shuntAfterDraw,
} from './closure-state.js';
import { closureOrder, type FeederShares, feederShares, withRemainder } from './feeder-shares.js';
import { flowFindings } from './flow-plausibility.js';
import { judgePressure, pulmonaryPressureFindings } from './pulmonary-pressure.js';
import { countResection, type ResectionCount } from './resection-count.js';
import { middle95 } from './seeded-random.js';
import type { ShuntDraw } from './shunt-interval.js';

export interface ClosureInput {
  vessels: readonly VesselMeasure[];
  shunt?: Shunt;
  /** The draws behind the shunt; left out: drawn from its interval. */
  draws?: readonly ShuntDraw[];
  case: Pick<Case, 'bleeding' | 'blood' | 'circulation' | 'gases' | 'lesion' | 'patient' | 'surgery'>;
  rules: Pick<Rules, 'byId'>;
  /** Set where the vessels are those of all lesions of a patient: the part of the shunt in lesions without a surface, 0..1. */
  patient?: { remainder: number };
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
  /** The shunt that closing starts from; undefined where it is not known. */
  before?: number;
}

const c = CONSTANTS;

/**
 * What is left after closing feeders: shunt, saturation on air and on oxygen, bounds of PA pressure and output.
 *
 * Formula   f' = f·(1 − w)/(1 − f·w) for the closed share w, never below the physiological shunt (2.7 %, Thorax 1992;47:790
 *           [whyte-1992]) nor above the measured one; mean PA pressure = wedge + ΔP·(1 − f')/(1 − f), an upper bound;
 *           output = CO·(1 − f)/(1 − f'), a lower bound; for the resection the normal bed also loses its segments
 * Assumes   the whole measured shunt runs through this lesion; central shares by Poiseuille. Intervals hold Murray's shares and
 *           the draws of `closureDraws`. Where other lesions may exist the shunt left is a lower bound, and the intervals reach
 *           to none of the shunt running through this lesion
 * Units     as the keys say; intervals 95 %
 * Absent    rows say `absent_because`; without haemoglobin the saturations are left out with a finding
 * Checked   tests/check-values/closure.csv, tests/physiology/closure-table.test.ts
 */
export function closureTable(input: ClosureInput): ClosureOutcome {
  const names = input.vessels.filter((v) => v.role === 'feeder').map((v) => v.name);
  const { patient } = input;
  const named = feederShares(input.vessels);
  const shares = withRemainder(named, patient?.remainder ?? 0);
  const order = closureOrder(named.shares);
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
  const others = input.case.lesion.otherLesions;
  const otherLesions = others === 'yes' || others === 'unknown' ? others : undefined;
  const context: RowContext = {
    names,
    shares,
    occlusion,
    fraction,
    circulation,
    saturation: saturation.model,
    otherLesions,
    draws: closureDraws({
      feeders: shares,
      shunt: input.shunt as Shunt,
      shuntDraws: input.draws,
      circulation,
      saturation: saturation.model,
    }),
    removal: countResection(input.case.lesion, input.case.surgery),
    assumed: [
      runsThrough(patient, otherLesions),
      floorText(fraction),
      ...circulation.assumed,
      ...saturation.assumed,
    ],
  };
  const rows = sets.map((set) => closureRow(set, context));
  findings.push(...pressureFindings(circulation, highestPressure(rows), input.rules));
  findings.push(...flowFindings(shares, fraction, circulation, input.case, otherLesions !== undefined));
  findings.push(...orderFindings(order, occlusion < 1 ? [] : rows, names));
  if (otherLesions !== undefined)
    findings.push(...otherLesionFindings(otherLesions, rows, names, patient !== undefined));
  return { rows, findings, order, shares, before: fraction };
}

/** What the rows take for granted about where the shunt runs. */
function runsThrough(patient: ClosureInput['patient'], otherLesions: 'yes' | 'unknown' | undefined): string {
  const here = patient ? 'these lesions' : 'this lesion';
  if (otherLesions !== undefined)
    return `at most the whole measured shunt runs through ${here} (other lesions: ${otherLesions}); intervals reach to none of it`;
  return patient && patient.remainder > 0
    ? `${fixed(100 * patient.remainder, 0)} % of the shunt runs through lesions that no surface holds, as the file states, and stays`
    : `the whole measured shunt runs through ${here}`;
}

/** What the shunt left cannot fall below: the physiological one, or the measured one where that is smaller. */
function floorText(fraction: number): string {
  const physiological = `physiological ${fixed(100 * c.physiologicalShuntFraction.value, 1)} % (${SOURCES['whyte-1992'].cite})`;
  if (fraction >= c.physiologicalShuntFraction.value) return `no shunt below the ${physiological}`;
  return fraction <= 0
    ? 'closing takes nothing away, since the measured shunt cannot be told from none'
    : `no shunt below the measured ${fixed(100 * fraction, 1)} %, which is less than the ${physiological}`;
}

interface RowContext {
  names: string[];
  shares: FeederShares;
  occlusion: number;
  fraction: number;
  circulation: ClosureCirculation;
  saturation?: SaturationModel;
  /** Set where lesions without a surface here exist or may exist. */
  otherLesions?: 'yes' | 'unknown';
  draws: ClosureDraw[];
  /** What the row of the resection takes: its part of the normal bed goes with it. */
  removal: ResectionCount | { absentBecause: string };
  assumed: string[];
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
  // Where other lesions may carry the shunt, the other end is that this one carries none of it.
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

/** Bounds of pressure and output once what is closed no longer lets blood past the lung. */
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

/** One draw and the shunt that it leaves. */
interface AfterDraw {
  draw: ClosureDraw;
  after: number;
}

/** The same draws where none of the shunt runs through this lesion: closing takes nothing, a lobectomy only normal bed. */
const beside = (draws: readonly ClosureDraw[], bedLeft: number): AfterDraw[] =>
  draws.map((draw) => {
    const { shuntFraction: f } = draw;
    return { draw, after: f / (f + (1 - f) * bedLeft) };
  });

/** Saturations are worked out for every fourth draw: each needs a search, and 500 tell the ends of an interval well enough. */
const SATURATION_STRIDE = 4;

const PLAIN_DRAW = {
  seriesToFeeders: 0,
  physiological: c.physiologicalShuntFraction.value,
  besideLesion: 0,
};

/** The smallest interval that holds all of these intervals and values. */
function hull(intervals: readonly [number, number][], values: readonly number[]): [number, number] {
  const all = [...intervals.flat(), ...values];
  return [Math.min(...all), Math.max(...all)];
}

const roundedRange = ([low, high]: [number, number], digits: number): [number, number] => [
  rounded(low, digits),
  rounded(high, digits),
];

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
function highestPressure(rows: readonly Closure[]): { closed: string; mmHg: MmHg } | undefined {
  let highest: { closed: string; mmHg: MmHg } | undefined;
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

/** What closing everything here can promise where other lesions exist or may exist. */
function otherLesionFindings(
  others: 'yes' | 'unknown',
  rows: readonly Closure[],
  names: readonly string[],
  ofPatient: boolean,
): Finding[] {
  const all = rows.find((row) => row.closed !== 'lobe' && row.closed.length === names.length);
  const range = all?.intervals?.shunt_fraction;
  const left =
    range === undefined
      ? ''
      : ` With every feeder here closed the shunt left lies between ${fixed(100 * range[0], 1)} and ${fixed(100 * range[1], 1)} %.`;
  const [these, cure] = ofPatient
    ? ['these', 'Read the whole scan again.']
    : ['this one', 'Plan all lesions of the patient together.'];
  const text = `${others === 'yes' ? 'Other lesions exist that no surface here holds' : 'Whether other lesions exist is not known'}: how much of the measured shunt runs through ${these} is not known, and closing every feeder here gives no promise of the physiological shunt.${left} Shares of flow are upper bounds. ${cure}`;
  return [finding('caution', 'other-lesions', 'lesion.other_lesions', text)];
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
      `By share of flow, close in the order ${order.join(', ')}. The team may choose another.`,
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
        `If ${missed} is missed, a shunt of ${row.shunt_fraction_is === 'at-least' ? 'at least ' : ''}${fixed(100 * row.shunt_fraction, 1)} % is left.`,
      ),
    );
  }
  return found;
}
