import { rounded } from '../foundation/number-text.js';
import type { PatientResult } from '../result/patient-result.js';
import { fingerprintOf } from './fingerprint.js';
import { devicesText, judged, type Row, shuntFields } from './row.js';

/** What a summary says of a patient with several lesions; `failedCode` and `failed` are those of lesions that could not be planned. */
export function patientRow(
  result: PatientResult,
  plan: string,
  failedCode: number,
  failed: readonly string[],
): Row {
  const { exit_code: code, problems, stops, cautions } = judged(result.findings);
  const visit = result.baseline ?? 'before';
  const calibres = Object.values(result.lesions).flatMap(({ largest_feeder_mm: mm }) => mm ?? []);
  const feeders = Object.values(result.lesions).reduce((sum, { feeder_count: n = 0 }) => sum + n, 0);
  const { inputs, tool, today, title } = result;
  return {
    case: result.patient,
    status: 'done',
    exit_code: Math.max(failedCode, code),
    ...(title !== undefined && { title }),
    plan,
    fingerprint: fingerprintOf({
      inputs,
      ruleSet: tool.rule_set,
      version: tool.version,
      ...(today.from === 'option' && { today: today.date }),
    }),
    feeders,
    ...shuntFields(visit === 'after' ? result.shunt_after : result.shunt, visit),
    ...(calibres.length > 0 && { largest_landing_mm: rounded(Math.max(...calibres), 2) }),
    devices: devicesText(result.devices),
    recommended: result.advice.recommended,
    stops,
    cautions,
    problems: [...failed, ...problems],
  };
}
