import { patientFileOf, shownPath } from '../../case/case-files.js';
import { readTextFile } from '../../case/read-case.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { decodeYaml } from '../../foundation/located-yaml.js';
import { nearestHint } from '../../foundation/nearest-key.js';
import { refuseLinkOutside } from '../../foundation/own-folder.js';
import { quoted } from '../../foundation/quoted-text.js';
import { type Answers, gradeAnswers, parseAnswers } from '../../grade/answers.js';
import { type Grade, gradeResult } from '../../grade/grade.js';
import { gradeJson, gradeText } from '../../grade/grade-text.js';
import { type GradeError, isJunit, junitXml } from '../../grade/junit.js';
import { measureCase } from '../measure/measure-case.js';
import type { Terminal } from '../terminal/terminal.js';
import { checkToday } from '../input/today-flag.js';
import { writeWhole } from '../output/write-whole.js';
import { planResult } from '../plan/plan-files.js';

export interface GradeOptions {
  junit?: string;
  answers?: string;
  today?: string;
  root?: string;
  rules?: string;
  json?: boolean;
}

/**
 * `pavm grade CASES...`: computes each case in memory and grades it against the `expected` of its file, or a trainee's answers against the
 * computed result. Writes nothing to a case folder. Every case is graded; returns the highest exit code: 0, 1 (a line was missed), or that
 * of a case that could not be computed.
 */
export async function run(
  args: readonly string[],
  options: GradeOptions,
  terminal: Terminal,
): Promise<number> {
  if (args.length === 0)
    throw new InputFailure(EXIT.usage, 'grade: name at least one case, for example: pavm grade cases/*');
  checkToday(options.today);
  const answers = options.answers === undefined ? undefined : readAnswers(options.answers);
  const grades: Grade[] = [];
  const errors: GradeError[] = [];
  let code: number = EXIT.done;
  const seen: string[] = [];
  for (const path of args) {
    try {
      const grade = await gradeOne(path, options, answers, args.length);
      if (typeof grade === 'string') {
        seen.push(grade);
        continue;
      }
      grades.push(grade);
      if (!grade.passed) code = Math.max(code, EXIT.stopFinding);
    } catch (error) {
      if (!(error instanceof InputFailure)) throw error;
      errors.push({ case: shownPath(path), problems: error.problems });
      for (const problem of error.problems) terminal.err(`${problem}\n`);
      code = Math.max(code, error.exitCode);
    }
  }
  if (answers?.case !== undefined && grades.length === 0 && errors.length === 0)
    throw new InputFailure(
      EXIT.usage,
      `--answers: the answers are for ${quoted(answers.case)}, which is none of the cases named. ${nearestHint(answers.case, seen)}`,
    );
  if (options.junit !== undefined)
    await writeWhole(
      { path: options.junit, flag: '--junit', isOurs: isJunit, inputs: args },
      junitXml(grades, errors),
    );
  terminal.out(options.json ? gradeJson(grades, errors) : gradeText(grades, errors));
  return code;
}

/** The grade of one case, or its id if the answers belong to another case. */
async function gradeOne(
  path: string,
  options: GradeOptions,
  answers: Answers | undefined,
  cases: number,
): Promise<Grade | string> {
  const patient = await patientFileOf(path);
  if (patient !== undefined) {
    if (answers !== undefined)
      throw new InputFailure(
        EXIT.usage,
        `${shownPath(path)}: answers of a trainee are graded against a case, not against a patient file.`,
      );
    const { gradePatient } = await import('../patient/grade-patient.js');
    return gradePatient(patient, options);
  }
  const measured = await measureCase(path, { root: options.root, rules: options.rules });
  const { case: patientCase, onDisk } = measured;
  if (answers !== undefined) {
    if (answers.case === undefined && cases > 1)
      throw new InputFailure(
        EXIT.usage,
        '--answers: with several cases the file must say which one it is for: case: ID',
      );
    if (answers.case !== undefined && answers.case !== patientCase.id) return patientCase.id;
  }
  const locate = (at: string): string =>
    `${onDisk.typed}${/:\d+:\d+$/.exec(patientCase.locate(at))?.[0] ?? ''}`;
  if (answers === undefined && patientCase.expected.length === 0)
    throw new InputFailure(
      EXIT.usage,
      `${locate('')} expected: the case has no answer key, so there is nothing to grade. Add expected, or leave the case out.`,
    );
  const { result } = await planResult(measured, options.today);
  return answers === undefined
    ? gradeResult(patientCase.expected, result, locate)
    : gradeAnswers(answers.answers, patientCase.expected, result, locate);
}

function readAnswers(path: string): Answers {
  const shown = shownPath(path);
  refuseLinkOutside(path, EXIT.input);
  return parseAnswers(decodeYaml(readTextFile(path, EXIT.input), shown, { exitCode: 2 }), shown);
}
