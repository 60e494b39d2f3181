import type { Expectation } from '../case/case.js';
import { nearestKey } from '../foundation/nearest-key.js';
import type { Result } from '../result/result.generated.js';
import { valueAt } from '../result/value-path.js';
import { isCount } from './count.js';
import { type Explained, explain } from './explain.js';
import { plainNumber } from './plain-number.js';
import { refuseRepeated } from './same-value.js';

/** The parts of a result used for grading; a patient's result has no vessels of its own. */
export type GradedResult = Pick<Result, 'case' | 'title' | 'findings'> & Explained;

/** One graded line. `credit` is 1 (right), 0.5 (near) or 0. */
export interface GradedItem {
  /** The path of the value, or `finding ID`. */
  what: string;
  expected: string;
  /** The value in the result or in the trainee's answer; undefined if there is none. */
  got?: string;
  credit: number;
  /** Only on a miss: what is wrong and by how much, or the nearest path. */
  feedback?: string;
  /** FILE:LINE:COLUMN of the expectation or answer. */
  where: string;
}

/** The grade of one case. It passes when every line is fully right. */
export interface Grade {
  case: string;
  title?: string;
  points: number;
  of: number;
  passed: boolean;
  items: GradedItem[];
}

/** Relative tolerance for a number without one, to allow for rounding. */
const RELATIVE_SLACK = 1e-9;
/** A measured number within this many tolerances gets half credit: common practice, no source. */
const NEAR = 2;
const HALF = 0.5;

/** Adds up the items of one case. */
export function gradeOf(patientCase: Pick<Result, 'case' | 'title'>, items: GradedItem[]): Grade {
  const points = items.reduce((sum, item) => sum + item.credit, 0);
  return {
    case: patientCase.case,
    ...(patientCase.title !== undefined && { title: patientCase.title }),
    points,
    of: items.length,
    passed: items.every(({ credit }) => credit === 1),
    items,
  };
}

/**
 * Grades a computed result against the answer key of its case. `locate` gives FILE:LINE:COLUMN of a path of the case file.
 * Throws InputFailure (2) if two lines of the key refer to the same value.
 */
export function gradeResult(
  expected: readonly Expectation[],
  result: GradedResult,
  locate: (path: string) => string,
): Grade {
  const lines = expected.map((entry) => ({ ...entry, where: locate(entry.path) }));
  refuseRepeated(lines, result);
  const items = lines.map(({ where, ...entry }): GradedItem => {
    return entry.finding === undefined
      ? { where, ...gradeValue(entry, result) }
      : { where, ...gradeFinding(entry.finding, entry.present !== false, result) };
  });
  return gradeOf(result, items);
}

type Judged = Omit<GradedItem, 'where'>;

function gradeFinding(id: string, present: boolean, result: GradedResult): Judged {
  const ids = result.findings.map((found) => found.id);
  const found = result.findings.find((one) => one.id === id);
  const what = `finding ${id}`;
  const expected = present ? 'present' : 'absent';
  const got = found ? 'present' : 'absent';
  if (expected === got) {
    // otherwise a misspelt finding with `present: no` would always pass
    const near = found ? undefined : nearestKey(id, ids);
    if (near === undefined) return { what, expected, got, credit: 1 };
    return { what, expected, got, credit: 0, feedback: `"${near}" is present: was it meant? Check the id.` };
  }
  if (found) return { what, expected, got, credit: 0, feedback: `${found.where}: ${found.text}` };
  const near = nearestKey(id, ids);
  const list = [...new Set(ids)].sort().join(', ');
  const feedback = near
    ? `Nearest present: ${near}.`
    : list
      ? `Present are: ${list}.`
      : 'No finding is present.';
  return { what, expected, got, credit: 0, feedback };
}

function gradeValue(entry: Expectation, result: GradedResult): Judged {
  const what = entry.value as string;
  const expected = expectedText(entry);
  const found = valueAt(result, what);
  if (!found.ok) return { what, expected, credit: 0, feedback: absentText(found) };
  const exact = isCount(found.steps);
  const { credit, feedback } = judge(entry.equals as Wanted, found.value, { within: entry.within, exact });
  const got = valueText(found.value);
  if (credit === 1) return { what, expected, got, credit };
  const why = explain(result, what, String(entry.equals));
  return { what, expected, got, credit, feedback: [feedback, why].filter(Boolean).join(' ') };
}

/** Why a path does not exist, and the nearest one that does. */
export function absentText(found: { until: string; nearest?: string; because?: string }): string {
  const parts = ['The result contains no such value'];
  if (found.because !== undefined) parts.push(`: ${found.because.replace(/\.$/, '')}`);
  parts.push('.');
  if (found.nearest !== undefined) parts.push(` Nearest path: ${found.nearest}.`);
  return parts.join('');
}

type Wanted = number | string | boolean;

function expectedText({ equals, within }: Expectation): string {
  const text = valueText(equals);
  return typeof equals === 'number' && within ? `${text} within ${plainNumber(within)}` : text;
}

/** A value of the result as one line of text, with lists joined by commas. */
export function valueText(value: unknown): string {
  if (typeof value === 'number') return plainNumber(value);
  if (Array.isArray(value)) return value.map(valueText).join(', ');
  if (typeof value === 'object' && value !== null) return 'a group of values, not one value';
  return String(value);
}

/** How a number is judged: its tolerance, and whether it is a count, which cannot be near. */
export interface Judging {
  within?: number;
  exact?: boolean;
}

/**
 * Compares the wanted value with the actual one. Numbers within the tolerance are right; measured ones within twice the tolerance are
 * near.
 */
export function judge(
  wanted: Wanted,
  got: unknown,
  judging: Judging = {},
): Pick<GradedItem, 'credit' | 'feedback'> {
  if (typeof wanted === 'number') {
    if (typeof got !== 'number')
      return { credit: 0, feedback: `A number is expected here, and the value is ${valueText(got)}.` };
    return judgeNumber(wanted, got, judging);
  }
  if (typeof got === 'boolean') {
    const word = String(wanted).toLowerCase();
    const same = got ? word === 'true' || word === 'yes' : word === 'false' || word === 'no';
    return same ? { credit: 1 } : { credit: 0, feedback: `It is ${got ? 'yes' : 'no'}.` };
  }
  const text = valueText(got);
  return text === String(wanted) ? { credit: 1 } : { credit: 0, feedback: `It is ${text}.` };
}

function judgeNumber(
  wanted: number,
  got: number,
  { within = 0, exact = false }: Judging,
): Pick<GradedItem, 'credit' | 'feedback'> {
  const off = Math.abs(got - wanted);
  const slack = RELATIVE_SLACK * Math.max(Math.abs(wanted), Math.abs(got));
  if (off <= within + slack) return { credit: 1 };
  const side = got > wanted ? 'too large' : 'too small';
  const allowed = within > 0 ? `, ${plainNumber(within)} allowed` : '';
  const feedback = `${plainNumber(off)} ${side}${allowed}.`;
  const near = !exact && within > 0 && off <= NEAR * within + slack;
  return { credit: near ? HALF : 0, feedback };
}
