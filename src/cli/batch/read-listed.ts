import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import { patientRows } from '../../batch/patient-row.js';
import { type Row, rowOf } from '../../batch/row.js';
import { patientFileOf } from '../../case/case-files.js';
import { type CaseOnDisk, readCase } from '../../case/read-case.js';
import { type PatientOnDisk, readPatient } from '../../case/read-patient.js';
import { InputFailure } from '../../foundation/failure.js';
import type { Rules } from '../../rules/rule.js';
import { caseInputs, filesOfPatient } from '../output/case-inputs.js';
import { unchangedPatient, unchangedPlan } from '../plan/unchanged-plan.js';
import type { BatchCase, Listed } from './batch-case.js';

type OnDisk = { case: CaseOnDisk } | { patient: PatientOnDisk };

/** The case, or the patient with several lesions, that a path names. Throws InputFailure. */
async function readAt(path: string, root: string | undefined): Promise<OnDisk> {
  const patient = await patientFileOf(path);
  return patient === undefined
    ? { case: await readCase(path, { root }) }
    : { patient: await readPatient(patient, { root }) };
}

/** What a run needs to know about a case before computing it; the parsed case is not kept. Throws InputFailure. */
export async function readListed(path: string, root: string | undefined): Promise<Listed> {
  const onDisk = await readAt(path, root);
  if ('case' in onDisk) {
    const { typed, folder } = onDisk.case;
    const inputs = caseInputs(onDisk.case);
    return { id: onDisk.case.case.id, typed, folder, inputs, bytes: sizeOf(onDisk.case) };
  }
  const { patient, typed, folder, lesions } = onDisk.patient;
  const bytes = lesions.reduce((sum, one) => sum + (one.onDisk ? sizeOf(one.onDisk) : 0), 0);
  return { id: patient.shared.id, typed, folder, inputs: filesOfPatient(onDisk.patient), bytes };
}

const sizeOf = ({ inputs }: CaseOnDisk): number =>
  inputs.reduce((sum, { role, size }) => (role === 'shelf' ? sum : sum + size), 0);

/** The rows of a plan that is unchanged. */
export async function unchangedRows(
  { path, planFolder, planShown }: BatchCase,
  root: string | undefined,
  grounds: { rules: Rules; today?: string },
): Promise<[Row, ...Row[]] | undefined> {
  if (!(await stat(join(planFolder, 'result.json')).catch(() => undefined))) return undefined;
  let onDisk: OnDisk;
  try {
    onDisk = await readAt(path, root);
  } catch (error) {
    // computing the case will report the problem
    if (error instanceof InputFailure) return undefined;
    throw error;
  }
  if ('case' in onDisk) {
    const result = await unchangedPlan(onDisk.case, planFolder, grounds);
    return result && [rowOf(result, planShown)];
  }
  const plans = await unchangedPatient(onDisk.patient, planFolder, grounds);
  return plans && patientRows(plans, planShown);
}
