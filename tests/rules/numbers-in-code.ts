import ts from 'typescript';
import type { NumberRule } from '../../src/rules/rule.js';

/** A number in code or in a text that repeats a number rule. */
export interface Repeated {
  /** Line, from 1. */
  line: number;
  rule: string;
  /** The words around it. */
  text: string;
}

/** Words in a name that refer to the quantity measured by a unit. */
export const QUANTITY: Record<string, RegExp> = {
  mmHg: /mm_?hg|pressure|mean_?pa|wedge|hypertension/i,
  mm: /calibre|diameter|feeder(?!s)|landing|growth|to_?sac/i,
  '%': /percent|fev1|dlco|function|shunt|shrink|oval|saturation|so2/i,
  years: /age|year/i,
  'g/dL': /haemoglobin|hb|gdl/i,
  mL: /ml\b|volume|contrast/i,
  'mg/mL': /iodine|mgml/i,
  cmH2O: /cmh2o|leak/i,
  'mL/min/1.73m2': /egfr/i,
  criteria: /score|criteri|curacao/i,
  'Wood units': /resistance|wood/i,
  weeks: /week|gestation|trimester/i,
  'mL/kg': /kg|contrast|blood/i,
  'mL/dL': /ml_?dl|difference/i,
  points: /points|saturation|so2/i,
};

/** The value in its own unit, and for a percentage also as a fraction. */
const valuesOf = (rule: NumberRule): number[] =>
  rule.unit === '%' ? [rule.value, rule.value / 100] : [rule.value];

const COMPARING = new Set([
  ts.SyntaxKind.LessThanToken,
  ts.SyntaxKind.LessThanEqualsToken,
  ts.SyntaxKind.GreaterThanToken,
  ts.SyntaxKind.GreaterThanEqualsToken,
  ts.SyntaxKind.EqualsEqualsEqualsToken,
  ts.SyntaxKind.ExclamationEqualsEqualsToken,
]);

/**
 * Where a source text repeats the value of a number rule: compared with a name of the same quantity, assigned to a name of
 * the same quantity (a constant, a property), or written in a text as a limit with the rule's unit.
 */
export function repeatedNumbers(source: string, rules: readonly NumberRule[]): Repeated[] {
  const file = ts.createSourceFile('code.ts', source, ts.ScriptTarget.ES2022, true);
  const found: Repeated[] = [];
  const say = (node: ts.Node, rule: string): void => {
    const line = file.getLineAndCharacterOfPosition(node.getStart()).line + 1;
    found.push({ line, rule, text: node.getText().slice(0, 160) });
  };
  const named = (value: number, names: string, node: ts.Node): void => {
    for (const rule of rules)
      if (value !== 1 && valuesOf(rule).includes(value) && QUANTITY[rule.unit]?.test(names))
        say(node, rule.id);
  };
  const visit = (node: ts.Node): void => {
    if (ts.isBinaryExpression(node) && COMPARING.has(node.operatorToken.kind)) {
      for (const [one, other] of [
        [node.left, node.right],
        [node.right, node.left],
      ])
        if (ts.isNumericLiteral(one)) named(Number(one.text), other.getText(), node);
    } else if (ts.isVariableDeclaration(node) || ts.isPropertyAssignment(node)) {
      if (node.initializer && ts.isNumericLiteral(node.initializer))
        named(Number(node.initializer.text), node.name.getText(), node);
    } else if (ts.isStringLiteralLike(node) || ts.isTemplateLiteralToken(node)) {
      for (const rule of inText(node.text, rules)) say(node, rule);
    }
    ts.forEachChild(node, visit);
  };
  visit(file);
  return found;
}

/** Words that make a number a limit, before it and after it. */
const BEFORE =
  '(?:above|below|under|over|than|from|at least|at most|up to|classical|severe|limit(?: of)?) (?:the )?';
const BEHIND = ' (?:or|and) (?:more|less|above|below)';

const patterns = new Map<NumberRule, RegExp>();

/** The value of a rule with its unit, written as a limit. */
function limitOf(rule: NumberRule): RegExp {
  const known = patterns.get(rule);
  if (known) return known;
  const number = `${rule.value} ?${rule.unit.replace(/[.*+^${}()|[\]\\/]/g, '\\$&')}(?![\\w/])`;
  const pattern = new RegExp(`${BEFORE}${number}|(?<![\\d.,-])${number}${BEHIND}`, 'i');
  patterns.set(rule, pattern);
  return pattern;
}

/** Ids of the number rules whose value appears in a text, with its unit, as a limit. */
export function inText(text: string, rules: readonly NumberRule[]): string[] {
  if (!/\d/.test(text)) return [];
  const line = text.replace(/\s+/g, ' ');
  return rules.filter((rule) => limitOf(rule).test(line)).map(({ id }) => id);
}
