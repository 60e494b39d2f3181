import { join, relative } from 'node:path';
import { readPatient } from '../../case/read-patient.js';
import { EXIT } from '../../foundation/failure.js';
import { allDevices, shelfFor } from '../../patient/all-lesions.js';
import { assemblePatient } from '../../patient/assemble-patient.js';
import type { LesionPlan } from '../../patient/patient-basis.js';
import { isNoneOpen } from '../../plan/none-open.js';
import type { CounsellingSheet } from '../../plan/counselling.js';
import { todayOf } from '../../plan/assemble-result.js';
import { checkPatientResult } from '../../report/result-check.js';
import { patientResultJson } from '../../report/result-json.js';
import type { PatientResult } from '../../result/patient-result.js';
import { type PlanOptions, planFiles, planResult } from '../plan/plan-files.js';
import { filesOfPatient } from '../output/case-inputs.js';
import type { OutputFile } from '../output/output-list.js';
import { checkFolder, type FolderTarget, writeFolder } from '../output/write-folder.js';
import { sayFindings } from '../terminal/say-findings.js';
import type { Terminal } from '../terminal/terminal.js';
import { packageVersion } from '../version.js';
import {
  type MeasuredPatient,
  measuredLesions,
  measureReadPatient,
  patientInputs,
} from './measure-patient.js';
import { patientDocuments } from './patient-documents.js';

/** `pavm plan` of a patient file: one plan for all lesions, and the plan of each in `lesions/ID/`. */
export async function planPatient(file: string, options: PlanOptions, terminal: Terminal): Promise<number> {
  const onDisk = await readPatient(file, { root: options.root });
  const dir = options.out ?? join(onDisk.folder, 'plan');
  const shown = options.out ?? (relative(process.cwd(), dir) || '.');
  const inputs = [...filesOfPatient(onDisk), ...(options.rules === undefined ? [] : [options.rules])];
  const target: FolderTarget = { dir, shown, kind: 'plan', inputs };
  await checkFolder(target);
  const measured = await measureReadPatient(onDisk, options);
  const { files, result } = await patientPlanFiles(measured, options);
  await writeFolder(target, files);
  if (options.json) terminal.out(files.find(({ path }) => path === 'result.json')!.bytes as string);
  for (const { id, problems } of measured.failed)
    for (const line of problems) terminal.err(`${id}: ${line}\n`);
  sayFindings(result.findings, terminal, { notesStandIn: 'Findings in patient.md' });
  if (!terminal.quiet) terminal.err(`The plan is in ${shown}: open ${join(shown, 'patient.md')}\n`);
  return patientExit(measured, result);
}

/** The exit code: for a lesion that could not be planned, else for a stop, else 0. */
function patientExit({ failedCode }: Pick<MeasuredPatient, 'failedCode'>, result: PatientResult): number {
  const stop = result.findings.some(({ level }) => level === 'stop') ? EXIT.stopFinding : EXIT.done;
  return Math.max(failedCode, stop);
}

/** Devices for all lesions from one shelf, and the remaining shelf for each. */
function sharedShelf(measured: MeasuredPatient, todayOption: string | undefined) {
  const { onDisk, rules, shelf } = measured;
  const lesions = measuredLesions(measured);
  const today = todayOf({ todayOption, shelf, case: lesions[0].case }).date;
  const devices = allDevices(lesions, onDisk.patient.shared, shelf, today, rules);
  return { devices, shelfOf: (id: string) => shelfFor({ id }, devices, shelf) };
}

/** The result of a patient, checked against its schema, with those of its lesions. Draws and writes nothing. */
export async function plannedPatient(
  measured: MeasuredPatient,
  options: Pick<PlanOptions, 'today'>,
): Promise<{ result: PatientResult; plans: LesionPlan[] }> {
  const { devices, shelfOf } = sharedShelf(measured, options.today);
  const plans: LesionPlan[] = [];
  for (const { id, file, measured: one } of measured.lesions) {
    const { result } = await planResult(one, options.today, shelfOf(id));
    plans.push({ id, file, case: one.case, lesion: one.lesion, result });
  }
  return { result: await joined(measured, plans, devices, options.today), plans };
}

/** Only the result. */
export const patientResult = async (
  measured: MeasuredPatient,
  options: Pick<PlanOptions, 'today'>,
): Promise<PatientResult> => (await plannedPatient(measured, options)).result;

async function joined(
  measured: MeasuredPatient,
  plans: readonly LesionPlan[],
  devices: ReturnType<typeof allDevices>,
  todayOption: string | undefined,
): Promise<PatientResult> {
  const result = assemblePatient({
    patient: measured.onDisk.patient,
    findings: measured.findings,
    lesions: plans,
    failed: measured.failed,
    devices,
    shelf: measured.shelf,
    rules: measured.rules,
    inputs: await patientInputs(measured),
    version: packageVersion(),
    todayOption,
  });
  const problems = await checkPatientResult(result);
  if (problems.length > 0)
    throw new Error(`the result does not fit its schema: ${problems.slice(0, 3).join('; ')}`);
  return result;
}

/** Every file of the plan of a patient. */
export async function patientPlanFiles(
  measured: MeasuredPatient,
  { today, html }: Pick<PlanOptions, 'today' | 'html'>,
): Promise<{ files: OutputFile[]; result: PatientResult }> {
  const { devices, shelfOf } = sharedShelf(measured, today);
  const plans: LesionPlan[] = [];
  const files: OutputFile[] = [];
  const sheets: CounsellingSheet[] = [];
  const closedSheets: CounsellingSheet[] = [];
  for (const { id, file, measured: one } of measured.lesions) {
    const plan = await planFiles(one, today, html, shelfOf(id));
    plans.push({ id, file, case: one.case, lesion: one.lesion, result: plan.result });
    // open lesions come first on the patient's sheet
    if (isNoneOpen(one.case)) closedSheets.push(plan.counselling);
    else sheets.push(plan.counselling);
    files.push(...plan.files.map(({ path, bytes }) => ({ path: `lesions/${id}/${path}`, bytes })));
  }
  const result = await joined(measured, plans, devices, today);
  const byId = Object.fromEntries(plans.map(({ id, result: own }) => [id, own]));
  const documents = await patientDocuments(measured, byId, [...sheets, ...closedSheets], result);
  return {
    result,
    files: [{ path: 'result.json', bytes: patientResultJson(result) }, ...documents, ...files],
  };
}
