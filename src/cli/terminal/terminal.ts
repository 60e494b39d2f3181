/** The outputs of a command other than files. Tests pass their own. */
export interface Terminal {
  /** Results only. */
  out(text: string): void;
  /** Messages, findings, progress. */
  err(text: string): void;
  /** True if stderr is a terminal with colour. */
  colour: boolean;
  /** True if stderr is a terminal, so that long work may show progress. */
  interactive: boolean;
  quiet: boolean;
}
