import type { Grade, GradedItem } from './grade.js';

/** A case that could not be graded. */
export interface GradeError {
  case: string;
  problems: readonly string[];
}

/** Characters that XML 1.0 (section 2.2) does not allow at all, and lone surrogates. */
const NOT_XML = /[^\t\n\r\u{20}-\u{d7ff}\u{e000}-\u{fffd}\u{10000}-\u{10ffff}]/gu;

const ENTITIES: Record<string, string> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  '\t': '&#9;',
  '\n': '&#10;',
  '\r': '&#13;',
};

const escaped = (text: string): string =>
  text.replace(NOT_XML, '\ufffd').replace(/[&<>"\t\n\r]/g, (c) => ENTITIES[c]);

/** Whether a text is a report that `junitXml` wrote. */
export const isJunit = (text: string): boolean => text.includes('<testsuites name="pavm grade"');

/**
 * A JUnit report: one suite for each case, one test case for each line of its key, a failure for each miss and an error
 * for a case that could not be computed. Elements and attributes are those of the schema `junit-10.xsd` that common
 * build servers check against; times are left out, since the same input gives the same bytes.
 */
export function junitXml(grades: readonly Grade[], errors: readonly GradeError[]): string {
  const failed = (grade: Grade): number => grade.items.filter(({ credit }) => credit < 1).length;
  const tests = grades.reduce((sum, grade) => sum + grade.items.length, errors.length);
  const failures = grades.reduce((sum, grade) => sum + failed(grade), 0);
  const lines = [
    '<?xml version="1.0" encoding="UTF-8"?>',
    `<testsuites name="pavm grade" tests="${tests}" failures="${failures}" errors="${errors.length}">`,
  ];
  for (const grade of grades) {
    lines.push(
      `  <testsuite name="${escaped(grade.case)}" tests="${grade.items.length}" failures="${failed(grade)}" errors="0">`,
      ...grade.items.flatMap((item) => testcase(grade.case, item)),
      '  </testsuite>',
    );
  }
  for (const { case: name, problems } of errors) {
    lines.push(
      `  <testsuite name="${escaped(name)}" tests="1" failures="0" errors="1">`,
      `    <testcase name="the case can be computed" classname="${escaped(name)}">`,
      `      <error type="input" message="${escaped(problems[0] ?? 'no reason given')}">${escaped(problems.join('\n'))}</error>`,
      '    </testcase>',
      '  </testsuite>',
    );
  }
  lines.push('</testsuites>');
  return `${lines.join('\n')}\n`;
}

function testcase(suite: string, item: GradedItem): string[] {
  const head = `    <testcase name="${escaped(item.what)}" classname="${escaped(suite)}"`;
  if (item.credit === 1) return [`${head}/>`];
  const message = `expected ${item.expected}, got ${item.got ?? 'nothing'}`;
  const type = item.got === undefined ? 'missing' : item.credit > 0 ? 'near' : 'wrong';
  const detail = [message, item.feedback ?? '', `Key: ${item.where}`].filter(Boolean).join('\n');
  return [
    `${head}>`,
    `      <failure type="${type}" message="${escaped(message)}">${escaped(detail)}</failure>`,
    '    </testcase>',
  ];
}
