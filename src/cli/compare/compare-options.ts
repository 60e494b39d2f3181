/** Options of `pavm compare`. */
export interface CompareCommandOptions {
  out?: string;
  treated?: boolean;
  /** Also lay the new surfaces over the old ones. */
  overlay?: boolean;
  today?: string;
  root?: string;
  rules?: string;
  json?: boolean;
}
