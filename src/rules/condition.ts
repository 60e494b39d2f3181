import type { Facts, FactValue } from './facts.js';

/** The right side of a comparison: a number, a word, or `rule:ID` for the value of a number rule. */
export type Comparand = number | string;

export type Comparison = 'is' | 'is_not' | 'above' | 'at_least' | 'below' | 'at_most' | 'has' | 'known';

/** A condition as data: `all`, `any`, `not`, or one comparison of one fact. */
export type Condition =
  | { all: Condition[] }
  | { any: Condition[] }
  | { not: Condition }
  | { fact: string; compare: Comparison; to: Comparand | boolean };

/** `unknown`: the facts that would decide it are not known. */
export type Verdict = 'holds' | 'fails' | 'unknown';

/**
 * Evaluates a condition in three-valued logic (Kleene): an unknown fact makes a comparison unknown, `all` fails as soon as one part fails,
 * `any` holds as soon as one part holds. `known` is never unknown. `ruleNumber` gives the value of a number rule by its id. Numbers are
 * compared unrounded.
 */
export function judge(condition: Condition, facts: Facts, ruleNumber: (id: string) => number): Verdict {
  if ('all' in condition) return judgeAll(condition.all, facts, ruleNumber);
  if ('any' in condition) {
    const verdicts = condition.any.map((part) => judge(part, facts, ruleNumber));
    if (verdicts.includes('holds')) return 'holds';
    return verdicts.includes('unknown') ? 'unknown' : 'fails';
  }
  if ('not' in condition) {
    const verdict = judge(condition.not, facts, ruleNumber);
    return verdict === 'unknown' ? 'unknown' : verdict === 'holds' ? 'fails' : 'holds';
  }
  const value = facts[condition.fact];
  if (condition.compare === 'known') return (value !== undefined) === condition.to ? 'holds' : 'fails';
  if (value === undefined) return 'unknown';
  return compares(value, condition.compare, comparand(condition.to, ruleNumber)) ? 'holds' : 'fails';
}

function judgeAll(parts: Condition[], facts: Facts, ruleNumber: (id: string) => number): Verdict {
  const verdicts = parts.map((part) => judge(part, facts, ruleNumber));
  if (verdicts.includes('fails')) return 'fails';
  return verdicts.includes('unknown') ? 'unknown' : 'holds';
}

function comparand(to: Comparand | boolean, ruleNumber: (id: string) => number): Comparand | boolean {
  return typeof to === 'string' && to.startsWith('rule:') ? ruleNumber(to.slice('rule:'.length)) : to;
}

function compares(value: FactValue, compare: Exclude<Comparison, 'known'>, to: Comparand | boolean): boolean {
  switch (compare) {
    case 'is':
      return value === to;
    case 'is_not':
      return value !== to;
    case 'has':
      return Array.isArray(value) && value.includes(to);
    case 'above':
      return value > to;
    case 'at_least':
      return value >= to;
    case 'below':
      return value < to;
    case 'at_most':
      return value <= to;
  }
}

/** Every fact a condition names, in order, each once. */
export function factsOf(condition: Condition): string[] {
  if ('all' in condition) return [...new Set(condition.all.flatMap(factsOf))];
  if ('any' in condition) return [...new Set(condition.any.flatMap(factsOf))];
  if ('not' in condition) return factsOf(condition.not);
  return [condition.fact];
}

/** Every number rule that a condition compares with. */
export function ruleNumbersOf(condition: Condition): string[] {
  if ('all' in condition) return condition.all.flatMap(ruleNumbersOf);
  if ('any' in condition) return condition.any.flatMap(ruleNumbersOf);
  if ('not' in condition) return ruleNumbersOf(condition.not);
  const { to } = condition;
  return typeof to === 'string' && to.startsWith('rule:') ? [to.slice('rule:'.length)] : [];
}
