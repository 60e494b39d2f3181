/** Dates as ISO texts, `2026-04-02`: counted in whole days of the Gregorian calendar, without clock or time zone. */
const ISO = /^(\d{4})-(\d{2})-(\d{2})$/;

const MS_PER_DAY = 86_400_000;

/** Days since 1970-01-01, or undefined if the text is not a date of the calendar (`2026-02-30`). */
export function dayNumber(date: string): number | undefined {
  const match = ISO.exec(date);
  if (match === null) return undefined;
  const [year, month, day] = [Number(match[1]), Number(match[2]), Number(match[3])];
  const ms = Date.UTC(year, month - 1, day);
  const back = new Date(ms);
  if (year < 100 || back.getUTCMonth() !== month - 1 || back.getUTCDate() !== day) return undefined;
  return ms / MS_PER_DAY;
}

/**
 * The date `days` days later (earlier if negative). Throws RangeError if `date` is not an ISO date or the result is outside the years 0100
 * to 9999.
 */
export function addDays(date: string, days: number): string {
  const start = dayNumber(date);
  if (start === undefined) throw new RangeError(`"${date}" is no ISO date`);
  const text = new Date((start + Math.round(days)) * MS_PER_DAY).toISOString();
  if (!/^\d{4}-/.test(text)) throw new RangeError(`${days} days from ${date} leave the calendar`);
  return text.slice(0, 10);
}
