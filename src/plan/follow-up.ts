import { type Finding, finding } from '../foundation/finding.js';
import { addDays, dayNumber } from '../foundation/iso-date.js';
import type { Result } from '../result/result.generated.js';
import { judge } from '../rules/condition.js';
import type { Facts } from '../rules/facts.js';
import { numberOf, type Rules, rulesOf } from '../rules/rule.js';
import { sourceText } from '../rules/source-text.js';
import { fillText } from '../rules/template.js';

type FollowUp = NonNullable<Result['readiness']['follow_up']>;

/** Visits and tests after the treatment, with date windows counted from the planned date (ISO), if any. */
export function followUp(
  facts: Facts,
  rules: Rules,
  plannedDate: string | undefined,
): { followUp: FollowUp; findings: Finding[] } {
  const start = plannedDate !== undefined && dayNumber(plannedDate) !== undefined ? plannedDate : undefined;
  const list = rulesOf(rules, 'follow-up')
    .filter(
      (rule) => rule.when === undefined || judge(rule.when, facts, (id) => numberOf(rules, id)) === 'holds',
    )
    .map((rule) => ({
      what: fillText(rule.text, facts, rules.byId),
      ...(start !== undefined && rule.fromDays !== undefined && { from: addDays(start, rule.fromDays) }),
      ...(start !== undefined && rule.toDays !== undefined && { to: addDays(start, rule.toDays) }),
      source: sourceText(rule.source),
    }));
  const text = 'The case gives no planned date, so follow-up has no dates.';
  return {
    followUp: list,
    findings: start === undefined ? [finding('note', 'follow-up-without-date', 'planned.date', text)] : [],
  };
}
