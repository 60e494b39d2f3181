/** Exit codes of the command, as the help text lists them. */
export const EXIT = { done: 0, stopFinding: 1, usage: 2, input: 3, defect: 4 } as const;

/**
 * Bad input, found before any output was touched. `problems` holds one complete line each:
 * `FILE:LINE:COLUMN PATH: what is wrong. What to do.`
 * `exitCode` is 2 for the command line and the case file, 3 for a mesh, image or shelf file.
 */
export class InputFailure extends Error {
  readonly exitCode: 2 | 3;
  readonly problems: readonly string[];

  constructor(exitCode: 2 | 3, problems: string | readonly string[]) {
    const list = typeof problems === 'string' ? [problems] : problems;
    super(list.join('\n'));
    this.name = 'InputFailure';
    this.exitCode = exitCode;
    this.problems = list;
  }
}
