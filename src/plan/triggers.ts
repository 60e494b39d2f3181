import type { Result } from '../result/result.generated.js';
import { type Condition, judge, type Verdict } from '../rules/condition.js';
import type { Facts } from '../rules/facts.js';
import { numberOf, type Rules, rulesOf } from '../rules/rule.js';
import { sourceText } from '../rules/source-text.js';
import { fillText } from '../rules/template.js';

type Trigger = NonNullable<Result['readiness']['triggers']>[number];

/**
 * What makes the team change plans, in the order of the rules, without those that cannot concern the patient. `applies` is true only if
 * this patient's data already meet it; a trigger that can only be observed on the day of treatment never applies beforehand.
 */
export function triggers(facts: Facts, rules: Rules): Trigger[] {
  const verdict = (condition: Condition): Verdict => judge(condition, facts, (id) => numberOf(rules, id));
  const concerned = rulesOf(rules, 'trigger').filter(
    ({ concerns }) => concerns === undefined || verdict(concerns) !== 'fails',
  );
  return concerned.map((rule) => {
    const applies = rule.when !== undefined && verdict(rule.when) === 'holds';
    const because =
      applies && rule.because !== undefined ? fillText(rule.because, facts, rules.byId) : undefined;
    return {
      id: rule.id.replace(/^trigger-/, ''),
      direction: rule.direction,
      text: fillText(rule.text, facts, rules.byId),
      applies,
      ...(because !== undefined && { because }),
      source: sourceText(rule.source),
    };
  });
}
