import { fingerprintOf, groundsOf } from '../../batch/fingerprint.js';
import type { PatientPlans } from '../../batch/patient-row.js';
import { InputFailure } from '../../foundation/failure.js';
import type { CaseOnDisk } from '../../case/read-case.js';
import { lesionFolder, type PatientOnDisk } from '../../case/read-patient.js';
import type { PatientResult } from '../../result/patient-result.js';
import type { Result } from '../../result/result.generated.js';
import type { OutputList } from '../output/output-list.js';
import type { Rules } from '../../rules/rule.js';
import { hashOfFile } from '../input/hash-of-file.js';
import { packageVersion } from '../version.js';
import { isWhole, planList, writtenResult } from './whole-folder.js';

/** Everything that a plan depends on in addition to its inputs. */
interface OtherGrounds {
  rules: Rules;
  today?: string;
}

/** The current inputs of a plan: the path in the result, and how to hash it. */
type Located = ReadonlyMap<string, () => Promise<InputRow | undefined>>;
type InputRow = Result['inputs'][number];

/**
 * The result in a plan folder, if the same inputs, rules, version and options would give it again; undefined if there is none, or if a
 * file of the plan is missing or changed. Every input is read completely, since size and date do not reveal every change.
 */
export async function unchangedPlan(
  onDisk: CaseOnDisk,
  planFolder: string,
  grounds: OtherGrounds,
): Promise<Result | undefined> {
  const list = await planList(planFolder);
  if (list === undefined) return undefined;
  const result = writtenResult<Result>(planFolder, 'result.json', 'pavm-result/1', list);
  if (result === undefined || onDisk.case.id !== result.case) return undefined;
  const located = inputsOfCase(onDisk, '', grounds.rules);
  return (await stands(result, planFolder, list, located, grounds)) ? result : undefined;
}

/** The same for a patient, with the results of the lesions in their order; also undefined if a lesion was left out. */
export async function unchangedPatient(
  onDisk: PatientOnDisk,
  planFolder: string,
  grounds: OtherGrounds,
): Promise<PatientPlans | undefined> {
  const list = await planList(planFolder);
  if (list === undefined) return undefined;
  const result = writtenResult<PatientResult>(planFolder, 'result.json', 'pavm-patient-result/1', list);
  if (result === undefined || onDisk.patient.shared.id !== result.patient) return undefined;
  const located = new Map<string, () => Promise<InputRow | undefined>>();
  for (const input of [onDisk.file, ...(onDisk.shelf ? [onDisk.shelf] : [])])
    located.set(input.relative, () => rowOfFile(input.relative, input.absolute));
  const lesions: PatientPlans['lesions'] = [];
  for (const { id, file, onDisk: one } of onDisk.lesions) {
    const path = `lesions/${id}/result.json`;
    const own = one && writtenResult<Result>(planFolder, path, 'pavm-result/1', list);
    if (own === undefined || one === undefined) return undefined;
    lesions.push({ id, result: own });
    for (const [named, row] of inputsOfCase(one, lesionFolder(file.relative), grounds.rules))
      if (!located.has(named)) located.set(named, row);
  }
  return (await stands(result, planFolder, list, located, grounds)) ? { result, lesions } : undefined;
}

/** Whether a result, with all other files of its plan, would be written identically. */
async function stands(
  result: Pick<Result, 'inputs' | 'tool' | 'today'>,
  planFolder: string,
  list: OutputList,
  located: Located,
  { rules, today }: OtherGrounds,
): Promise<boolean> {
  const earlier = groundsOf(result);
  const others = { ...earlier, ruleSet: rules.hash, version: packageVersion(), today };
  if (fingerprintOf(others) !== fingerprintOf(earlier)) return false;
  if (!(await isWhole(planFolder, list))) return false;
  const inputs = await inputsNow(located, result.inputs);
  return inputs !== undefined && fingerprintOf({ ...others, inputs }) === fingerprintOf(earlier);
}

/** The inputs of an earlier result as they are now; undefined if the case names other files. */
async function inputsNow(located: Located, earlier: Result['inputs']): Promise<Result['inputs'] | undefined> {
  if (located.size !== earlier.length) return undefined;
  const rows: Result['inputs'] = [];
  for (const { path } of earlier) {
    const row = await located.get(path)?.();
    if (row === undefined) return undefined;
    rows.push(row);
  }
  return rows;
}

/** Everything that a case reads, by the paths in its result, each prefixed with the folder of its lesion. */
function inputsOfCase(onDisk: CaseOnDisk, folder: string, rules: Rules): Located {
  const files = new Map([[onDisk.file.relative, onDisk.file.absolute]]);
  for (const { input } of onDisk.inputs) files.set(input.relative, input.absolute);
  const series = onDisk.case.scan.series?.relative;
  return new Map(
    [...files].map(([path, absolute]) => {
      const named = `${folder}${path}`;
      return [named, () => (path === series ? seriesNow(onDisk, named, rules) : rowOfFile(named, absolute))];
    }),
  );
}

const rowOfFile = async (path: string, absolute: string): Promise<InputRow> => ({
  path,
  ...(await hashOfFile(absolute)),
});

/** The series as it is now; undefined if it cannot be used, and planning then reports why. */
async function seriesNow(onDisk: CaseOnDisk, path: string, rules: Rules): Promise<InputRow | undefined> {
  const { examineScan, scanInput } = await import('../scan/scan-of-case.js');
  try {
    const { open } = await examineScan(onDisk.case, rules);
    return scanInput(path, await open.voxels());
  } catch (error) {
    if (error instanceof InputFailure) return undefined;
    throw error;
  }
}
