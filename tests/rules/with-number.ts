import { loadRules, withOverlay } from '../../src/rules/load-rules.js';
import type { Rules } from '../../src/rules/rule.js';

const BUILT_IN = loadRules();

/** The rules with the value of one number rule changed, as if read from the rule files. */
export function withNumber(id: string, value: number, rules: Rules = BUILT_IN): Rules {
  if (rules.byId.get(id)?.kind !== 'number') throw new Error(`no number rule ${id}`);
  const list = rules.list.map((rule) => (rule.id === id ? { ...rule, value } : rule));
  return withOverlay(list, []);
}
