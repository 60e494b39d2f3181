import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import { patientFileOf, shownPath } from '../../case/case-files.js';
import { comparePatients, type PatientSide } from '../../compare/compare-patients.js';
import { isPatientComparison, patientComparisonText } from '../../compare/patient-text.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { markerOf } from '../../report/proposal-mark.js';
import { patientProposalMark } from '../../result/proposal.js';
import type { Result } from '../../result/result.generated.js';
import type { Rules } from '../../rules/rule.js';
import { writeWhole } from '../output/write-whole.js';
import type { CompareCommandOptions } from '../compare/compare-options.js';
import { isPatientResult, readPatientResult, readResult } from '../input/read-result.js';
import type { Terminal } from '../terminal/terminal.js';
import { measurePatient } from './measure-patient.js';
import { plannedPatient } from './plan-patient.js';

/** Whether a path is a patient file, a folder with one, or a patient's plan. */
export async function isPatient(path: string): Promise<boolean> {
  if ((await planOf(path)) !== undefined) return true;
  return (await patientFileOf(path)) !== undefined;
}

/** The result.json of a patient's plan at a path. */
async function planOf(path: string): Promise<string | undefined> {
  const facts = await stat(path).catch(() => undefined);
  const file = facts?.isDirectory() ? join(path, 'result.json') : path;
  if (!file.endsWith('.json')) return undefined;
  return (await isPatientResult(file)) ? file : undefined;
}

/** `pavm compare` of two patients: files, folders or plans of them. */
export async function comparePatientPaths(
  oldPath: string,
  newPath: string,
  options: CompareCommandOptions,
  rules: Rules,
  terminal: Terminal,
): Promise<number> {
  if (options.overlay)
    throw new InputFailure(
      EXIT.usage,
      'compare --overlay lays the surfaces of one lesion over each other: name the plans of a lesion, for example old/lesions/left-lower new/lesions/left-lower.',
    );
  const [old, now] = [await sideOf(oldPath, options), await sideOf(newPath, options)];
  const comparison = comparePatients(old, now, { rules, treated: options.treated });
  if (options.json) terminal.out(`${JSON.stringify(comparison, null, 2)}\n`);
  const mark = patientProposalMark(old.result) ?? patientProposalMark(now.result);
  const text = markerOf(mark).document(patientComparisonText(comparison));
  if (options.out !== undefined)
    await writeWhole({ path: options.out, flag: '--out', isOurs: isPatientComparison }, text);
  else if (!options.json) terminal.out(text);
  return comparison.verdict === 'plan stands' ? EXIT.done : EXIT.stopFinding;
}

async function sideOf(path: string, options: CompareCommandOptions): Promise<PatientSide> {
  const plan = await planOf(path);
  if (plan !== undefined) return readPlan(plan);
  const file = await patientFileOf(path);
  if (file === undefined)
    throw new InputFailure(
      EXIT.usage,
      `${shownPath(path)}: a patient can be compared only with a patient. Name a patient file or its plan.`,
    );
  const measured = await measurePatient(file, { root: options.root, rules: options.rules });
  const { result, plans } = await plannedPatient(measured, { today: options.today });
  return { result, lesions: Object.fromEntries(plans.map(({ id, result: own }) => [id, own])) };
}

async function readPlan(file: string): Promise<PatientSide> {
  const result = await readPatientResult(file);
  const lesions: Record<string, Result> = {};
  for (const [id, { state }] of Object.entries(result.lesions)) {
    if (state === 'not planned' || !/^[a-z0-9-]{1,64}$/.test(id)) continue;
    const own = join(file, '..', 'lesions', id, 'result.json');
    if (await stat(own).catch(() => undefined)) lesions[id] = await readResult(own);
  }
  return { result, lesions };
}
