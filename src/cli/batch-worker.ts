import { createHash } from 'node:crypto';
import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import { fingerprintOf, groundsOf } from '../batch/fingerprint.js';
import { type Row, rowOf } from '../batch/row.js';
import { type CaseOnDisk, readCase } from '../case/read-case.js';
import { InputFailure } from '../foundation/failure.js';
import type { Result } from '../result/result.generated.js';
import { loadRules } from '../rules/load-rules.js';
import { planFiles } from './commands/plan.js';
import { measureCase } from './measure-case.js';
import { readResult } from './read-result.js';
import { packageVersion } from './version.js';
import type { OutputFile } from './write-folder.js';

/** What a worker is asked to do. */
export interface BatchTask {
  /** Case file or folder, as typed. */
  path: string;
  /** Folder of the plan, where an earlier one may stand. */
  planFolder: string;
  /** The same, from the folder of the summary. */
  planShown: string;
  today?: string;
  root?: string;
  rules?: string;
  /** Compute even what is unchanged. */
  force?: boolean;
}

/** What it gives back: the files to write, or none where the plan stands unchanged, or what is wrong. */
export type BatchOutcome =
  | { ok: true; row: Row; files?: OutputFile[] }
  | { ok: false; exitCode: number; problems: readonly string[] };

/** Documents without which a plan folder is not whole. */
const WHOLE = ['plan.md', 'checklist.md', 'counselling.md'];

/** Computes one case in a worker thread and writes nothing. */
export default async function computeCase(task: BatchTask): Promise<BatchOutcome> {
  try {
    const standing = task.force ? undefined : await unchangedResult(task);
    if (standing !== undefined) return { ok: true, row: rowOf(standing, task.planShown) };
    const measured = await measureCase(task.path, { root: task.root, rules: task.rules });
    const { files } = await planFiles(measured, task.today);
    // from the file's own digits, so that a plan that stands unchanged gives the same line
    const written = files.find(({ path }) => path === 'result.json')?.bytes as string;
    return { ok: true, row: rowOf(JSON.parse(written) as Result, task.planShown), files };
  } catch (error) {
    if (error instanceof InputFailure)
      return { ok: false, exitCode: error.exitCode, problems: error.problems };
    const text = error instanceof Error ? `${error.name}: ${error.message}` : String(error);
    return { ok: false, exitCode: 4, problems: [`internal error, a defect of ours: ${text}`] };
  }
}

/** The result that stands in the plan folder, where the same inputs, rules, version and options would give it again. */
async function unchangedResult(task: BatchTask): Promise<Result | undefined> {
  const result = await readResult(join(task.planFolder, 'result.json')).catch(() => undefined);
  if (result === undefined) return undefined;
  for (const name of WHOLE) {
    const facts = await stat(join(task.planFolder, name)).catch(() => undefined);
    if (!facts?.isFile() || facts.size === 0) return undefined;
  }
  const onDisk = await readCase(task.path, { root: task.root });
  if (onDisk.case.id !== result.case) return undefined;
  const inputs = await inputsNow(onDisk, result.inputs);
  if (inputs === undefined) return undefined;
  const now = fingerprintOf({
    inputs,
    ruleSet: loadRules(task.rules).hash,
    version: packageVersion(),
    ...(task.today !== undefined && { today: task.today }),
  });
  return now === fingerprintOf(groundsOf(result)) ? result : undefined;
}

/** The inputs of an earlier result as they are now; undefined where the case names other files. */
async function inputsNow(
  onDisk: CaseOnDisk,
  earlier: Result['inputs'],
): Promise<Result['inputs'] | undefined> {
  const files = new Map([[onDisk.file.relative, onDisk.file.absolute]]);
  for (const { input, kind } of onDisk.inputs)
    if (kind !== 'folder') files.set(input.relative, input.absolute);
  if (files.size !== earlier.length || earlier.some(({ path }) => !files.has(path))) return undefined;
  const rows: Result['inputs'] = [];
  for (const { path } of earlier) {
    const absolute = files.get(path) as string;
    rows.push({ path, sha256: await sha256Of(absolute), bytes: (await stat(absolute)).size });
  }
  return rows;
}

async function sha256Of(path: string): Promise<string> {
  const hash = createHash('sha256');
  for await (const piece of createReadStream(path, { highWaterMark: 1 << 20 })) hash.update(piece);
  return hash.digest('hex');
}
