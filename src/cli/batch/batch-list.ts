import { basename, dirname, join, relative, resolve } from 'node:path';
import { failedRow, type Row } from '../../batch/row.js';
import { type Shard, shardOf } from '../../batch/shard.js';
import { shownPath } from '../../case/case-files.js';
import { addTo } from '../../foundation/add-to.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { quoted } from '../../foundation/quoted-text.js';
import { packageVersion } from '../version.js';
import type { BatchCase, Listed } from './batch-case.js';
import { type PlanFolderOf, type StandingPlan, standingCase } from './standing-case.js';

/** The cases of a run, or of this machine's share of it, and the rows of the cases that cannot be read. */
export interface BatchList {
  cases: BatchCase[];
  failed: Row[];
}

/**
 * Reads every case file named, in the order of their paths. A case that cannot be read, or whose id is not unique, becomes a failed row;
 * the others continue. The whole list is read before it is divided, so that every machine uses the same list. `onRead` is called for each
 * case that was read and has no plan that may still be valid.
 */
export async function batchList(
  paths: readonly string[],
  options: { out?: string; root?: string; shard?: Shard; onRead?: () => void },
): Promise<BatchList> {
  const base = resolve(options.out ?? '.');
  const planFolderOf: PlanFolderOf = (id, folder) => {
    const planFolder = options.out === undefined ? join(folder, 'plan') : join(options.out, id);
    return { planFolder, planShown: relative(base, resolve(planFolder)).split('\\').join('/') };
  };
  const seen = new Map<string, string>();
  for (const path of [...paths].sort((a, b) => (a < b ? -1 : a > b ? 1 : 0))) {
    const key = resolve(basename(path) === 'case.yaml' ? dirname(path) : path);
    if (!seen.has(key)) seen.set(key, path);
  }
  const entries: Entry[] = [];
  for (const path of seen.values()) {
    const entry = await readOne(path, options.root, planFolderOf);
    if (entry.read !== undefined && entry.read.standing === undefined) options.onRead?.();
    entries.push({ path, ...entry });
  }
  failSameIds(entries);
  const mine = shardOf(entries, options.shard);
  return {
    failed: mine.flatMap(({ failed }) => failed ?? []),
    cases: mine.flatMap(({ path, read, failed }) => {
      if (read === undefined || failed !== undefined) return [];
      const { id: name, folder, inputs, bytes, standing } = read;
      const { planFolder, planShown } = planFolderOf(name, folder);
      const planTyped = options.out === undefined ? relative(process.cwd(), planFolder) : planFolder;
      return [{ name, path, standing, inputs, planFolder, planTyped, planShown, bytes }];
    }),
  };
}

/** A case or patient as read, or why it cannot be read. */
interface Entry {
  path: string;
  read?: Listed & { standing?: StandingPlan };
  failed?: Row;
}

/** A case with an existing plan is taken from the plan; any other case is read, with a reader that is loaded only then. */
async function readOne(
  path: string,
  root: string | undefined,
  planFolderOf: PlanFolderOf,
): Promise<Omit<Entry, 'path'>> {
  const found = await standingCase(path, { root, version: packageVersion() }, planFolderOf);
  if (found !== undefined) {
    const { plan, ...facts } = found;
    return { read: { ...facts, inputs: plan.inputs.map(({ absolute }) => absolute), standing: plan } };
  }
  try {
    const { readListed } = await import('./read-listed.js');
    return { read: await readListed(path, root) };
  } catch (error) {
    if (!(error instanceof InputFailure)) throw error;
    return { failed: failedRow(folderName(path), error.exitCode, error.problems) };
  }
}

/** The name of a case that could not be read. */
function folderName(path: string): string {
  const full = resolve(path);
  return shownPath(basename(/\.ya?ml$/.test(full) ? dirname(full) : full));
}

function failSameIds(entries: Entry[]): void {
  const byId = new Map<string, Entry[]>();
  for (const entry of entries) {
    const id = entry.read?.id;
    if (id !== undefined) addTo(byId, id, entry);
  }
  for (const [id, same] of byId) {
    if (same.length < 2) continue;
    const list = same.map(({ path }) => shownPath(path)).join(', ');
    for (const entry of same)
      entry.failed = failedRow(folderName(entry.path), EXIT.usage, [
        `${entry.read?.typed} id: ${quoted(id)} is the id of several cases: ${list}. Ids must differ within a batch.`,
      ]);
  }
}
