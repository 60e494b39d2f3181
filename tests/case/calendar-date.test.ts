import { describe, expect, it } from 'vitest';
import { dateProblem } from '../../src/case/calendar-date.js';

describe('ISO 8601 calendar dates (Gregorian leap years)', () => {
  it.each(['2026-03-14', '2024-02-29', '2000-02-29', '1900-01-01', '2199-12-31'])('%s is a date', (date) => {
    expect(dateProblem(date)).toBeUndefined();
  });

  it.each([
    ['2026-02-29', '28 days'],
    ['1900-02-29', '28 days'],
    ['2026-04-31', '30 days'],
    ['2026-04-00', 'no such day'],
    ['2026-13-01', 'no such month'],
    ['2026-00-10', 'no such month'],
    ['1899-12-31', '1900 to 2199'],
    ['2200-01-01', '1900 to 2199'],
    ['14.3.2026', 'not an ISO date'],
    ['2026-3-14', 'not an ISO date'],
    ['2026-03-14T10:00', 'not an ISO date'],
    ['20260314', 'not an ISO date'],
  ])('%s is not a date', (date, text) => {
    expect(dateProblem(date)).toContain(text);
  });

  it('agrees with the calendar of the platform on the month ends of 300 years', () => {
    let disagreements = 0;
    for (let year = 1900; year < 2200; year++) {
      for (let month = 1; month <= 12; month++) {
        for (let day = 28; day <= 32; day++) {
          const text = `${year}-${String(month).padStart(2, '0')}-${day}`;
          const made = new Date(Date.UTC(year, month - 1, day));
          const real = made.getUTCMonth() === month - 1 && made.getUTCDate() === day;
          if ((dateProblem(text) === undefined) !== real) disagreements++;
        }
      }
    }
    expect(disagreements).toBe(0);
  });
});
