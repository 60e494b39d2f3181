import { rounded } from '../foundation/number-text.js';
import type { PatientResult } from '../result/patient-result.js';
import type { Result } from '../result/result.generated.js';
import { fingerprintOf, groundsOf } from './fingerprint.js';
import { devicesText, judged, type Row, rowOf, shuntFields } from './row.js';

/** The results of a patient and of the lesions that were planned. */
export interface PatientPlans {
  result: PatientResult;
  lesions: { id: string; result: Result }[];
}

/**
 * The rows of a patient with several lesions: one for the patient, and one for each lesion that was planned. `plan`: folder
 * of the plan; `failedCode` and `failed` are those of lesions that could not be planned.
 */
export function patientRows(
  { result, lesions }: PatientPlans,
  plan: string,
  failedCode = 0,
  failed: readonly string[] = [],
): [Row, ...Row[]] {
  const ofLesions = lesions.map(
    ({ id, result: own }): Row => ({
      ...rowOf(own, `${plan}/lesions/${id}`),
      case: `${result.patient}/${id}`,
    }),
  );
  return [patientRow(result, plan, failedCode, failed), ...ofLesions];
}

function patientRow(result: PatientResult, plan: string, failedCode: number, failed: readonly string[]): Row {
  const { exit_code: code, problems, stops, cautions } = judged(result.findings);
  const visit = result.baseline ?? 'before';
  const calibres = Object.values(result.lesions).flatMap(({ largest_feeder_mm: mm }) => mm ?? []);
  const feeders = Object.values(result.lesions).reduce((sum, { feeder_count: n = 0 }) => sum + n, 0);
  const { title } = result;
  return {
    case: result.patient,
    status: 'done',
    exit_code: Math.max(failedCode, code),
    ...(title !== undefined && { title }),
    plan,
    fingerprint: fingerprintOf(groundsOf(result)),
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
