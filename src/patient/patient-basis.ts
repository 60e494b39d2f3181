import type { Shelf } from '../case/case.js';
import type { PatientFile } from '../case/parse-patient.js';
import type { DevicePlan } from '../devices/plan-devices.js';
import type { Finding } from '../foundation/finding.js';
import type { Result } from '../result/result.generated.js';
import type { Rules } from '../rules/rule.js';
import type { FailedLesion, MeasuredLesion } from './all-lesions.js';

/** A lesion with its own result. */
export interface LesionPlan extends MeasuredLesion {
  result: Result;
}

export interface PatientBasis {
  patient: PatientFile;
  findings: readonly Finding[];
  lesions: readonly LesionPlan[];
  failed: readonly FailedLesion[];
  devices: DevicePlan;
  shelf?: Shelf;
  rules: Rules;
  inputs: Result['inputs'];
  version: string;
  todayOption?: string;
}
