import { basename, dirname, join } from 'node:path';
import type { Case } from '../../case/case.js';
import { HEADER_BYTES, headerProblem } from '../../case/input-header.js';
import { patientFileOf, shownPath } from '../../case/case-files.js';
import { type CaseInput, type ExaminedFile, examineCaseFile, findInputs } from '../../case/read-case.js';
import { readPatient } from '../../case/read-patient.js';
import { readShelf } from '../../case/read-shelf.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import type { Finding } from '../../foundation/finding.js';
import { quoted } from '../../foundation/quoted-text.js';
import { openRegularFile } from '../../foundation/regular-file.js';
import type { Rules } from '../../rules/rule.js';
import type { SliceStack } from '../../volume/ct/slice-stack.js';
import { expectShortRun } from '../engine-flags.js';
import { sayFindings } from '../terminal/say-findings.js';
import type { Terminal } from '../terminal/terminal.js';

export interface CheckOptions {
  root?: string;
  rules?: string;
  json?: boolean;
  quiet?: boolean;
}

interface Checked {
  file: string;
  ok: boolean;
  id?: string;
  title?: string;
  errors: string[];
  findings: (Finding & { at: string })[];
  exitCode: number;
}

/**
 * `pavm check CASE...`: validates case files, and checks that their inputs exist and have sound headers; computes nothing heavy. One line
 * per case on stdout, problems and findings on stderr; every case is checked completely, in one pass. Returns the highest exit code: 0, 1
 * (a stop-level finding), 2 (a case file, whatever the state of its inputs) or 3 (an input).
 */
export async function run(args: string[], options: CheckOptions, terminal: Terminal): Promise<number> {
  if (args.length === 0)
    throw new InputFailure(
      EXIT.usage,
      'check: name at least one case file or folder, for example: pavm check case.yaml',
    );
  expectShortRun();
  // bad rules are reported before any case is checked
  const { rulesInForce } = await import('../../rules/rules-in-force.js');
  const rules = await rulesInForce(options.rules);
  sayFindings(rules.findings, terminal);
  const checked: Checked[] = [];
  const ids = new Map<string, string>();
  for (const path of args) {
    const result = await checkOne(path, rules, options);
    const other = result.id === undefined ? undefined : ids.get(result.id);
    if (result.id !== undefined && other !== undefined && other !== result.file) {
      result.errors.push(
        `${result.file} id: ${quoted(result.id)} is the id of ${other} too. Ids must differ within a batch.`,
      );
      result.ok = false;
      result.exitCode = Math.max(result.exitCode, EXIT.usage);
    } else if (result.id !== undefined) ids.set(result.id, result.file);
    checked.push(result);
    if (!options.json) show(result, options, terminal);
  }
  if (options.json) {
    const list = checked.map(({ file, ok, id, title, errors, findings }) => ({
      file,
      ok,
      id,
      title,
      errors,
      findings,
    }));
    terminal.out(`${JSON.stringify(list, null, 2)}\n`);
  }
  return Math.max(...checked.map(({ exitCode }) => exitCode));
}

/** Contradictions between the blood gases; a swapped unit is cheap to find before anything is measured. */
async function gasFindings(patientCase: Case | undefined, rules: Rules): Promise<Finding[]> {
  if (patientCase === undefined) return [];
  const { caseShunts } = await import('../../physiology/case-shunts.js');
  return caseShunts(patientCase, rules).findings.filter(
    ({ level, where }) => level !== 'note' && /^(gases\b|blood|lesion|scan)/.test(where),
  );
}

/** One pass over everything that can be wrong with a case: its text, its inputs, and their first bytes. */
async function checkOne(path: string, rules: Rules, { root }: CheckOptions): Promise<Checked> {
  try {
    const patient = await patientFileOf(path);
    if (patient !== undefined) return await checkPatientFile(patient, rules, { root });
    const file = await examineCaseFile(path, { root });
    const { problems } = file;
    const textIsWrong = !problems.isEmpty;
    const { found, caseIsWrong } = await findInputs(file, { root });
    const scanFindings: Finding[] = [];
    let contradicts = false;
    for (const input of found) {
      const checked = await checkInput(file, input, rules);
      scanFindings.push(...checked.findings);
      contradicts ||= checked.contradicts;
    }
    const errors = problems.lines();
    const gases = await gasFindings(file.withoutSurfaces, rules);
    const findings = [...file.findings, ...gases, ...scanFindings].map((found) => ({
      ...found,
      at: problems.place(found.where),
    }));
    const ok = errors.length === 0;
    const stopped = findings.some(({ level }) => level === 'stop');
    return {
      file: file.typed,
      ok,
      ...(file.case && { id: file.case.id, title: file.case.title }),
      errors,
      findings,
      exitCode:
        textIsWrong || caseIsWrong || contradicts
          ? EXIT.usage
          : !ok
            ? EXIT.input
            : stopped
              ? EXIT.stopFinding
              : EXIT.done,
    };
  } catch (error) {
    if (!(error instanceof InputFailure)) throw error;
    return {
      file: shownPath(path),
      ok: false,
      errors: [...error.problems],
      findings: [],
      exitCode: error.exitCode,
    };
  }
}

/** A patient file with the case files of its lesions and all their inputs. */
async function checkPatientFile(path: string, rules: Rules, { root }: CheckOptions): Promise<Checked> {
  const { patient, findings, lesions, shelf, typed } = await readPatient(path, { root });
  const errors: string[] = [];
  let exitCode: number = EXIT.done;
  const found: Checked['findings'] = findings.map((one) => ({
    ...one,
    at: patient.shared.locate(one.where),
  }));
  const add = (lines: readonly string[], code: number): void => {
    errors.push(...lines);
    if (lines.length > 0) exitCode = Math.max(exitCode, code);
  };
  if (shelf) {
    try {
      await readShelf(shelf.absolute, join(dirname(typed), shelf.relative));
    } catch (error) {
      if (!(error instanceof InputFailure)) throw error;
      add(error.problems, error.exitCode);
    }
  }
  for (const { id, typed: at, onDisk, problems } of lesions) {
    add(problems, EXIT.input);
    if (onDisk === undefined) continue;
    const checked = await checkOne(at, rules, { root });
    add(checked.errors, checked.exitCode);
    // findings on the patient's blocks point to the patient file
    const own = checked.findings.filter(({ where }) => !/^(gases|blood|patient|purpose)/.test(where));
    found.push(...own.map((one) => ({ ...one, where: `${id}/${one.where}` })));
  }
  const [whole] = lesions.flatMap(({ onDisk }) => onDisk?.case ?? []);
  if (whole) {
    const gases = await gasFindings(whole, rules);
    found.push(...gases.map((one) => ({ ...one, at: patient.shared.locate(one.where.replace(/ .*/, '')) })));
  }
  if (exitCode === EXIT.done && found.some(({ level }) => level === 'stop')) exitCode = EXIT.stopFinding;
  return {
    file: typed,
    ok: errors.length === 0,
    id: patient.shared.id,
    title: patient.shared.title,
    errors,
    findings: found,
    exitCode,
  };
}

interface CheckedInput {
  findings: Finding[];
  /** A field of the case that differs from the header of the series. */
  contradicts: boolean;
}

/** Records the problems of an input; returns the findings on a series. */
async function checkInput(file: ExaminedFile, named: CaseInput, rules: Rules): Promise<CheckedInput> {
  const { typed, problems } = file;
  try {
    if (named.role === 'series') return await checkSeries(file, named, rules);
    const problem = await inputProblem(typed, named);
    if (problem !== undefined) problems.add(named.path, `${quoted(named.input.relative)} ${problem}`);
    else if (named.role === 'labels' && file.case) await checkAxes(file.case, named);
  } catch (error) {
    if (!(error instanceof InputFailure)) throw error;
    problems.addLines(named.path, error.problems);
  }
  return { findings: [], contradicts: false };
}

/** Throws InputFailure (3) if the case names a side and the label map does not state its patient axes. */
async function checkAxes(patientCase: Case, { input }: CaseInput): Promise<void> {
  if (patientCase.lesion.side === undefined) return;
  const { readLabelGrid } = await import('../../volume/read-label-map.js');
  const grid = await readLabelGrid(input.absolute, input.relative, patientCase.surfaces?.unitMm ?? 1);
  if (!grid) return;
  const { refuseWithoutSide } = await import('../measure/labelled-parts.js');
  refuseWithoutSide(patientCase, grid, input.relative);
}

/** Checks the headers only: faults of the series, and fields of the case that contradict it. */
async function checkSeries(
  { case: patientCase, problems }: ExaminedFile,
  named: CaseInput,
  rules: Rules,
): Promise<CheckedInput> {
  const { examineScan } = await import('../scan/scan-of-case.js');
  // if the text of the case is wrong, only the series itself can be checked
  const scan = patientCase?.scan ?? { series: named.input };
  const { open, problems: wrong } = await examineScan({ scan }, rules);
  for (const { path, text } of wrong.contradictions) problems.add(path, text);
  const at = `${problems.place(named.path)} ${named.path}`;
  problems.addLines(
    named.path,
    wrong.unusable.map((text) => `${at}: ${text}`),
  );
  const outside =
    patientCase?.surfaces && open.stack ? await outsideOf(patientCase.surfaces, open.stack) : [];
  for (const { path, text } of outside) problems.add(path, text);
  return { findings: open.findings, contradicts: wrong.contradictions.length + outside.length > 0 };
}

/** Points of the case outside its scan. */
async function outsideOf(
  surfaces: NonNullable<Case['surfaces']>,
  stack: SliceStack,
): Promise<{ path: string; text: string }[]> {
  if (!surfaces.fromScan) return [];
  const { wrongPoints, scanPoints } = await import('../from-scan/scan-points.js');
  return wrongPoints(scanPoints(surfaces), stack);
}

async function inputProblem(typed: string, { role, input, size }: CaseInput): Promise<string | undefined> {
  if (role === 'shelf') {
    await readShelf(input.absolute, join(dirname(typed), input.relative));
    return undefined;
  }
  if (role === 'series') return undefined;
  return headerProblem(await head(input.absolute), size, basename(input.relative), role);
}

async function head(path: string): Promise<Uint8Array> {
  const { handle } = await openRegularFile(path, { shown: shownPath(basename(path)), exitCode: EXIT.input });
  try {
    const bytes = new Uint8Array(HEADER_BYTES);
    const { bytesRead } = await handle.read(bytes, 0, bytes.length, 0);
    return bytes.subarray(0, bytesRead);
  } finally {
    await handle.close();
  }
}

function show(result: Checked, options: CheckOptions, terminal: Terminal): void {
  for (const line of result.errors) terminal.err(`${line}\n`);
  const at = new Map(result.findings.map((f): [Finding, string] => [f, f.at]));
  const quiet = options.quiet === true || terminal.quiet;
  sayFindings(result.findings, { ...terminal, quiet }, { locate: (f) => at.get(f) ?? '' });
  const count = result.errors.length;
  terminal.out(
    result.ok
      ? `OK  ${result.id}${result.title === undefined ? '' : `  ${result.title}`}\n`
      : `BAD ${result.file}  ${count} ${count === 1 ? 'problem' : 'problems'}\n`,
  );
}
