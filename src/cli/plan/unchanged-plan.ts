import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import { fingerprintOf, groundsOf } from '../../batch/fingerprint.js';
import { InputFailure } from '../../foundation/failure.js';
import type { CaseOnDisk } from '../../case/read-case.js';
import type { Result } from '../../result/result.generated.js';
import { readList } from '../output/output-list.js';
import { surveyFolder } from '../output/own-files.js';
import { readResult } from '../input/read-result.js';
import type { Rules } from '../../rules/rule.js';
import { examineScan, scanInput } from '../scan/scan-of-case.js';
import { sha256OfFile } from '../input/sha256-of-file.js';
import { packageVersion } from '../version.js';

/**
 * The result that stands in a plan folder, where the same inputs, rules, version and options would give it again; undefined where there
 * is none, or a file of the plan is missing or was changed. Every input is read to its end: a size and a date would not tell a changed file.
 */
export async function unchangedPlan(
  onDisk: CaseOnDisk,
  planFolder: string,
  grounds: { rules: Rules; today?: string },
): Promise<Result | undefined> {
  const result = await readResult(join(planFolder, 'result.json')).catch(() => undefined);
  if (result === undefined || onDisk.case.id !== result.case) return undefined;
  if (!(await isWhole(planFolder))) return undefined;
  const earlier = groundsOf(result);
  const { rules, today } = grounds;
  const ruleSet = rules.hash;
  const others = { ...earlier, ruleSet, version: packageVersion(), today };
  if (fingerprintOf(others) !== fingerprintOf(earlier)) return undefined;
  const inputs = await inputsNow(onDisk, result.inputs, rules);
  return inputs && fingerprintOf({ ...others, inputs }) === fingerprintOf(earlier) ? result : undefined;
}

/** Whether every file of a plan folder is there as it was written. */
async function isWhole(planFolder: string): Promise<boolean> {
  const list = await readList(planFolder);
  if (list?.kind !== 'plan') return false;
  const { own } = await surveyFolder(planFolder);
  return list.files.every(({ path }) => own.has(path));
}

/** The inputs of an earlier result as they are now; undefined where the case names other files. */
async function inputsNow(
  onDisk: CaseOnDisk,
  earlier: Result['inputs'],
  rules: Rules,
): Promise<Result['inputs'] | undefined> {
  const files = new Map([[onDisk.file.relative, onDisk.file.absolute]]);
  for (const { input } of onDisk.inputs) files.set(input.relative, input.absolute);
  const series = onDisk.case.scan.series?.relative;
  if (files.size !== earlier.length || earlier.some(({ path }) => !files.has(path))) return undefined;
  const rows: Result['inputs'] = [];
  for (const { path } of earlier) {
    if (path === series) {
      const row = await seriesNow(onDisk, path, rules);
      if (row === undefined) return undefined;
      rows.push(row);
      continue;
    }
    const absolute = files.get(path) as string;
    rows.push({ path, sha256: await sha256OfFile(absolute), bytes: (await stat(absolute)).size });
  }
  return rows;
}

/** The series as it is now; undefined where it cannot be used: the plan itself then says why. */
async function seriesNow(
  onDisk: CaseOnDisk,
  path: string,
  rules: Rules,
): Promise<Result['inputs'][number] | undefined> {
  try {
    const { open } = await examineScan(onDisk.case, rules);
    return scanInput(path, await open.voxels());
  } catch (error) {
    if (error instanceof InputFailure) return undefined;
    throw error;
  }
}
