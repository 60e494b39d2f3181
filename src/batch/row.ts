import { rounded } from '../foundation/number-text.js';
import { missedFeeders } from '../result/missed-feeders.js';
import type { Result } from '../result/result.generated.js';
import { fingerprintOf, groundsOf } from './fingerprint.js';

/** One case of a summary. */
export interface Row {
  /** The id of the case, or the name of its folder if the file could not be read. */
  case: string;
  /** done: a plan was written or is unchanged; failed: see `problems`; left: the run was stopped first. */
  status: 'done' | 'failed' | 'left';
  exit_code: number;
  title?: string;
  /** Folder of the plan, relative to that of the summary. */
  plan?: string;
  fingerprint?: string;
  lesion_kind?: string;
  feeders?: number;
  /** The shunt that counts now: that of the visit that closure and devices depend on. */
  shunt_percent?: number;
  shunt_interval_percent?: [number, number];
  /** Given if the shunt cannot be distinguished from no shunt (it is then 0). */
  shunt_upper_limit_percent?: number;
  /** Whether the shunt was measured before or after the treatment. */
  shunt_from?: 'before' | 'after';
  /** The shunt after treatment, even if another one counts. */
  shunt_after_percent?: number;
  shunt_after_interval_percent?: [number, number];
  /** Opacified vessels outside all surfaces that may feed the lesion; absent if the scan was not searched. */
  missed_feeders?: number;
  sac_volume_ml?: number;
  largest_landing_mm?: number;
  devices?: string;
  recommended?: string;
  plan_a?: string;
  plan_b?: string;
  stops?: number;
  cautions?: number;
  problems: string[];
}

/** The row of a computed case, taken from its result. */
export function rowOf(result: Result, plan: string): Row {
  const { lesion, sac, readiness, findings, shunt_after: after } = result;
  const visit = visitOf(result);
  const shunt = visit === 'after' ? after : result.shunt;
  const landings = Object.values(result.vessels).flatMap(({ landing }) => landing?.calibre_mm ?? []);
  const { exit_code, problems, stops, cautions } = judged(findings);
  return {
    case: result.case,
    status: 'done',
    exit_code,
    ...(result.title !== undefined && { title: result.title }),
    plan,
    fingerprint: fingerprintOf(groundsOf(result)),
    ...(lesion.kind && { lesion_kind: lesion.kind }),
    ...(lesion.feeder_count !== undefined && { feeders: lesion.feeder_count }),
    ...shuntFields(shunt, visit),
    ...(after?.fraction !== undefined && { shunt_after_percent: percent(after.fraction) }),
    ...(after?.interval && { shunt_after_interval_percent: percents(after.interval) }),
    ...(result.missed && { missed_feeders: missedFeeders(result.missed).length }),
    ...(sac && { sac_volume_ml: rounded(sac.volume_ml, 2) }),
    ...(landings.length > 0 && { largest_landing_mm: rounded(Math.max(...landings), 2) }),
    devices: devicesText(result.devices),
    recommended: readiness.recommended,
    plan_a: readyText(readiness.plan_a),
    plan_b: readyText(readiness.plan_b),
    stops,
    cautions,
    problems,
  };
}

const percent = (fraction: number): number => rounded(100 * fraction, 1);
const percents = ([low, high]: readonly number[]): [number, number] => [percent(low), percent(high)];

/** The shunt that counts now, in percent. */
export function shuntFields(
  shunt: Result['shunt'],
  visit: 'before' | 'after',
): Pick<Row, 'shunt_percent' | 'shunt_from' | 'shunt_upper_limit_percent' | 'shunt_interval_percent'> {
  return {
    ...(shunt?.fraction !== undefined && { shunt_percent: percent(shunt.fraction), shunt_from: visit }),
    ...(shunt?.upper_limit !== undefined && { shunt_upper_limit_percent: percent(shunt.upper_limit) }),
    ...(shunt?.interval && { shunt_interval_percent: percents(shunt.interval) }),
  };
}

export const devicesText = (devices: Result['devices']): string =>
  Object.entries(devices)
    .map(([name, device]) => `${name}: ${device.code ?? 'none'}`)
    .join(', ');

/** Counts of stops and cautions, with each stop as a problem. */
export function judged(
  findings: Result['findings'],
): Pick<Row, 'exit_code' | 'problems'> & { stops: number; cautions: number } {
  const stops = findings.filter(({ level }) => level === 'stop');
  return {
    exit_code: stops.length > 0 ? 1 : 0,
    stops: stops.length,
    cautions: findings.filter(({ level }) => level === 'caution').length,
    problems: stops.map(({ id, where, text }) => `${id} ${where}: ${text}`),
  };
}

/** The visit that counts now: as in the result, else after treatment if there is a shunt from then and no date contradicts it. */
function visitOf({ baseline, lesion, scan_date, shunt_after }: Result): 'before' | 'after' {
  if (baseline !== undefined) return baseline;
  const scannedBefore = lesion.treated !== undefined && scan_date !== undefined && scan_date < lesion.treated;
  return !scannedBefore && shunt_after?.fraction !== undefined ? 'after' : 'before';
}

function readyText({ ready_today, ready_by }: Result['readiness']['plan_a']): string {
  if (ready_today) return 'today';
  return ready_by === undefined ? 'not ready' : `by ${ready_by}`;
}

/** A case that could not be computed. */
export const failedRow = (name: string, exitCode: number, problems: readonly string[]): Row => ({
  case: name,
  status: 'failed',
  exit_code: exitCode,
  problems: [...problems],
});

/** A case that had not started when the run was stopped. */
export const leftRow = (name: string): Row => ({
  case: name,
  status: 'left',
  exit_code: 0,
  problems: ['not computed: the run was stopped before'],
});
