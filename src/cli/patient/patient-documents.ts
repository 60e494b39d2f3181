import type { LesionPlan } from '../../patient/assemble-patient.js';
import type { PatientResult } from '../../result/patient-result.js';
import type { OutputFile } from '../output/output-list.js';
import type { MeasuredPatient } from './measure-patient.js';

/** The documents of a patient beside the plans of its lesions. */
export async function patientDocuments(
  _measured: MeasuredPatient,
  _plans: readonly LesionPlan[],
  _result: PatientResult,
  _html = false,
): Promise<OutputFile[]> {
  return [];
}
