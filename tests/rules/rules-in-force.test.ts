import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { COMMON_PRACTICE, SOURCES } from '../../src/reference/sources.js';
import { ruleNumbersOf } from '../../src/rules/condition.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { conditionsOf, textsOf } from '../../src/rules/rules-of-list.js';
import { OWN_DEFINITION } from '../../src/rules/read-rule.js';
import { numberOf } from '../../src/rules/rule.js';
import { sourceText } from '../../src/rules/source-text.js';
import { fillText, placesOf } from '../../src/rules/template.js';

const rules = loadRules();

describe('built-in rules', () => {
  it.each(rules.list.map((rule) => [rule.id, rule] as const))(
    '%s has a known source and a text',
    (_, rule) => {
      const known =
        Object.hasOwn(SOURCES, rule.source) || [COMMON_PRACTICE, OWN_DEFINITION].includes(rule.source);
      expect(known).toBe(true);
      expect(sourceText(rule.source).length).toBeGreaterThan(5);
      for (const text of textsOf(rule)) expect(text.length).toBeGreaterThan(1);
      expect(rule.origin).toBe('built-in');
    },
  );

  it('every number rule is used by code, a condition or a text', () => {
    const code = readdirSync('src', { recursive: true, encoding: 'utf8' })
      .filter((name) => name.endsWith('.ts'))
      .map((name) => readFileSync(join('src', name), 'utf8'))
      .join('\n');
    const named = new Set([
      ...rules.list.flatMap(conditionsOf).flatMap(ruleNumbersOf),
      ...rules.list
        .flatMap(textsOf)
        .flatMap(placesOf)
        .map((place) => place.replace(/^rule:/, '')),
    ]);
    // Ids of print rules are composed of the process and the feature; tests/print covers those.
    const composed =
      /^(print|material-extrusion|vat-photopolymerisation|material-jetting|powder-bed|segmentation)-/;
    const unused = rules.list
      .filter((rule) => rule.kind === 'number' && !named.has(rule.id) && !code.includes(`'${rule.id}'`))
      .map((rule) => rule.id)
      .filter((id) => !composed.test(id));
    expect(unused).toEqual([]);
  });

  it('no text names a maker or a number with a decimal comma', () => {
    for (const text of rules.list.flatMap(textsOf)) expect(text).not.toMatch(/[®™]|\d,\d/);
  });
});

describe('texts', () => {
  const fill = (text: string, facts = {}): string => fillText(text, facts, rules.byId);
  it('numbers with their unit and digits', () => {
    expect(fill('{feeder.calibre}', { 'feeder.calibre': 6.2 })).toBe('6.20 mm');
    expect(fill('{shunt.percent}', { 'shunt.percent': 28.449 })).toBe('28.4 %');
    expect(fill('{rule:clamp-room}')).toBe('15 mm');
  });
  it('lists, words and what is not known', () => {
    expect(fill('{patient.history}', { 'patient.history': ['stroke', 'tia', 'brain-abscess'] })).toBe(
      'stroke, TIA, brain abscess',
    );
    expect(fill('{devices.none_names}', { 'devices.none_names': ['A-1'] })).toBe('A-1');
    expect(fill('{patient.history}', { 'patient.history': [] })).toBe('none');
    expect(fill('{lesion.side}', { 'lesion.side': 'left' })).toBe('left');
    expect(fill('{shunt.percent}')).toBe('not stated');
  });
  it('a value that looks like a placeholder is not filled again', () => {
    expect(fill('{feeder.name}', { 'feeder.name': '{shunt.percent}', 'shunt.percent': 3 })).toBe(
      '{shunt.percent}',
    );
  });
  it('a missing number rule is a defect of the program', () => {
    expect(() => fill('{rule:none}')).toThrow(RangeError);
    expect(() => numberOf(rules, 'step-isolation')).toThrow(RangeError);
  });
  it('sources say how they were read', () => {
    expect(sourceText('bts-2017')).toMatch(/^BTS .* \(excerpt\)$/);
    expect(sourceText('hht-2020')).toMatch(/\(from memory\)$/);
    expect(sourceText(COMMON_PRACTICE)).toBe(COMMON_PRACTICE);
    expect(sourceText('local: protocol 7')).toBe('local: protocol 7');
  });
});
