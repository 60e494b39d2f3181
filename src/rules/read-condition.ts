import { isMap, isScalar, isSeq } from 'yaml';
import { nearestKey } from '../foundation/nearest-key.js';
import { quoted } from '../foundation/quoted-text.js';
import type { Comparand, Comparison, Condition } from './condition.js';
import { FACTS } from './facts.js';
import { entries, problem, type RuleText } from './rule-node.js';

const COMPARISONS: readonly Comparison[] = [
  'is',
  'is_not',
  'above',
  'at_least',
  'below',
  'at_most',
  'has',
  'known',
];
const KEYS = ['all', 'any', 'not', 'fact', ...COMPARISONS];

/** Deeper nesting than this is a mistake or an attack, never a clinical rule. */
const DEEPEST = 12;

/** Reads a condition; an error is noted as a problem and returns undefined. */
export function readCondition(at: RuleText, node: unknown, what: string, depth = 0): Condition | undefined {
  if (!isMap(node)) {
    problem(at, node, `${what}: a condition is a map with all, any, not or fact.`);
    return undefined;
  }
  if (depth > DEEPEST) {
    problem(at, node, `${what}: a condition may nest ${DEEPEST} deep.`);
    return undefined;
  }
  const found = entries(at, node, KEYS, what);
  const heads = ['all', 'any', 'not', 'fact'].filter((key) => found.has(key));
  if (heads.length !== 1) {
    problem(at, node, `${what}: exactly one of all, any, not or fact is needed.`);
    return undefined;
  }
  if (heads[0] === 'fact') return readComparison(at, node, found, what);
  if (found.size !== 1) {
    problem(at, node, `${what}: "${heads[0]}" stands alone.`);
    return undefined;
  }
  if (heads[0] === 'not') {
    const inner = readCondition(at, found.get('not'), what, depth + 1);
    return inner && { not: inner };
  }
  const list = found.get(heads[0]);
  if (!isSeq(list) || list.items.length === 0) {
    problem(at, list ?? node, `${what}: "${heads[0]}" contains a list of conditions.`);
    return undefined;
  }
  const parts = list.items.map((item) => readCondition(at, item, what, depth + 1));
  const read = parts.filter((part): part is Condition => part !== undefined);
  if (read.length !== parts.length) return undefined;
  return heads[0] === 'all' ? { all: read } : { any: read };
}

function readComparison(
  at: RuleText,
  node: unknown,
  found: Map<string, unknown>,
  what: string,
): Condition | undefined {
  const factNode = found.get('fact');
  const fact = isScalar(factNode) ? String(factNode.value) : '';
  if (!Object.hasOwn(FACTS, fact)) {
    const hint = nearestKey(fact, Object.keys(FACTS));
    problem(
      at,
      factNode ?? node,
      `${what}: ${quoted(fact)} is not a known fact.${hint ? ` Did you mean "${hint}"?` : ''}`,
    );
    return undefined;
  }
  const comparisons = COMPARISONS.filter((key) => found.has(key));
  if (comparisons.length !== 1) {
    problem(at, node, `${what}: exactly one of ${COMPARISONS.join(', ')} is needed beside the fact.`);
    return undefined;
  }
  const compare = comparisons[0];
  const valueNode = found.get(compare);
  const to = isScalar(valueNode) ? valueNode.value : undefined;
  const wanted = wantedComparand(compare, fact);
  if (!accepts(wanted, to)) {
    problem(at, valueNode ?? node, `${what}: "${compare}" of ${fact} needs ${wanted}.`);
    return undefined;
  }
  return { fact, compare, to: to as Comparand | boolean };
}

type Wanted = 'true or false' | 'a number or rule:ID' | 'a word';

function wantedComparand(compare: Comparison, fact: string): Wanted {
  if (compare === 'known') return 'true or false';
  if (FACTS[fact].digits !== undefined) return 'a number or rule:ID';
  return 'a word';
}

function accepts(wanted: Wanted, to: unknown): boolean {
  if (wanted === 'true or false') return typeof to === 'boolean';
  if (wanted === 'a word') return typeof to === 'string';
  return (
    (typeof to === 'number' && Number.isFinite(to)) || (typeof to === 'string' && to.startsWith('rule:'))
  );
}
