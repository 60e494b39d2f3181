import type { CaseOnDisk } from '../../case/read-case.js';
import type { PatientOnDisk } from '../../case/read-patient.js';

/** Everything on disk that a command on a case reads; an output must neither be nor contain any of it. */
export function caseInputs(
  { file, inputs }: Pick<CaseOnDisk, 'file' | 'inputs'>,
  ...others: readonly (string | undefined)[]
): string[] {
  const named = others.filter((path) => path !== undefined);
  return [file.absolute, ...inputs.map(({ input }) => input.absolute), ...named];
}

/** The same for a patient with its lesions. */
export const filesOfPatient = ({ file, shelf, lesions }: PatientOnDisk): string[] => [
  file.absolute,
  ...(shelf ? [shelf.absolute] : []),
  ...lesions.flatMap(({ file: own, onDisk }) => (onDisk ? caseInputs(onDisk) : [own.absolute])),
];
