import { join, relative } from 'node:path';
import { patientFileOf } from '../../case/case-files.js';
import { readCase } from '../../case/read-case.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { dayNumber } from '../../foundation/iso-date.js';
import { startScanProgress } from '../from-scan/scan-progress.js';
import { measureRead } from '../measure/measure-case.js';
import { expectLongRun, expectShortRun, isShortRun } from '../engine-flags.js';
import { sayFindings } from '../terminal/say-findings.js';
import type { Terminal } from '../terminal/terminal.js';
import { caseInputs } from '../output/case-inputs.js';
import { checkFolder, type FolderTarget, writeFolder } from '../output/write-folder.js';
import { type PlanOptions, planFiles } from '../plan/plan-files.js';

/** `pavm plan CASE`: measures one case and writes its plan folder, all files or none. */
export async function run(
  args: readonly string[],
  options: PlanOptions,
  terminal: Terminal,
): Promise<number> {
  if (options.timings !== true) return plan(args, options, terminal);
  const { Timings } = await import('../plan/timings.js');
  const timings = new Timings();
  const code = await plan(args, options, terminal);
  terminal.err(timings.end());
  return code;
}

async function plan(args: readonly string[], options: PlanOptions, terminal: Terminal): Promise<number> {
  if (options.today !== undefined && dayNumber(options.today) === undefined)
    throw new InputFailure(
      2,
      `--today "${options.today}" is not a valid date. Write for example --today 2026-03-20.`,
    );
  const patient = await patientFileOf(args[0]);
  if (patient !== undefined) {
    const { planPatient } = await import('../patient/plan-patient.js');
    return planPatient(patient, options, terminal);
  }
  expectShortRun();
  const onDisk = await readCase(args[0], { root: options.root });
  if (!isShortRun(onDisk.inputs)) expectLongRun();
  const measured = await measureRead(onDisk, {
    rules: options.rules,
    startProgress: () => startScanProgress(terminal),
  });
  const dir = options.out ?? join(onDisk.folder, 'plan');
  const shown = options.out ?? (relative(process.cwd(), dir) || '.');
  const target: FolderTarget = { dir, shown, kind: 'plan', inputs: caseInputs(onDisk, options.rules) };
  await checkFolder(target);
  const { files, result } = await planFiles(measured, options.today, options.html);
  await writeFolder(target, files);
  if (options.json) terminal.out(files.find((f) => f.path === 'result.json')!.bytes as string);
  sayFindings(result.findings, terminal, { notesStandIn: 'Findings in plan.md' });
  if (!terminal.quiet) terminal.err(`The plan is in ${shown}: open ${join(shown, 'plan.md')}\n`);
  return result.findings.some((f) => f.level === 'stop') ? EXIT.stopFinding : EXIT.done;
}
