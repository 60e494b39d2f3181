import { describe, expect, it } from 'vitest';
import { type Condition, factsOf, judge, ruleNumbersOf } from '../../src/rules/condition.js';
import type { Facts } from '../../src/rules/facts.js';

const limit = (id: string): number => ({ eight: 8 })[id] ?? Number.NaN;
const verdict = (condition: Condition, facts: Facts = {}): string => judge(condition, facts, limit);
const size = (compare: 'above' | 'at_least' | 'below' | 'at_most', to: number | string = 8): Condition => ({
  fact: 'feeder.calibre',
  compare,
  to,
});
const is = (fact: string, to: string): Condition => ({ fact, compare: 'is', to });
const TRUE = is('patient.sex', 'female');
const FALSE = is('patient.sex', 'male');
const OPEN = is('patient.pregnant', 'yes');
const FACTS = { 'patient.sex': 'female' };

describe('comparisons', () => {
  it.each([
    ['above', [false, false, true]],
    ['at_least', [false, true, true]],
    ['below', [true, false, false]],
    ['at_most', [true, true, false]],
  ] as const)('%s 8: just below, at, just above', (compare, wanted) => {
    const found = [7.999999, 8, 8.000001].map(
      (calibre) => verdict(size(compare), { 'feeder.calibre': calibre }) === 'holds',
    );
    expect(found).toEqual(wanted);
    expect(verdict(size(compare, 'rule:eight'), { 'feeder.calibre': 8 })).toBe(wanted[1] ? 'holds' : 'fails');
  });
  it('words and lists', () => {
    expect(verdict(TRUE, FACTS)).toBe('holds');
    expect(verdict({ fact: 'patient.sex', compare: 'is_not', to: 'male' }, FACTS)).toBe('holds');
    const has: Condition = { fact: 'patient.history', compare: 'has', to: 'stroke' };
    expect(verdict(has, { 'patient.history': ['tia', 'stroke'] })).toBe('holds');
    expect(verdict(has, { 'patient.history': [] })).toBe('fails');
    expect(verdict(has)).toBe('unknown');
  });
  it('known is never unknown', () => {
    expect(verdict({ fact: 'patient.sex', compare: 'known', to: true }, FACTS)).toBe('holds');
    expect(verdict({ fact: 'patient.sex', compare: 'known', to: true })).toBe('fails');
    expect(verdict({ fact: 'patient.sex', compare: 'known', to: false })).toBe('holds');
  });
});

describe('three-valued logic (Kleene)', () => {
  const name = { holds: TRUE, fails: FALSE, unknown: OPEN };
  it.each([
    ['holds', 'holds', 'holds', 'holds'],
    ['holds', 'fails', 'fails', 'holds'],
    ['holds', 'unknown', 'unknown', 'holds'],
    ['fails', 'fails', 'fails', 'fails'],
    ['fails', 'unknown', 'fails', 'unknown'],
    ['unknown', 'unknown', 'unknown', 'unknown'],
  ] as const)('%s with %s: all %s, any %s', (a, b, all, any) => {
    for (const pair of [
      [name[a], name[b]],
      [name[b], name[a]],
    ]) {
      expect(verdict({ all: pair }, FACTS)).toBe(all);
      expect(verdict({ any: pair }, FACTS)).toBe(any);
    }
  });
  it('not', () => {
    expect([TRUE, FALSE, OPEN].map((part) => verdict({ not: part }, FACTS))).toEqual([
      'fails',
      'holds',
      'unknown',
    ]);
  });
});

it('names the facts and number rules it depends on', () => {
  const condition: Condition = { all: [size('above', 'rule:eight'), { not: TRUE }, { any: [TRUE, OPEN] }] };
  expect(factsOf(condition)).toEqual(['feeder.calibre', 'patient.sex', 'patient.pregnant']);
  expect(ruleNumbersOf(condition)).toEqual(['eight']);
});
