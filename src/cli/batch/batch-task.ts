import type { Row } from '../../batch/row.js';
import type { OutputFile } from '../output/output-list.js';

/** A task for a worker. */
export interface BatchTask {
  /** Case file or folder, as typed. */
  path: string;
  /** Folder of the plan, relative to that of the summary. */
  planShown: string;
  today?: string;
  root?: string;
  rules?: string;
}

/** Its outcome: the files to write, or the problems. */
export type BatchOutcome =
  | { ok: true; rows: Row[]; files: OutputFile[] }
  | { ok: false; exitCode: number; problems: readonly string[] };
