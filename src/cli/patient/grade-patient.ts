import { EXIT, InputFailure } from '../../foundation/failure.js';
import { type Grade, gradeResult } from '../../grade/grade.js';
import { measurePatient } from './measure-patient.js';
import { patientResult } from './plan-patient.js';

/** The grade of a patient file against its key; paths refer to the patient's result. */
export async function gradePatient(
  file: string,
  options: { root?: string; rules?: string; today?: string },
): Promise<Grade> {
  const measured = await measurePatient(file, options);
  const { patient, typed } = measured.onDisk;
  const { shared } = patient;
  const locate = (at: string): string => `${typed}${/:\d+:\d+$/.exec(shared.locate(at))?.[0] ?? ''}`;
  if (measured.failed.length > 0)
    throw new InputFailure(
      measured.failedCode === EXIT.usage ? 2 : 3,
      measured.failed.flatMap(({ problems }) => problems),
    );
  if (shared.expected.length === 0)
    throw new InputFailure(
      EXIT.usage,
      `${locate('')} expected: the patient file has no answer key, so there is nothing to grade. Add expected, or leave it out.`,
    );
  const result = await patientResult(measured, options);
  return gradeResult(shared.expected, { ...result, case: result.patient, vessels: {} }, locate);
}
