import { rounded } from '../foundation/number-text.js';
import { missedFeeders } from '../result/missed-feeders.js';
import type { Result } from '../result/result.generated.js';
import { fingerprintOf, groundsOf } from './fingerprint.js';

/** One case of a summary. */
export interface Row {
  /** The id of the case, or the name of its folder where the file could not be read. */
  case: string;
  /** done: a plan was written or stands unchanged; failed: why is in `problems`; left: the run was stopped before. */
  status: 'done' | 'failed' | 'left';
  exit_code: number;
  title?: string;
  /** Folder of the plan, from the folder of the summary. */
  plan?: string;
  fingerprint?: string;
  lesion_kind?: string;
  feeders?: number;
  /** The shunt that counts now: that of the visit that closure and devices rest on. */
  shunt_percent?: number;
  shunt_interval_percent?: [number, number];
  /** Where the shunt cannot be told from none (it is then 0). */
  shunt_upper_limit_percent?: number;
  /** Whether the shunt was measured before or after the treatment. */
  shunt_from?: 'before' | 'after';
  /** The shunt after the treatment, also where another one counts. */
  shunt_after_percent?: number;
  shunt_after_interval_percent?: [number, number];
  /** Opacified vessels that lie in no surface and may feed the lesion; absent where the scan was not searched. */
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

/** What a summary says of a computed case, all taken from its result. */
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

/** How many findings stop and caution, and each stop as a problem. */
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

/** The visit that counts now: what the result says, else after the treatment where a shunt is from there and no date contradicts. */
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

/** A case that was not begun when the run was stopped. */
export const leftRow = (name: string): Row => ({
  case: name,
  status: 'left',
  exit_code: 0,
  problems: ['not computed: the run was stopped before'],
});
