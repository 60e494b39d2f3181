import { rounded } from '../foundation/number-text.js';
import { headlineShunt } from '../result/headline.js';
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
  shunt_percent?: number;
  shunt_interval_percent?: [number, number];
  /** Where the shunt cannot be told from none (it is then 0). */
  shunt_upper_limit_percent?: number;
  /** Whether the shunt was measured before or after the treatment. */
  shunt_from?: 'before' | 'after';
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
  const { lesion, sac, readiness, findings } = result;
  const shunt = headlineShunt(result);
  const landings = Object.values(result.vessels).flatMap(({ landing }) => landing?.calibre_mm ?? []);
  const stops = findings.filter(({ level }) => level === 'stop');
  const percent = (fraction: number): number => rounded(100 * fraction, 1);
  return {
    case: result.case,
    status: 'done',
    exit_code: stops.length > 0 ? 1 : 0,
    ...(result.title !== undefined && { title: result.title }),
    plan,
    fingerprint: fingerprintOf(groundsOf(result)),
    ...(lesion.kind && { lesion_kind: lesion.kind }),
    ...(lesion.feeder_count !== undefined && { feeders: lesion.feeder_count }),
    ...(shunt?.fraction !== undefined && { shunt_percent: percent(shunt.fraction) }),
    ...(shunt?.fraction !== undefined && result.baseline && { shunt_from: result.baseline }),
    ...(shunt?.upper_limit !== undefined && { shunt_upper_limit_percent: percent(shunt.upper_limit) }),
    ...(shunt?.interval && {
      shunt_interval_percent: [percent(shunt.interval[0]), percent(shunt.interval[1])],
    }),
    ...(sac && { sac_volume_ml: rounded(sac.volume_ml, 2) }),
    ...(landings.length > 0 && { largest_landing_mm: rounded(Math.max(...landings), 2) }),
    devices: Object.entries(result.devices)
      .map(([name, device]) => `${name}: ${device.code ?? 'none'}`)
      .join(', '),
    recommended: readiness.recommended,
    plan_a: readyText(readiness.plan_a),
    plan_b: readyText(readiness.plan_b),
    stops: stops.length,
    cautions: findings.filter(({ level }) => level === 'caution').length,
    problems: stops.map(({ id, where, text }) => `${id} ${where}: ${text}`),
  };
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
