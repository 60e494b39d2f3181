import { refuseForeign } from '../foundation/own-format.js';
import type { Expectation } from '../case/case.js';
import { InputFailure } from '../foundation/failure.js';
import { childPath, type LocatedYaml, parseLocatedYaml, type YamlValue } from '../foundation/located-yaml.js';
import { nearestHint } from '../foundation/nearest-key.js';
import { tenTo } from '../foundation/power.js';
import { parseQuantity } from '../foundation/quantity.js';
import { hasInvisible, quoted } from '../foundation/quoted-text.js';
import { KINDS, type QuantityKind, type UnitOf } from '../foundation/units.js';
import { intervalOf, unitOfKey } from '../result/interval-of.js';
import type { Result } from '../result/result.generated.js';
import { valueAt } from '../result/value-path.js';
import { isCount } from './count.js';
import { explain } from './explain.js';
import { absentText, type Grade, type GradedItem, gradeOf, judge, valueText } from './grade.js';
import { plainNumber } from './plain-number.js';
import { refuseRepeated, sameValueKey, whatOf } from './same-value.js';

/** A trainee's answers, one per line. */
export interface Answer {
  /** The path of a value, or the id of a finding. */
  value?: string;
  finding?: string;
  answer: number | string | boolean;
  /** The answer as written, for its digits and unit. */
  written: string;
  where: string;
}

export interface Answers {
  /** Id of the case they belong to, if the file names it. */
  case?: string;
  answers: Answer[];
}

const FORMAT = 'pavm-answers/1';
const KEYS = ['format', 'case', 'answers'];
const ENTRY_KEYS = ['value', 'finding', 'answer'];

/**
 * Reads a trainee's answers: `format: pavm-answers/1`, `case: ID`, and `answers`, a list of `{ value: PATH, answer: ... }` or
 * `{ finding: ID, answer: yes|no }`. Throws InputFailure (2) with every problem of the file and its place; a value answered twice is one
 * of them.
 */
export function parseAnswers(text: string, fileName: string): Answers {
  refuseForeign(text, fileName, { what: 'pavm answers file', format: FORMAT, exitCode: 2 });
  const yaml = parseLocatedYaml(text, fileName, { exitCode: 2 });
  const problems: string[] = [];
  const say = (path: string, problem: string): void => {
    problems.push(`${yaml.locate(path)} ${path === '' ? '' : `${path}: `}${problem}`);
  };
  const format = yaml.get('format');
  if (format !== FORMAT)
    throw new InputFailure(
      2,
      `${yaml.locate('format')} format: an answers file starts with "format: ${FORMAT}".`,
    );
  unknownKeys(yaml.value, '', KEYS, say);
  const subject = yaml.get('case');
  if (subject !== undefined && typeof subject !== 'string')
    say('case', 'is not an id of a case. Write for example "case: heron".');
  const list = yaml.get('answers');
  const answers: Answer[] = [];
  if (!Array.isArray(list) || list.length === 0) say('answers', 'a list with at least one answer is needed.');
  else
    for (const i of list.keys()) {
      const answer = readAnswer(yaml, childPath('answers', i), list[i], say);
      if (answer) answers.push(answer);
    }
  if (problems.length > 0) throw new InputFailure(2, problems);
  refuseRepeated(answers);
  return { answers, ...(typeof subject === 'string' && { case: subject }) };
}

function unknownKeys(
  value: YamlValue | undefined,
  path: string,
  known: readonly string[],
  say: (path: string, problem: string) => void,
): void {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) return;
  for (const key of Object.keys(value))
    if (!known.includes(key)) say(childPath(path, key), `is not known. ${nearestHint(key, known)}`);
}

function readAnswer(
  yaml: LocatedYaml,
  path: string,
  entry: YamlValue,
  say: (path: string, problem: string) => void,
): Answer | undefined {
  if (typeof entry !== 'object' || entry === null || Array.isArray(entry)) {
    say(path, 'an entry is written { value: PATH, answer: ... } or { finding: ID, answer: yes }.');
    return undefined;
  }
  unknownKeys(entry, path, ENTRY_KEYS, say);
  const { value, finding, answer } = entry;
  const named = [value, finding].filter((one) => one !== undefined);
  if (named.length !== 1 || typeof named[0] !== 'string') {
    say(path, 'needs exactly one of value and finding, as text.');
    return undefined;
  }
  const hidden = [...named, answer].find((one) => typeof one === 'string' && hasInvisible(one));
  if (hidden !== undefined) {
    say(
      path,
      `${quoted(String(hidden))} contains a control or invisible character. Write one line of plain text.`,
    );
    return undefined;
  }
  if (answer === undefined || answer === null || typeof answer === 'object') {
    say(`${path}.answer`, 'is missing or not a single value. Leave out what you cannot answer.');
    return undefined;
  }
  if (typeof finding === 'string' && yesNo(answer) === undefined) {
    say(`${path}.answer`, `${quoted(String(answer))} is neither yes nor no.`);
    return undefined;
  }
  return {
    ...(typeof value === 'string' ? { value } : { finding: finding as string }),
    answer,
    written: yaml.source(`${path}.answer`) ?? String(answer),
    where: yaml.locate(`${path}.answer`),
  };
}

function yesNo(answer: unknown): boolean | undefined {
  if (typeof answer === 'boolean') return answer;
  if (answer === 'yes' || answer === 'true') return true;
  if (answer === 'no' || answer === 'false') return false;
  return undefined;
}

/**
 * Grades a trainee's answers against the computed result. A number is right within the tolerance that the case's key gives for
 * the value, else within the result's own 95 % interval, else to the digits the trainee wrote; a count is right or wrong. Lines of
 * the key that were not answered count as zero. A device that the result lists as an alternate gets half the credit. Throws InputFailure
 * (2) if two answers refer to the same value.
 */
export function gradeAnswers(
  answers: readonly Answer[],
  expected: readonly Expectation[],
  result: Result,
  locate: (path: string) => string,
): Grade {
  refuseRepeated(answers, result);
  const items = answers.map((answer): GradedItem => {
    if (answer.finding !== undefined) return gradeFindingAnswer(answer, answer.finding, result);
    return gradeValueAnswer(answer, answer.value as string, expected, result);
  });
  const answered = new Set(answers.map((answer) => sameValueKey(answer, result)));
  for (const entry of expected) {
    if (answered.has(sameValueKey(entry, result))) continue;
    const says = entry.value === undefined ? undefined : valueAt(result, entry.value);
    items.push({
      what: whatOf(entry),
      expected: says?.ok
        ? valueText(says.value)
        : entry.value === undefined
          ? presence(result, entry.finding)
          : 'absent',
      credit: 0,
      feedback: ['Not answered.', entry.value && explain(result, entry.value)].filter(Boolean).join(' '),
      where: locate(entry.path),
    });
  }
  return gradeOf(result, items);
}

const presence = (result: Result, id: string | undefined): string =>
  result.findings.some((found) => found.id === id) ? 'yes' : 'no';

function gradeFindingAnswer(answer: Answer, id: string, result: Result): GradedItem {
  const found = result.findings.find((one) => one.id === id);
  const says = yesNo(answer.answer);
  const base = {
    what: `finding ${id}`,
    expected: found ? 'yes' : 'no',
    got: says ? 'yes' : 'no',
    where: answer.where,
  };
  if (says === (found !== undefined)) return { ...base, credit: 1 };
  const feedback = found ? `It is there: ${found.where}: ${found.text}` : 'The result has no such finding.';
  return { ...base, credit: 0, feedback };
}

function gradeValueAnswer(
  answer: Answer,
  path: string,
  expected: readonly Expectation[],
  result: Result,
): GradedItem {
  const base = { what: path, got: answer.written, where: answer.where };
  const found = valueAt(result, path);
  if (!found.ok) return { ...base, expected: 'absent', credit: 0, feedback: absentText(found) };
  const { value, steps } = found;
  const why = explain(result, path, String(answer.answer));
  const withReason = (
    graded: Pick<GradedItem, 'credit' | 'feedback'>,
  ): Pick<GradedItem, 'credit' | 'feedback'> =>
    graded.credit === 1 || why === undefined
      ? graded
      : { ...graded, feedback: `${graded.feedback ?? ''} ${why}`.trim() };
  if (typeof value === 'number') {
    const unit = unitOfKey(steps);
    const number = numberOfAnswer(answer, unit);
    if (typeof number === 'string')
      return { ...base, expected: plainNumber(value), ...withReason({ credit: 0, feedback: number }) };
    const asked = sameValueKey(answer, result);
    const key = expected.find((entry) => sameValueKey(entry, result) === asked)?.within;
    const exact = isCount(steps);
    const tolerance = toleranceOf(value, { key, exact, interval: intervalOf(result, steps) }, number);
    const shown = `${plainNumber(value)}${unit ? ` ${unit}` : ''} (${tolerance.because})`;
    return {
      ...base,
      expected: shown,
      ...withReason(judge(value, number.value, { within: tolerance.within, exact })),
    };
  }
  const right = sameWord(answer, value);
  const expectedText = typeof value === 'boolean' ? (value ? 'yes' : 'no') : valueText(value);
  if (right) return { ...base, expected: expectedText, credit: 1 };
  const isAlternate =
    steps.at(-1) === 'code' &&
    result.devices[String(steps[1])]?.alternates.some(({ code }) => code === answer.answer);
  return {
    ...base,
    expected: expectedText,
    ...withReason({ credit: isAlternate ? 0.5 : 0, feedback: `It is ${expectedText}.` }),
  };
}

/** Letter case, spaces, hyphens and underscores are ignored in a trainee's word. */
function sameWord(answer: Answer, value: unknown): boolean {
  if (typeof value === 'boolean') return yesNo(answer.answer) === value;
  const plain = (text: string): string => text.toLowerCase().replace(/[\s_-]+/g, '');
  return plain(String(answer.answer)) === plain(valueText(value));
}

/** A number written by a trainee. */
interface AnsweredNumber {
  /** In the unit of the result's key. */
  value: number;
  /** Half of the last digit written, in the same unit. */
  halfDigit: number;
}

/** The number of an answer, or what is wrong with it. */
function numberOfAnswer(answer: Answer, unit: string): AnsweredNumber | string {
  const halfDigit = 0.5 * tenTo(-(/\.(\d+)/.exec(answer.written)?.[1].length ?? 0));
  if (typeof answer.answer === 'number') return { value: answer.answer, halfDigit };
  const kind = Object.entries(KINDS).find(
    ([name, one]) => name !== 'altitude' && Object.hasOwn(one.units, unit),
  )?.[0];
  // a fraction may be answered as percent, and a percentage with its sign
  const read =
    kind !== undefined && unit !== '%'
      ? parseQuantity(String(answer.answer), kind as QuantityKind, unit as UnitOf<QuantityKind>)
      : parseQuantity(String(answer.answer), 'fraction', unit === '%' ? '%' : 'fraction');
  if (read.ok) {
    const perUnit = read.number === 0 ? 1 : read.value / read.number;
    return { value: read.value, halfDigit: halfDigit * perUnit };
  }
  if (kind !== undefined && unit !== '%') return read.problem;
  return `${quoted(answer.written)} is not a number${unit ? ` in ${unit}` : ''}.`;
}

function toleranceOf(
  value: number,
  { key, exact, interval }: { key?: number; exact: boolean; interval?: readonly [number, number] },
  answered: AnsweredNumber,
): { within: number; because: string } {
  if (key !== undefined) return { within: key, because: `within ${plainNumber(key)}` };
  if (exact) return { within: 0, because: 'a count' };
  if (interval !== undefined) {
    const within = answered.value > value ? interval[1] - value : value - interval[0];
    return {
      within: Math.max(0, within),
      because: `95 % interval ${interval.map(plainNumber).join(' to ')}`,
    };
  }
  return { within: answered.halfDigit, because: 'to the digits written' };
}
