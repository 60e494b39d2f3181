import { patientRows } from '../../batch/patient-row.js';
import type { PatientResult } from '../../result/patient-result.js';
import type { Result } from '../../result/result.generated.js';
import type { BatchOutcome, BatchTask } from '../batch/batch-task.js';
import { measurePatient } from './measure-patient.js';
import { patientPlanFiles } from './plan-patient.js';

/** One patient of a batch: a row for the patient, and one for each lesion that was planned. */
export async function patientTask(file: string, task: BatchTask): Promise<BatchOutcome> {
  const measured = await measurePatient(file, { root: task.root, rules: task.rules });
  const { files } = await patientPlanFiles(measured, { today: task.today });
  // from the digits in the files, as for a case
  const read = <T>(path: string): T =>
    JSON.parse(files.find((one) => one.path === path)?.bytes as string) as T;
  const failed = measured.failed.flatMap(({ problems }) => problems);
  const plans = {
    result: read<PatientResult>('result.json'),
    lesions: measured.lesions.map(({ id }) => ({ id, result: read<Result>(`lesions/${id}/result.json`) })),
  };
  return { ok: true, rows: patientRows(plans, task.planShown, measured.failedCode, failed), files };
}
