import { describe, expect, it } from 'vitest';
import { dateFindings } from '../../src/plan/date-findings.js';
import { RULES } from './make.js';

const ids = (scan: string | undefined, planned: string | undefined, today: string | undefined): string[] =>
  dateFindings({ scan: { date: scan }, planned: { date: planned, approach: 'auto' } }, today, RULES).map(
    ({ id }) => id,
  );

describe('dates of scan, plan and today', () => {
  it.each([
    ['2026-01-01', '2026-06-30', '2026-02-01', []],
    ['2026-01-01', '2026-07-01', '2026-02-01', ['scan-old']],
    ['2026-01-01', undefined, '2026-06-30', []],
    ['2026-01-01', undefined, '2026-07-01', ['scan-old']],
    ['2026-03-01', '2026-03-19', '2026-03-20', ['planned-before-today']],
    ['2026-03-01', '2026-03-20', '2026-03-20', []],
    ['2025-01-01', '2026-03-19', '2026-03-20', ['planned-before-today', 'scan-old']],
    [undefined, '2026-07-01', '2026-03-20', []],
    ['2026-01-01', undefined, undefined, []],
  ])('scan %s, planned %s, today %s: %j', (scan, planned, today, wanted) => {
    expect(ids(scan, planned, today)).toEqual(wanted);
  });

  it('age is counted to the day of treatment (180 and 181 days from 2026-01-01 by the calendar)', () => {
    const [found] = dateFindings(
      { scan: { date: '2026-01-01' }, planned: { date: '2026-07-01', approach: 'auto' } },
      '2026-02-01',
      RULES,
    );
    expect(found.text).toContain('181 days old on the planned date 2026-07-01');
  });
});
