import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { dayNumber } from '../foundation/iso-date.js';
import { ruleNumber, type Rules } from '../rules/rule.js';
import { citeOf } from '../rules/source-text.js';

/**
 * Compares the dates of scan, plan and today: a scan that will be old on the day of treatment (else today), and a planned date that is
 * already past. ISO dates; no finding without both dates.
 */
export function dateFindings(
  { scan, planned }: Pick<Case, 'scan' | 'planned'>,
  today: string | undefined,
  rules: Pick<Rules, 'byId'>,
): Finding[] {
  const found: Finding[] = [];
  const day = (date: string | undefined): number | undefined =>
    date === undefined ? undefined : dayNumber(date);
  const [scanDay, plannedDay, todayDay] = [day(scan.date), day(planned.date), day(today)];
  if (plannedDay !== undefined && todayDay !== undefined && plannedDay < todayDay) {
    const text = `The planned date ${planned.date} is before today, ${today}. Write the new date; lead times and follow-up count from it.`;
    found.push(finding('caution', 'planned-before-today', 'planned.date', text));
  }
  const days = [plannedDay, todayDay].filter((value) => value !== undefined);
  if (scanDay === undefined || days.length === 0) return found;
  const limit = ruleNumber(rules, 'scan-age');
  const age = Math.max(...days) - scanDay;
  if (age > limit.value) {
    const when = Math.max(...days) === plannedDay ? `on the planned date ${planned.date}` : `today, ${today}`;
    const text = `The scan of ${scan.date} is ${age} days old ${when}, above ${limit.value} ${limit.unit} (${citeOf(limit.source)}). Feeders grow and reopen: consider a new scan.`;
    found.push(finding('caution', 'scan-old', 'scan.date', text));
  }
  return found;
}
