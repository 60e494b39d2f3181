import type { CaseOnDisk } from '../../case/read-case.js';

/** Everything on disk that a command on a case reads: an output may neither be nor hold any of it. */
export function caseInputs(
  { file, inputs }: Pick<CaseOnDisk, 'file' | 'inputs'>,
  ...others: readonly (string | undefined)[]
): string[] {
  const named = others.filter((path) => path !== undefined);
  return [file.absolute, ...inputs.map(({ input }) => input.absolute), ...named];
}
