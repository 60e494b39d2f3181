/** What a command may do to the outside besides reading and writing files. Tests hand in their own. */
export interface Terminal {
  /** Results only. */
  out(text: string): void;
  /** Messages, findings, progress. */
  err(text: string): void;
  /** True where stderr is a terminal that takes colour. */
  colour: boolean;
  /** True where stderr is a terminal, so that long work may show progress. */
  interactive: boolean;
  quiet: boolean;
}
