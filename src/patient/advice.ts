import { isNoneOpen } from '../plan/none-open.js';
import type { PatientResult } from '../result/patient-result.js';
import type { LesionPlan } from './patient-basis.js';

/** The advice for the patient: that of the lesions if they agree; `both` if some are closed and some resected. */
export function adviceFor(
  lesions: readonly LesionPlan[],
  discuss: readonly string[],
): PatientResult['advice'] {
  const open = lesions.filter(({ case: patientCase }) => !isNoneOpen(patientCase));
  const each = Object.fromEntries(open.map(({ id, result }) => [id, result.readiness.recommended]));
  const kinds = new Set(Object.values(each));
  const because = [...discuss, ...sharedReasons(open)];
  const recommended =
    discuss.length > 0 || kinds.has('discuss')
      ? 'discuss'
      : kinds.size > 1
        ? 'both'
        : ([...kinds][0] ?? 'discuss');
  if (open.length === 0) because.unshift('No lesion of the file is open: follow up.');
  return { recommended, because, ...(open.length > 0 && { lesions: each }) };
}

/** Reasons shared by all lesions are given once; the others with their lesion. */
function sharedReasons(lesions: readonly LesionPlan[]): string[] {
  const by = new Map<string, string[]>();
  for (const { id, result } of lesions)
    for (const reason of result.readiness.because) by.set(reason, [...(by.get(reason) ?? []), id]);
  return [...by].map(([reason, ids]) =>
    ids.length === lesions.length ? reason : `${ids.join(', ')}: ${reason}`,
  );
}
