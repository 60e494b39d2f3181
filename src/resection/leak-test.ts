import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed, rounded } from '../foundation/number-text.js';
import { convert } from '../foundation/units.js';
import type { Result } from '../result/result.generated.js';
import { numberOf, type Rules } from '../rules/rule.js';

const WHERE = 'surgery.leak_test';

/**
 * The leak test pressure in both units, with its cautions: above `leak-test-warn`, to confirm above `leak-test-confirm`, and for a unit
 * that looks wrong (mmHg, or a pressure too low for any leak test).
 */
export function leakTest(
  written: NonNullable<Case['surgery']['leakTest']>,
  rules: Rules,
): { leakTest: NonNullable<Result['resection']>['leak_test']; findings: Finding[] } {
  const { cmH2O, asWritten } = written;
  const mmHg = convert(cmH2O, 'pressure', 'cmH2O', 'mmHg');
  const warn = numberOf(rules, 'leak-test-warn');
  const confirm = numberOf(rules, 'leak-test-confirm');
  const low = numberOf(rules, 'leak-test-low');
  const both = `${fixed(cmH2O, 2)} cmH2O = ${fixed(mmHg, 2)} mmHg`;
  const findings: Finding[] = [];
  if (cmH2O > confirm) {
    const text = `The leak test is planned at ${both}, above ${confirm} cmH2O, the top of published practice. Stop and confirm the number and its unit.`;
    findings.push(finding('caution', 'leak-test-confirm', WHERE, text));
  } else if (cmH2O > warn) {
    findings.push(
      finding(
        'caution',
        'leak-test-high',
        WHERE,
        `The leak test is planned at ${both}, above ${warn} cmH2O.`,
      ),
    );
  }
  if (cmH2O < low) {
    const text = `The leak test is planned at ${both}, too low for a leak test. Check the unit of "${asWritten}".`;
    findings.push(finding('caution', 'leak-test-low', WHERE, text));
  }
  if (/mm\s*\[?hg/i.test(asWritten)) {
    const number = Number.parseFloat(asWritten);
    const meant = Number.isFinite(number)
      ? `${number} cmH2O would be ${fixed(convert(number, 'pressure', 'cmH2O', 'mmHg'), 1)} mmHg`
      : '';
    const text = `"${asWritten}" is ${both}. Ventilators show cmH2O: was that meant${meant ? ` (${meant})` : ''}?`;
    findings.push(finding('caution', 'leak-test-unit', WHERE, text));
  }
  const note = findings.map((entry) => entry.text).join(' ');
  return { leakTest: { cmh2o: rounded(cmH2O, 2), mmhg: rounded(mmHg, 2), ...(note && { note }) }, findings };
}
