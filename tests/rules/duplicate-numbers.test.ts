/**
 * No clinical threshold appears twice: a number of `src/rules` is repeated neither in code, nor in constants, nor in another
 * rule.
 */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { CONSTANTS, type Constant } from '../../src/reference/constants.js';
import type { Condition } from '../../src/rules/condition.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { conditionsOf, textsOf } from '../../src/rules/rules-of-list.js';
import { OWN_DEFINITION } from '../../src/rules/read-rule.js';
import { type NumberRule, ruleNumber } from '../../src/rules/rule.js';
import { inText, QUANTITY, type Repeated, repeatedNumbers } from './numbers-in-code.js';

const rules = loadRules();
/** Limits of printing and of registration are in mm and fractions of their own; their code has its own tests. */
const OTHER_SUBJECTS =
  /^(print|material-extrusion|vat-photopolymerisation|material-jetting|powder-bed|segmentation|proof|register|overlay|same)-/;
const clinical = rules.list.filter(
  (rule): rule is NumberRule =>
    rule.kind === 'number' && rule.source !== OWN_DEFINITION && !OTHER_SUBJECTS.test(rule.id),
);

const FOLDERS = [
  'batch',
  'case',
  'cli',
  'compare',
  'devices',
  'grade',
  'page',
  'physiology',
  'plan',
  'report',
  'resection',
  'result',
];
const files = FOLDERS.flatMap((folder) =>
  readdirSync(join('src', folder), { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.ts'))
    .map((name) => `${folder}/${name}`),
)
  // the draft of a case consists of examples
  .filter((name) => name !== 'case/draft-text.ts')
  .sort();

/** Other quantities that happen to have the number of a rule: where they are, the number, and what it is. */
const COINCIDENCES: readonly [where: string, number: string, what: string][] = [
  ['plan/haemoglobin.ts', '12 years', 'an age class of the WHO'],
  ['assumedPressureSdMmHg', '20 mmHg', 'weather and altitude, as an error'],
  ['saturationDisagreement', '5 %', 'plausibility of a sample'],
  ['adultFromYears', '18 years', 'age from which the formulas of adults hold'],
  ['assumedPaco2MmHg', '40 mmHg', 'a normal value'],
  ['mixedVenousPo2MmHg', '40 mmHg', 'a normal value'],
  ['normalWedgePressureMmHg', '8 mmHg', 'a normal value'],
  ['window-detachable-coil', '30 %', 'a habit, told beside the window'],
  ['window-pushable-coil', '30 %', 'a habit, told beside the window'],
];

const keyOf = (where: string, id: string): string => {
  const { value, unit } = ruleNumber(rules, id);
  return `${where} ${value} ${unit}`;
};
const isCoincidence = (where: string, id: string): boolean =>
  COINCIDENCES.some(([place, number]) => `${place} ${number}` === keyOf(where, id));

const inCode = files.flatMap((where) =>
  repeatedNumbers(readFileSync(join('src', where), 'utf8'), clinical).map((one) => ({ where, ...one })),
);
const inConstants = Object.entries<Constant>(CONSTANTS).flatMap(([where, { value, unit }]) =>
  clinical.filter((rule) => sameQuantity(rule, where, value, unit)).map((rule) => ({ where, rule: rule.id })),
);
const inTexts = rules.list
  .filter((rule) => rule.kind !== 'number' && !OTHER_SUBJECTS.test(rule.id))
  .flatMap((rule) =>
    textsOf(rule).flatMap((text) => inText(text, clinical).map((id) => ({ where: rule.id, rule: id }))),
  );

describe('a clinical threshold is in the rules only', () => {
  it('no code compares with the number of a rule, names it or writes it into a text', () => {
    expect(inCode.filter(({ where, rule }) => !isCoincidence(where, rule))).toEqual([]);
  });

  it('no constant has the value and the unit of a rule', () => {
    expect(inConstants.filter(({ where, rule }) => !isCoincidence(where, rule))).toEqual([]);
  });

  it('conditions name their limits: none contains a number other than 0 and 1', () => {
    const found = rules.list.flatMap((rule) =>
      conditionsOf(rule)
        .flatMap(numbersIn)
        .filter((value) => value !== 0 && value !== 1)
        .map((value) => `${rule.id} ${value}`),
    );
    expect(found).toEqual([]);
  });

  it('texts of rules take limits from the rules', () => {
    expect(inTexts.filter(({ where, rule }) => !isCoincidence(where, rule))).toEqual([]);
  });
});

describe('the search finds planted numbers', () => {
  const planted: [string, string][] = [
    ['a comparison', 'if (circulation.meanPaMmHg >= 35) stop();'],
    ['a reversed comparison', 'const isSevere = 35 <= meanPaPressureMmHg;'],
    ['a constant', 'const SEVERE_PRESSURE = 35;'],
    ['a property', 'const limits = { severeMmHg: 35 };'],
    ['a text', "say('stop from 35 mmHg');"],
    ['a text with the limit first', "say('35 mmHg or more');"],
    ['a template', 'say(`from 35 mmHg $' + '{name} stops`);'],
  ];
  const idsOf = (found: readonly Repeated[]): string[] => found.map(({ rule }) => rule);
  it.each(planted)('%s', (_, code) => {
    expect(idsOf(repeatedNumbers(code, clinical))).toContain('severe-pulmonary-hypertension');
  });
  it('a percentage written as a fraction', () => {
    expect(idsOf(repeatedNumbers('const high = shunt.fraction > 0.05;', clinical))).toContain('normal-shunt');
  });
  it('and nothing else', () => {
    for (const code of [
      'if (width > 35) wrap();',
      "say('35 cases');",
      "say('135 mmHg');",
      'const rows = 35;',
    ])
      expect(repeatedNumbers(code, clinical)).toEqual([]);
  });
});

function numbersIn(condition: Condition): number[] {
  if ('all' in condition) return condition.all.flatMap(numbersIn);
  if ('any' in condition) return condition.any.flatMap(numbersIn);
  if ('not' in condition) return numbersIn(condition.not);
  return typeof condition.to === 'number' ? [condition.to] : [];
}

/** Equal in value and unit; a fraction counts as its percentage where its name refers to what the rules give in percent. */
function sameQuantity(rule: NumberRule, name: string, value: number, unit: string): boolean {
  if (rule.unit === '%' && unit === 'fraction')
    return QUANTITY['%'].test(name) && Math.abs(rule.value - 100 * value) < 1e-9;
  return rule.unit === unit && rule.value === value;
}
