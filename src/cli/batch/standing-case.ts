import { basename, dirname, resolve } from 'node:path';
import { fingerprintOf } from '../../batch/fingerprint.js';
import { type Row, rowOf } from '../../batch/row.js';
import { isRow } from '../../batch/summary-check.js';
import { caseFileOf, checkedRoot, patientFileOf, shownPath } from '../../case/case-files.js';
import { locateInput } from '../../case/confined-path.js';
import { isAbsolutePath } from '../../case/path-text.js';
import { refuseLinkOutside } from '../../foundation/own-folder.js';
import { readRegularFile } from '../../foundation/regular-file.js';
import { YAML_LIMITS } from '../../foundation/yaml-limits.js';
import type { Result } from '../../result/result.generated.js';
import { sha256Hex } from '../output/output-list.js';
import { hashOfFile } from '../input/hash-of-file.js';
import { isWhole, listedHash, planList, writtenResult } from '../plan/whole-folder.js';

/** A case whose plan was made from exactly the current text of its file, recognised without parsing it. */
export interface StandingCase {
  id: string;
  /** The case file as named by the user, for messages. */
  typed: string;
  folder: string;
  /** Bytes of its inputs. */
  bytes: number;
  plan: StandingPlan;
}

/** The content of an existing plan folder. */
export interface StandingPlan {
  row: Row;
  /** Of its result, from the folder's list. */
  resultSha256: string;
  inputs: { path: string; absolute: string }[];
}

/** The plan folder for an id whose case file is in `folder`, and its path relative to the summary's folder. */
export type PlanFolderOf = (id: string, folder: string) => { planFolder: string; planShown: string };

/**
 * A case from its existing plan. Undefined if there is none or anything is uncertain; the case is then read and checked as usual. A result
 * with the hash in the folder's list and the running version was written by this program, so it needs no further check. The same text names
 * the same inputs; their locations are resolved again.
 */
export async function standingCase(
  path: string,
  options: { root?: string; version: string },
  planFolderOf: PlanFolderOf,
): Promise<StandingCase | undefined> {
  try {
    if ((await patientFileOf(path)) !== undefined) return undefined;
    const file = await caseFileOf(path);
    const root = options.root === undefined ? undefined : await checkedRoot(options.root);
    refuseLinkOutside(file, 2, root);
    const text = readRegularFile(file, { shown: file, exitCode: 2, mostBytes: YAML_LIMITS.bytes });
    // only a guess, which the result must confirm
    const id = /^id:[ \t]*["']?([a-z0-9-]+)/m.exec(text.toString('latin1'))?.[1];
    if (id === undefined) return undefined;
    const folder = dirname(resolve(file));
    const { planFolder, planShown } = planFolderOf(id, folder);
    const list = await planList(planFolder);
    const resultSha256 = list && listedHash(list, 'result.json');
    const result = list && writtenResult<Result>(planFolder, 'result.json', 'pavm-result/1', list);
    if (resultSha256 === undefined || result === undefined) return undefined;
    const name = basename(file);
    const madeFrom = result.inputs.find((input) => input.path === name)?.sha256;
    if (result.case !== id || result.tool.version !== options.version || madeFrom !== sha256Hex(text))
      return undefined;
    // the hash of a series is that of its voxels
    if (result.scan?.slices !== undefined) return undefined;
    const inputs: StandingPlan['inputs'] = [];
    let bytes = 0;
    for (const { path: relative } of result.inputs) {
      if (relative === name) {
        inputs.push({ path: name, absolute: resolve(file) });
        continue;
      }
      if (isAbsolutePath(relative)) return undefined;
      const input = { relative, absolute: resolve(folder, relative) };
      const located = await locateInput(input, 'file', { folder, root });
      if (!located.ok) return undefined;
      bytes += located.size;
      inputs.push({ path: relative, absolute: located.real });
    }
    const row = rowOf(result, planShown);
    return isRow(row)
      ? { id, typed: shownPath(file), folder, bytes, plan: { row, resultSha256, inputs } }
      : undefined;
  } catch {
    // any problem is reported when the case is read as usual
    return undefined;
  }
}

/** The row of a plan that is unchanged; reads all inputs and outputs completely. */
export async function stillStanding(
  { row, resultSha256, inputs }: StandingPlan,
  planFolder: string,
  grounds: { ruleSet: string; version: string; today?: string },
): Promise<Row | undefined> {
  try {
    const now: Result['inputs'] = [];
    for (const { path, absolute } of inputs) now.push({ path, ...(await hashOfFile(absolute)) });
    if (fingerprintOf({ ...grounds, inputs: now }) !== row.fingerprint) return undefined;
    const list = await planList(planFolder);
    if (list === undefined || listedHash(list, 'result.json') !== resultSha256) return undefined;
    return (await isWhole(planFolder, list)) ? row : undefined;
  } catch {
    return undefined;
  }
}
