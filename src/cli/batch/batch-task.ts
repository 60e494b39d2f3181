import type { Row } from '../../batch/row.js';
import type { OutputFile } from '../output/output-list.js';

/** What a worker is asked to do. */
export interface BatchTask {
  /** Case file or folder, as typed. */
  path: string;
  /** Folder of the plan, from the folder of the summary. */
  planShown: string;
  today?: string;
  root?: string;
  rules?: string;
}

/** What it gives back: the files to write, or what is wrong. */
export type BatchOutcome =
  | { ok: true; rows: Row[]; files: OutputFile[] }
  | { ok: false; exitCode: number; problems: readonly string[] };
