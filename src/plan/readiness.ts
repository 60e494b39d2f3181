import { isBleeding } from '../case/bleeding.js';
import { type Finding, finding } from '../foundation/finding.js';
import { dayNumber } from '../foundation/iso-date.js';
import type { Ready, Result } from '../result/result.generated.js';
import { judge, type Condition, type Verdict } from '../rules/condition.js';
import type { Facts } from '../rules/facts.js';
import { type DecisionRule, numberOf, type Rules, rulesOf } from '../rules/rule.js';
import { sourceText } from '../rules/source-text.js';
import { fillText } from '../rules/template.js';
import { followUp } from './follow-up.js';
import { type PlanInput, planFacts, readyByDate } from './readiness-facts.js';
import { triggers } from './triggers.js';

type Readiness = Result['readiness'];

export interface ReadinessInput extends PlanInput {
  orderList?: Readiness['order_list'];
  bestToday?: Readiness['best_today'];
}

/**
 * When each plan is ready, which one the rules recommend and why, what makes the team change plans, the order list and the follow-up. The
 * first decision rule whose condition holds decides; any others that hold are named too. An approach set in the case overrides the rules,
 * and the text says so.
 */
export function planReadiness(input: ReadinessInput): { readiness: Readiness; findings: Finding[] } {
  const { rules } = input;
  const facts = planFacts(input);
  const decision = decide(facts, rules, input.case);
  const findings: Finding[] = [...decision.findings];
  const withDecision = { ...facts, 'planned.recommended': decision.recommended };
  const follow = followUp(withDecision, rules, input.case.planned.date);
  findings.push(...follow.findings, ...patientAdvice(facts, rules), ...askAboutBleeding(facts));
  return {
    readiness: {
      plan_a: readinessOfA(facts, input),
      plan_b: readinessOfB(facts, input),
      recommended: decision.recommended,
      because: decision.because,
      decided_by: decision.decidedBy,
      triggers: triggers(facts, rules),
      ...(input.orderList !== undefined && { order_list: input.orderList }),
      ...(input.bestToday !== undefined && { best_today: input.bestToday }),
      follow_up: follow.followUp,
    },
    findings,
  };
}

/** If the history lists a bleed, or `bleeding` is incomplete, asks whether the lesion is bleeding now. */
function askAboutBleeding(facts: Facts): Finding[] {
  const listed = facts['history.bleeding'] as readonly string[];
  if (facts['bleeding.active'] !== 'unknown' || (listed.length === 0 && facts['bleeding.when'] === undefined))
    return [];
  const why =
    listed.length > 0
      ? `The history lists ${listed.join(', ')}`
      : 'The case gives a bleed without saying when';
  const text = `${why}. Does it bleed now, or did it within 24 hours? Write bleeding.now, within_24_h and stable.`;
  return [finding('caution', 'bleeding-not-stated', 'bleeding', text)];
}

interface Decision {
  recommended: DecisionRule['recommend'];
  because: string[];
  /** Id of the rule, or `approach-in-case`. */
  decidedBy: string;
  findings: Finding[];
}

/**
 * The recommendation for a patient's facts; `planned.approach` other than `auto` is the team's decision and overrides it, except while
 * the lesion bleeds: then the rules on bleeding decide.
 */
function decide(facts: Facts, rules: Rules, patientCase: ReadinessInput['case']): Decision {
  const bleeds = isBleeding(patientCase);
  const { approach } = patientCase.planned;
  const said = rulesOf(rules, 'decision').filter(
    (rule) => !(bleeds && rule.elective) && verdictOf(rule.when, facts, rules) === 'holds',
  );
  const holding = said.filter((rule) => !rule.beside);
  const reason = (rule: DecisionRule): string =>
    `${fillText(rule.text, facts, rules.byId)} (${sourceText(rule.source)})`;
  const first = holding[0];
  if (first === undefined) {
    const because = ['No recommendation rule applies to this case.', ...said.map(reason)];
    return { recommended: 'discuss', because, decidedBy: 'no-rule-holds', findings: [] };
  }
  const others = said.filter(
    (rule) =>
      rule !== first && (rule.beside || (rule.recommend !== 'embolise' && !rule.id.startsWith('bleeding-'))),
  );
  const reasons = [first, ...others].map(reason);
  if (bleeds) {
    const text = `${reasons[0]} This decides before everything else.`;
    const findings = [finding('stop', 'bleeding', 'bleeding', text)];
    const because =
      approach === 'auto'
        ? reasons
        : [...reasons, `The case asks for planned.approach: ${approach}; a bleed decides first.`];
    return { recommended: first.recommend, because, decidedBy: first.id, findings };
  }
  if (approach === 'auto') {
    return { recommended: first.recommend, because: reasons, decidedBy: first.id, findings: [] };
  }
  const differs = first.recommend !== approach;
  const because = [
    `The case asks for this approach (planned.approach: ${approach}). The rules alone would say: ${first.recommend}.`,
    ...reasons,
  ];
  const text = `The case asks to ${approach}; the rules alone would say ${first.recommend}: ${reasons[0]}`;
  return {
    recommended: approach,
    because,
    decidedBy: 'approach-in-case',
    findings: differs ? [finding('caution', 'approach-against-rules', 'planned.approach', text)] : [],
  };
}

function verdictOf(condition: Condition, facts: Facts, rules: Rules): Verdict {
  return judge(condition, facts, (id) => numberOf(rules, id));
}

interface Needs {
  missing: string[];
  unknown: string[];
  blocked: boolean;
}

function needs(plan: 'a' | 'b', facts: Facts, rules: Rules): Needs {
  const found: Needs = { missing: [], unknown: [], blocked: false };
  for (const rule of rulesOf(rules, 'need')) {
    if (rule.plan !== plan) continue;
    if (rule.when !== undefined && verdictOf(rule.when, facts, rules) !== 'holds') continue;
    const verdict = rule.met === undefined ? 'unknown' : verdictOf(rule.met, facts, rules);
    if (verdict === 'fails') {
      found.missing.push(fillText(rule.missing ?? rule.text, facts, rules.byId));
      found.blocked = true;
    } else if (verdict === 'unknown') {
      found.unknown.push(fillText(rule.text, facts, rules.byId));
      found.blocked ||= rule.blocks;
    }
  }
  return found;
}

function readinessOfA(facts: Facts, input: PlanInput): Ready {
  const { missing, unknown, blocked } = needs('a', facts, input.rules);
  const base = { ready_today: !blocked, missing, unknown };
  const readyBy =
    facts['devices.none'] === undefined || input.devices === undefined
      ? undefined
      : readyByDate(input.devices);
  if (readyBy !== undefined) return { ...base, ready_by: readyBy };
  return { ...base, ready_by_absent_because: whyNoDateA(facts, input) };
}

function whyNoDateA(facts: Facts, { devices, today }: PlanInput): string {
  if (facts['lesion.none_open'] === 'yes') return 'there is no open feeder';
  if (devices === undefined || Object.keys(devices).length === 0) return 'no feeder was measured';
  if (facts['devices.none'] === undefined) return 'no shelf was given';
  const lacking = Object.entries(devices).filter(([, device]) => device.code === undefined);
  if (lacking.length > 0) return `no device for ${lacking.map(([name]) => name).join(', ')}`;
  if (today === undefined || dayNumber(today) === undefined)
    return 'there is no date to count lead times from';
  const open = Object.entries(devices).filter(([, device]) => device.ready_by === undefined);
  return `the shelf gives no lead time for ${open.map(([name, device]) => `${device.code} (${name})`).join(', ')}`;
}

function readinessOfB(facts: Facts, { rules, today }: PlanInput): Ready {
  const { missing, unknown, blocked } = needs('b', facts, rules);
  const base = { ready_today: !blocked, missing, unknown };
  if (!blocked && today !== undefined) return { ...base, ready_by: today };
  const because = blocked
    ? 'what is missing or unanswered comes first, and the case gives no date for it'
    : 'there is no date to count from';
  return { ...base, ready_by_absent_because: because };
}

function patientAdvice(facts: Facts, rules: Rules): Finding[] {
  return rulesOf(rules, 'advice')
    .filter((rule) => rule.about === 'patient' && verdictOf(rule.when, facts, rules) === 'holds')
    .map((rule) => finding(rule.level, rule.id, 'patient', fillText(rule.text, facts, rules.byId)));
}
