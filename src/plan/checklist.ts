import { type Finding, finding } from '../foundation/finding.js';
import type { Result } from '../result/result.generated.js';
import { judge } from '../rules/condition.js';
import type { Facts } from '../rules/facts.js';
import { type ItemRule, type Moment, numberOf, type Rules, rulesOf } from '../rules/rule.js';
import { sourceText } from '../rules/source-text.js';
import { fillText } from '../rules/template.js';
import { type PlanInput, planFacts } from './readiness-facts.js';

type Item = Result['checklist'][number];

const MOMENTS: readonly Moment[] = ['planning', 'sign-in', 'time-out', 'sign-out', 'after'];

/**
 * The risk checklist of one patient, by moment and then in the order of the rules. For each item the first condition that holds gives level
 * and reason. If a condition cannot be judged because the file lacks a value, the item's question is listed, so that nothing is skipped
 * silently. An item that cannot concern the patient is left out. In a bleed, an item that can wait is a note. Stop-level items of the
 * planning are findings as well; a stop of a later moment (such as one for plan B alone) is only in the list.
 */
export function buildChecklist(input: PlanInput): { checklist: Item[]; findings: Finding[] } {
  const facts = { ...planFacts(input), 'devices.nickel': nickelOfDevices(input) };
  const rules = rulesOf(input.rules, 'item');
  const checklist = MOMENTS.flatMap((moment) =>
    rules
      .filter((rule) => rule.moment === moment && isConcerned(rule, facts, input.rules))
      .map((rule) => itemOf(rule, facts, input.rules)),
  );
  const findings = checklist
    .filter((item) => item.level === 'stop' && item.moment === 'planning')
    .map((item) =>
      finding('stop', `checklist-${item.id}`, 'checklist', `${item.text} Here: ${item.because}.`),
    );
  return { checklist, findings };
}

function isConcerned({ concerns }: ItemRule, facts: Facts, rules: Rules): boolean {
  return concerns === undefined || judge(concerns, facts, (id) => numberOf(rules, id)) !== 'fails';
}

function itemOf(rule: ItemRule, facts: Facts, rules: Rules): Item {
  const found = firstCase(rule, facts, rules);
  const { level, because } =
    rule.waits && facts['bleeding.active'] === 'yes' && found.level !== 'ok'
      ? { level: 'note' as const, because: `bleeding: can wait until it is controlled; ${found.because}` }
      : found;
  return {
    id: rule.id,
    level,
    moment: rule.moment,
    text: fillText(rule.text, facts, rules.byId),
    because: fillText(because, facts, rules.byId),
    source: sourceText(rule.source),
  };
}

/** A condition that cannot be judged is skipped if another one holds; an entry without a condition never hides it. */
function firstCase(rule: ItemRule, facts: Facts, rules: Rules): Pick<Item, 'level' | 'because'> {
  let open = false;
  for (const entry of rule.cases) {
    if (entry.when === undefined) return open ? rule.ask : entry;
    const verdict = judge(entry.when, facts, (id) => numberOf(rules, id));
    if (verdict === 'holds') return entry;
    open ||= verdict === 'unknown';
  }
  return rule.ask;
}

/** Nickel in the chosen devices, from the shelf entries of their codes; absent if none was chosen. */
function nickelOfDevices({ devices, nickelByCode }: PlanInput): string | undefined {
  const codes = Object.values(devices ?? {}).flatMap((device) => device.code ?? []);
  if (codes.length === 0) return undefined;
  const answers = codes.map((code) => nickelByCode?.get(code) ?? 'unknown');
  return answers.includes('yes') ? 'yes' : answers.includes('unknown') ? 'unknown' : 'no';
}
