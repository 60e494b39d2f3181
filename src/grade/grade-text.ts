import type { Grade, GradedItem } from './grade.js';
import type { GradeError } from './junit.js';
import { plainNumber } from './plain-number.js';

/** The whole grade as one JSON value, keys in a fixed order. */
export function gradeJson(grades: readonly Grade[], errors: readonly GradeError[]): string {
  const points = grades.reduce((sum, grade) => sum + grade.points, 0);
  const of = grades.reduce((sum, grade) => sum + grade.of, 0);
  const passed = errors.length === 0 && grades.every((grade) => grade.passed);
  return `${JSON.stringify({ format: 'pavm-grade/1', passed, points, of, cases: grades, errors }, null, 2)}\n`;
}

/**
 * Table for the terminal: one line for each case with its points, and below it each missed line: the expected value, the value found, the
 * credit and why. The last line gives the totals.
 */
export function gradeText(grades: readonly Grade[], errors: readonly GradeError[]): string {
  const width = Math.max(
    4,
    ...grades.map((grade) => grade.case.length),
    ...errors.map((error) => error.case.length),
  );
  const lines: string[] = [];
  for (const grade of grades) {
    const score = `${plainNumber(grade.points)} of ${grade.of}`;
    const percent = grade.of === 0 ? 0 : Math.floor((100 * grade.points) / grade.of);
    lines.push(
      `${grade.passed ? 'PASS' : 'FAIL'}  ${grade.case.padEnd(width)}  ${score} points (${percent} %)`,
    );
    for (const item of grade.items) if (item.credit < 1) lines.push(...missLines(item));
  }
  for (const error of errors)
    lines.push(`ERROR ${error.case.padEnd(width)}  not graded: ${error.problems[0] ?? 'no reason'}`);
  const passed = grades.filter((grade) => grade.passed).length;
  const all = grades.length + errors.length;
  const points = grades.reduce((sum, grade) => sum + grade.points, 0);
  const of = grades.reduce((sum, grade) => sum + grade.of, 0);
  lines.push(`${passed} of ${all} cases passed, ${plainNumber(points)} of ${of} points`);
  return `${lines.join('\n')}\n`;
}

function missLines(item: GradedItem): string[] {
  const credit = item.credit > 0 ? 'half credit' : 'no credit';
  return [
    `      ${item.what}: expected ${item.expected}, got ${item.got ?? 'nothing'} (${credit})`,
    ...(item.feedback ? [`          ${item.feedback}`] : []),
    `          ${item.where}`,
  ];
}
