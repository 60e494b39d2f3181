import { rounded } from '../foundation/number-text.js';
import type { PatientResult } from '../result/patient-result.js';
import { fingerprintOf } from './fingerprint.js';
import type { Row } from './row.js';

/** What a summary says of a patient with several lesions; `failedCode` and `failed` are those of lesions that could not be planned. */
export function patientRow(
  result: PatientResult,
  plan: string,
  failedCode: number,
  failed: readonly string[],
): Row {
  const stops = result.findings.filter(({ level }) => level === 'stop');
  const shunt = result.baseline === 'after' ? result.shunt_after : result.shunt;
  const percent = (fraction: number): number => rounded(100 * fraction, 1);
  const calibres = Object.values(result.lesions).flatMap(({ largest_feeder_mm: mm }) => mm ?? []);
  const feeders = Object.values(result.lesions).reduce((sum, { feeder_count: n = 0 }) => sum + n, 0);
  const { inputs, tool, today, title } = result;
  return {
    case: result.patient,
    status: 'done',
    exit_code: Math.max(failedCode, stops.length > 0 ? 1 : 0),
    ...(title !== undefined && { title }),
    plan,
    fingerprint: fingerprintOf({
      inputs,
      ruleSet: tool.rule_set,
      version: tool.version,
      ...(today.from === 'option' && { today: today.date }),
    }),
    feeders,
    ...(shunt?.fraction !== undefined && {
      shunt_percent: percent(shunt.fraction),
      shunt_from: result.baseline ?? 'before',
    }),
    ...(shunt?.interval && {
      shunt_interval_percent: [percent(shunt.interval[0]), percent(shunt.interval[1])],
    }),
    ...(shunt?.upper_limit !== undefined && { shunt_upper_limit_percent: percent(shunt.upper_limit) }),
    ...(calibres.length > 0 && { largest_landing_mm: rounded(Math.max(...calibres), 2) }),
    devices: Object.entries(result.devices)
      .map(([name, device]) => `${name}: ${device.code ?? 'none'}`)
      .join(', '),
    recommended: result.advice.recommended,
    stops: stops.length,
    cautions: result.findings.filter(({ level }) => level === 'caution').length,
    problems: [...failed, ...stops.map(({ id, where, text }) => `${id} ${where}: ${text}`)],
  };
}
