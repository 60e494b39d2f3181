import type { Result } from '../result/result.generated.js';
import { judge } from '../rules/condition.js';
import type { Facts } from '../rules/facts.js';
import { numberOf, type Rules, rulesOf } from '../rules/rule.js';
import { sourceText } from '../rules/source-text.js';
import { fillText } from '../rules/template.js';

type Trigger = NonNullable<Result['readiness']['triggers']>[number];

/**
 * What makes the team change plans, in the order of the rules. `applies` is true only where this patient's own data
 * already meet it; a trigger that can only be seen on the day never applies beforehand.
 */
export function triggers(facts: Facts, rules: Rules): Trigger[] {
  return rulesOf(rules, 'trigger').map((rule) => {
    const applies = rule.when !== undefined && judge(rule.when, facts, (id) => numberOf(rules, id)) === 'holds';
    const because = applies && rule.because !== undefined ? fillText(rule.because, facts, rules.byId) : undefined;
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
