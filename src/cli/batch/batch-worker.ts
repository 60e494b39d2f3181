import { rowOf } from '../../batch/row.js';
import { patientFileOf } from '../../case/case-files.js';
import { ReportedFailure } from '../../foundation/failure.js';
import type { Result } from '../../result/result.generated.js';
import { measureCase } from '../measure/measure-case.js';
import { encoded } from '../output/output-list.js';
import { planFiles } from '../plan/plan-files.js';
import type { BatchOutcome, BatchTask } from './batch-task.js';

/** Computes one case in a worker process and writes nothing. */
export async function computeCase(task: BatchTask): Promise<BatchOutcome> {
  try {
    const patient = await patientFileOf(task.path);
    if (patient !== undefined) {
      const { patientTask } = await import('../patient/batch-patient.js');
      return withBytes(await patientTask(patient, task));
    }
    const measured = await measureCase(task.path, { root: task.root, rules: task.rules });
    const { files } = await planFiles(measured, task.today);
    // written with the digits in the file, so that an unchanged plan gives the same line
    const written = files.find(({ path }) => path === 'result.json')?.bytes as string;
    return withBytes({
      ok: true,
      rows: [rowOf(JSON.parse(written) as Result, task.planShown)],
      files,
    });
  } catch (error) {
    if (error instanceof ReportedFailure)
      return { ok: false, exitCode: error.exitCode, problems: error.problems };
    const text = error instanceof Error ? `${error.name}: ${error.message}` : String(error);
    return { ok: false, exitCode: 4, problems: [`internal error, a defect of ours: ${text}`] };
  }
}

/** With text as UTF-8, so that the parent process, which all workers share, does not have to encode it. */
const withBytes = (outcome: BatchOutcome): BatchOutcome =>
  outcome.ok ? { ...outcome, files: encoded(outcome.files) } : outcome;
