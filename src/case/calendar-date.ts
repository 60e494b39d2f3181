import { quoted } from '../foundation/quoted-text.js';

const DAYS = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/** Why a text is neither an ISO date nor one with a time of day, "2026-03-14 07:30"; undefined if it is one. */
export function momentProblem(text: string): string | undefined {
  const [date, time, ...rest] = text.split(/[ T]/);
  if (time === undefined) return dateProblem(text);
  if (rest.length > 0 || !/^([01]\d|2[0-3]):[0-5]\d$/.test(time))
    return `${quoted(text)} is not a date with a time of day. Write for example "2026-03-14 07:30".`;
  return dateProblem(date);
}

/** Why a text is not an ISO calendar date between 1900 and 2199, as a sentence; undefined if it is one. No clock, no time zone. */
export function dateProblem(text: string): string | undefined {
  const match = /^(\d{4})-(\d{2})-(\d{2})$/.exec(text);
  if (!match) return `${quoted(text)} is not an ISO date. Write year-month-day, for example "2026-03-14".`;
  const [year, month, day] = match.slice(1).map(Number);
  if (year < 1900 || year > 2199) return `${quoted(text)} is outside the years 1900 to 2199.`;
  if (month < 1 || month > 12)
    return `${quoted(text)} has no such month. Write year-month-day, for example "2026-03-14".`;
  const leap = (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0;
  const last = month === 2 && leap ? 29 : DAYS[month - 1];
  return day >= 1 && day <= last
    ? undefined
    : `${quoted(text)} has no such day; that month has ${last} days.`;
}
