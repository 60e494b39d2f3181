import { visible } from './quoted-text.js';

/** Exit codes of the command, as the help text lists them. */
export const EXIT = { done: 0, stopFinding: 1, usage: 2, input: 3, defect: 4, output: 5 } as const;

/**
 * A failure that the user can correct. `problems` holds one complete line each; none of them is a defect of this program. Text repeated
 * from the input is made visible: no control or other invisible characters remain.
 */
export class ReportedFailure extends Error {
  readonly exitCode: 2 | 3 | 5;
  readonly problems: readonly string[];

  constructor(exitCode: 2 | 3 | 5, problems: string | readonly string[]) {
    const list = (typeof problems === 'string' ? [problems] : problems).map(visible);
    super(list.join('\n'));
    this.name = new.target.name;
    this.exitCode = exitCode;
    this.problems = list;
  }
}

/**
 * Bad input, found before any output was changed. Each problem has the form `FILE:LINE:COLUMN PATH: what is wrong. What to do.`; `exitCode`
 * is 2 for the command line and the case file, 3 for a mesh, image or shelf file.
 */
export class InputFailure extends ReportedFailure {
  declare readonly exitCode: 2 | 3;

  constructor(exitCode: 2 | 3, problems: string | readonly string[]) {
    super(exitCode, problems);
  }
}

/** An output that cannot be written (exit code 5): a full disk, no permission, or a folder or file that this program did not write. */
export class OutputFailure extends ReportedFailure {
  constructor(problem: string) {
    super(EXIT.output, problem);
  }
}
