import { createHash } from 'node:crypto';
import type { Shelf } from '../../case/case.js';
import { lesionFolder, type PatientOnDisk, readPatient } from '../../case/read-patient.js';
import { readShelf } from '../../case/read-shelf.js';
import { InputFailure } from '../../foundation/failure.js';
import type { Finding } from '../../foundation/finding.js';
import type { FailedLesion, MeasuredLesion } from '../../patient/all-lesions.js';
import type { Result } from '../../result/result.generated.js';
import type { Rules } from '../../rules/rule.js';
import { type MeasureCaseOptions, type MeasuredCase, measureRead } from '../measure/measure-case.js';
import { hashOfFile } from '../input/hash-of-file.js';

/** A patient with the lesions that could be measured, and those that could not. */
export interface MeasuredPatient {
  onDisk: PatientOnDisk;
  rules: Rules;
  lesions: { id: string; file: string; measured: MeasuredCase }[];
  failed: FailedLesion[];
  /** The highest exit code of a lesion that failed; 0 without one. */
  failedCode: number;
  findings: Finding[];
  shelf?: Shelf;
}

/**
 * Reads a patient file and measures its lesions one after another. A lesion whose inputs cannot be used is left out and named. Throws
 * InputFailure (2) for the files themselves, (3) if the shelf or every lesion cannot be used.
 */
export async function measurePatient(
  path: string,
  options: MeasureCaseOptions = {},
): Promise<MeasuredPatient> {
  return measureReadPatient(await readPatient(path, { root: options.root }), options);
}

/** The same for a patient file that has been read. */
export async function measureReadPatient(
  onDisk: PatientOnDisk,
  options: MeasureCaseOptions = {},
): Promise<MeasuredPatient> {
  const { rulesInForce } = await import('../../rules/rules-in-force.js');
  const rules = await rulesInForce(options.rules);
  const shelf = onDisk.shelf && (await readShelf(onDisk.shelf.absolute, onDisk.shelf.relative));
  const lesions: MeasuredPatient['lesions'] = [];
  const failed: FailedLesion[] = [];
  let failedCode = 0;
  for (const { id, file, onDisk: read, problems } of onDisk.lesions) {
    const fail = (code: number, lines: readonly string[]): void => {
      failed.push({ id, file: file.relative, problems: lines });
      failedCode = Math.max(failedCode, code);
    };
    if (read === undefined) {
      fail(3, problems);
      continue;
    }
    try {
      lesions.push({ id, file: file.relative, measured: await measureRead(read, options) });
    } catch (error) {
      if (!(error instanceof InputFailure)) throw error;
      fail(error.exitCode, error.problems);
    }
  }
  if (lesions.length === 0)
    throw new InputFailure(
      failedCode === 2 ? 2 : 3,
      failed.flatMap(({ id, problems }) => problems.map((line) => `${id}: ${line}`)),
    );
  return { onDisk, rules, lesions, failed, failedCode, findings: onDisk.findings, ...(shelf && { shelf }) };
}

/** The lesions as input for computing the patient. */
export const measuredLesions = ({ lesions }: Pick<MeasuredPatient, 'lesions'>): MeasuredLesion[] =>
  lesions.map(({ id, file, measured }) => ({ id, file, case: measured.case, lesion: measured.lesion }));

/** Every file that was read, relative to the patient file's folder. */
export async function patientInputs({ onDisk, lesions }: MeasuredPatient): Promise<Result['inputs']> {
  const rows: Result['inputs'] = [
    {
      path: onDisk.file.relative,
      sha256: createHash('sha256').update(onDisk.bytes).digest('hex'),
      bytes: onDisk.bytes.length,
    },
  ];
  if (onDisk.shelf) {
    const { absolute, relative } = onDisk.shelf;
    rows.push({ path: relative, ...(await hashOfFile(absolute)) });
  }
  for (const { file, measured } of lesions) {
    const folder = lesionFolder(file);
    for (const input of measured.inputs) {
      const path = `${folder}${input.path}`;
      if (!rows.some((row) => row.path === path)) rows.push({ ...input, path });
    }
  }
  return rows;
}
