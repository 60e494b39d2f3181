import { isBleeding } from '../case/bleeding.js';
import type { Case } from '../case/case.js';
import type { Finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import type { MmHg } from '../foundation/unit-types.js';
import type { VesselMeasure } from '../geometry/measure.js';
import { CONSTANTS } from '../reference/constants.js';
import { SOURCES } from '../reference/sources.js';
import type { Closure, Shunt } from '../result/result.generated.js';
import type { Rules } from '../rules/rule.js';
import { closureCirculation, pressureFindings } from './closure-circulation.js';
import { otherLesionFindings, orderFindings, vesselFindings } from './closure-findings.js';
import { absentRow, closureRow, type RowContext } from './closure-row.js';
import { closureDraws } from './closure-draws.js';
import { saturationModel } from './closure-saturation.js';
import { closureSets } from './closure-sets.js';
import { closureOrder, type FeederShares, feederShares, withRemainder } from './feeder-shares.js';
import { flowFindings } from './flow-plausibility.js';
import { judgePressure, pulmonaryPressureFindings } from './pulmonary-pressure.js';
import { countResection } from './resection-count.js';
import type { ShuntDraw } from './shunt-interval.js';

export interface ClosureInput {
  vessels: readonly VesselMeasure[];
  shunt?: Shunt;
  /** The draws behind the shunt; default: drawn from its interval. */
  draws?: readonly ShuntDraw[];
  case: Pick<Case, 'bleeding' | 'blood' | 'circulation' | 'gases' | 'lesion' | 'patient' | 'surgery'>;
  rules: Pick<Rules, 'byId'>;
  /** Set if the vessels are those of all lesions of a patient: the part of the shunt in lesions without a surface, 0..1. */
  patient?: { remainder: number };
  /** How far each feeder is closed, 0..1; default 1. */
  occlusion?: number;
  /** The sets to compute; default: those of `closureSets`, then the lobe. */
  sets?: readonly (readonly string[] | 'lobe')[];
}

export interface ClosureOutcome {
  rows: Closure[];
  findings: Finding[];
  /** Feeders by descending share. */
  order: string[];
  shares: FeederShares;
  /** The shunt before closure; undefined if not known. */
  before?: number;
}

const c = CONSTANTS;

/**
 * The state after closing feeders: shunt, saturation on air and on oxygen, bounds of PA pressure and output.
 *
 * Formula   f' = f·(1 − w)/(1 − f·w) for the closed share w, never below the physiological shunt (2.7 %, Thorax 1992;47:790
 *           [whyte-1992]) nor above the measured one; mean PA pressure = wedge + ΔP·(1 − f')/(1 − f), an upper bound;
 *           output = CO·(1 − f)/(1 − f'), a lower bound; for the resection the normal bed also loses its segments
 * Assumes   the whole measured shunt runs through this lesion; central shares by Poiseuille. Intervals include Murray's shares and the
 *           draws of `closureDraws`. If other lesions may exist, the remaining shunt is a lower bound, and the intervals extend to no shunt
 *           through this lesion
 * Units     as in the keys; intervals 95 %
 * Absent    rows give `absent_because`; without haemoglobin the saturations are left out with a finding
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

/** The assumption about where the shunt runs. */
function runsThrough(patient: ClosureInput['patient'], otherLesions: 'yes' | 'unknown' | undefined): string {
  const here = patient ? 'these lesions' : 'this lesion';
  if (otherLesions !== undefined)
    return `at most the whole measured shunt runs through ${here} (other lesions: ${otherLesions}); intervals reach to none of it`;
  return patient && patient.remainder > 0
    ? `${fixed(100 * patient.remainder, 0)} % of the shunt runs through lesions that no surface holds, as the file states, and stays`
    : `the whole measured shunt runs through ${here}`;
}

/** The lower limit of the remaining shunt: the physiological shunt, or the measured one if smaller. */
function floorText(fraction: number): string {
  const physiological = `physiological ${fixed(100 * c.physiologicalShuntFraction.value, 1)} % (${SOURCES['whyte-1992'].cite})`;
  if (fraction >= c.physiologicalShuntFraction.value) return `no shunt below the ${physiological}`;
  return fraction <= 0
    ? 'closing takes nothing away, since the measured shunt cannot be told from none'
    : `no shunt below the measured ${fixed(100 * fraction, 1)} %, which is less than the ${physiological}`;
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
