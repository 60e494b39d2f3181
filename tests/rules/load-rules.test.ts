import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, describe, expect, it } from 'vitest';
import { InputFailure } from '../../src/foundation/failure.js';
import type { MeasureDefinitions } from '../../src/geometry/measure.js';
import { loadRules, rulesFromText } from '../../src/rules/load-rules.js';
import { numberOf } from '../../src/rules/rule.js';

const folder = mkdtempSync(join(tmpdir(), 'rules-'));
afterAll(() => rmSync(folder, { recursive: true }));

let count = 0;
function overlay(files: Record<string, string>): string {
  const dir = join(folder, String(count++));
  mkdirSync(dir);
  for (const [name, text] of Object.entries(files)) writeFileSync(join(dir, name), text);
  return dir;
}

function problemsOf(run: () => unknown): readonly string[] {
  try {
    run();
  } catch (error) {
    if (error instanceof InputFailure) {
      expect(error.exitCode).toBe(2);
      return error.problems;
    }
    throw error;
  }
  return [];
}

const HEAD = 'format: pavm-rules/1\nrules:\n';
const rule = (fields: Record<string, string>): string =>
  Object.entries(fields)
    .map(([key, value], index) => `${index === 0 ? '  - ' : '    '}${key}: ${value}\n`)
    .join('');
const STEP = {
  id: 'profile-step',
  kind: 'number',
  value: '0.25',
  unit: 'mm',
  text: 'Ours',
  source: '"local: imaging group"',
};

describe('built-in rules', () => {
  it('give the definitions for measuring', () => {
    const measure: MeasureDefinitions = loadRules().measure;
    expect(measure).toMatchObject({
      profileStepMm: 0.5,
      neckCalibreRatio: 1.25,
      landingMinimumMm: 5,
      landingMinimumCalibres: 1,
      landingVariation: 0.2,
    });
  });

  it('have one hash, the same every time', () => {
    expect(loadRules().hash).toMatch(/^[0-9a-f]{64}$/);
    expect(loadRules().hash).toBe(loadRules().hash);
  });
});

describe('a hospital overlay', () => {
  it('replaces a rule by id, names its file, and changes the hash', () => {
    const rules = loadRules(overlay({ 'ours.yaml': HEAD + rule(STEP) }));
    expect(rules.measure.profileStepMm).toBe(0.25);
    expect(rules.byId.get('profile-step')?.origin).toBe('ours.yaml');
    expect(rules.byId.get('landing-variation')?.origin).toBe('built-in');
    expect(rules.hash).not.toBe(loadRules().hash);
    expect(rules.overlay).toEqual(['ours.yaml']);
  });

  it('may set a limit equal to the one it is paired with', () => {
    const text = HEAD + rule({ ...STEP, id: 'severe-pulmonary-hypertension', value: '20', unit: 'mmHg' });
    expect(numberOf(loadRules(overlay({ 'ours.yaml': text })), 'severe-pulmonary-hypertension')).toBe(20);
  });

  it('adds a rule', () => {
    const rules = loadRules(overlay({ 'ours.yaml': HEAD + rule({ ...STEP, id: 'our-number', value: '3' }) }));
    expect(numberOf(rules, 'our-number')).toBe(3);
    expect(rules.measure.profileStepMm).toBe(0.5);
  });

  it('with the same content has the same hash under another file name', () => {
    const a = loadRules(overlay({ 'a.yaml': HEAD + rule(STEP) }));
    const b = loadRules(overlay({ 'b.yaml': HEAD + rule(STEP) }));
    expect(a.hash).toBe(b.hash);
  });
});

describe('faults of a rule file', () => {
  const cases: [string, string, RegExp][] = [
    [
      'a misspelt key',
      rule({ ...STEP, valeu: '1' }),
      /^ours\.yaml:9:5 rule profile-step has no key "valeu"\. Did you mean "value"\?$/,
    ],
    [
      'an unknown source',
      rule({ ...STEP, source: 'a book' }),
      /^ours\.yaml:8:13 rule profile-step, source: "a book" is not a known source/,
    ],
    [
      'a wrong unit',
      rule({ ...STEP, unit: 'cm' }),
      /^ours\.yaml:6:11 rule profile-step: its unit is mm, not cm\.$/,
    ],
    [
      'a wrong kind',
      rule({ id: 'profile-step', kind: 'sentence', section: 'A', text: 'B', source: '"local: c"' }),
      /^ours\.yaml:3:9 .* kind number, not sentence/,
    ],
    [
      'an unknown kind',
      rule({ ...STEP, kind: 'nummer' }),
      /^ours\.yaml:4:11 rule kind: one of .* Did you mean "number"\?$/,
    ],
    [
      'a decimal comma',
      rule({ ...STEP, value: '0,25' }),
      /^ours\.yaml:5:12 .*a plain number is needed\. Write the decimal mark as a point\.$/,
    ],
    ['not a number', rule({ ...STEP, value: '.nan' }), /^ours\.yaml:5:12 .*a plain number is needed\.$/],
    [
      'a severe limit below the ordinary one',
      rule({ ...STEP, id: 'severe-pulmonary-hypertension', value: '19.9', unit: 'mmHg' }),
      /^ours\.yaml: rule severe-pulmonary-hypertension: 19\.9 mmHg lies below the 20 mmHg of rule pulmonary-hypertension\. Change one of them\.$/,
    ],
    [
      'a limit above the severe one',
      rule({ ...STEP, id: 'pulmonary-hypertension', value: '35.1', unit: 'mmHg' }),
      /^ours\.yaml: rule pulmonary-hypertension: 35\.1 mmHg lies above the 35 mmHg of rule severe-pulmonary-hypertension\./,
    ],
    ['zero', rule({ ...STEP, value: '0' }), /a number above 0 is needed/],
    ['a step that is far too small', rule({ ...STEP, value: '0.0001' }), /0\.05 to 1 mm/],
    ['a duplicate id', rule(STEP) + rule(STEP), /^ours\.yaml:9:9 rule profile-step: this id appears twice/],
    [
      'a missing key',
      rule({ id: 'profile-step', kind: 'number', value: '1', text: 'x', source: '"local: y"' }),
      /^ours\.yaml:3:5 rule profile-step: the key "unit" is missing\.$/,
    ],
    ['an empty text', rule({ ...STEP, text: '""' }), /^ours\.yaml:7:11 .*a text is needed/],
    ['an alias', rule({ ...STEP, text: '&a one', source: '*a' }), /aliases are not read/],
    ['broken YAML', '  - [', /^ours\.yaml:\d+:\d+ /],
    ['a duplicate key', `${rule(STEP)}    unit: mm\n`, /^ours\.yaml:9:5 /],
    [
      'an unknown fact',
      rule({
        id: 'x',
        kind: 'decision',
        recommend: 'discuss',
        when: '{ fact: patient.agee, below: 3 }',
        text: 't',
        source: '"local: y"',
      }),
      /"patient\.agee" is not a known fact\. Did you mean "patient\.age"\?$/,
    ],
    [
      'an unknown fact in a text',
      rule({ ...STEP, text: '"{patient.agee}"' }),
      /no known fact\. Did you mean "patient\.age"\?$/,
    ],
    [
      'a word instead of a number',
      rule({
        id: 'x',
        kind: 'decision',
        recommend: 'discuss',
        when: '{ fact: patient.age, below: old }',
        text: 't',
        source: '"local: y"',
      }),
      /"below" of patient\.age needs a number or rule:ID/,
    ],
    [
      'two comparisons',
      rule({
        id: 'x',
        kind: 'decision',
        recommend: 'discuss',
        when: '{ fact: patient.age, below: 3, above: 1 }',
        text: 't',
        source: '"local: y"',
      }),
      /exactly one of is,/,
    ],
    [
      'an empty list',
      rule({
        id: 'x',
        kind: 'decision',
        recommend: 'discuss',
        when: '{ all: [] }',
        text: 't',
        source: '"local: y"',
      }),
      /"all" contains a list/,
    ],
    [
      'a number rule that does not exist',
      rule({
        id: 'x',
        kind: 'decision',
        recommend: 'discuss',
        when: '{ fact: patient.age, below: "rule:nowhere" }',
        text: 't',
        source: '"local: y"',
      }),
      /names the number rule "nowhere"/,
    ],
    [
      'a window below the calibre',
      rule({
        id: 'x',
        kind: 'window',
        for: 'vascular-plug',
        low: '0.9',
        high: '1.2',
        text: 't',
        source: '"local: y"',
      }),
      /multiples of the calibre/,
    ],
    [
      'deep nesting',
      rule({
        id: 'x',
        kind: 'decision',
        recommend: 'discuss',
        when: `${'{ not: '.repeat(20)}{ fact: patient.age, below: 3 }${' }'.repeat(20)}`,
        text: 't',
        source: '"local: y"',
      }),
      /may nest 12 deep/,
    ],
  ];
  it.each(cases)('%s', (_, text, wanted) => {
    const problems = problemsOf(() => loadRules(overlay({ 'ours.yaml': HEAD + text })));
    expect(problems).toHaveLength(1);
    expect(problems[0]).toMatch(wanted);
  });

  it('hostile files end in a message, not in a crash', () => {
    const bomb = `a: &a [x, x, x, x, x, x, x, x]\n${'bcdefgh'.replace(/./g, (c) => `${c}: &${c} [${Array(8).fill(`*${String.fromCharCode(c.charCodeAt(0) - 1)}`)}]\n`)}`;
    for (const text of [
      '['.repeat(200_000),
      bomb,
      `rules:\n${'- '.repeat(5000)}a`,
      '\u0000',
      'a: !!js/function x',
    ]) {
      const problems = problemsOf(() => loadRules(overlay({ 'a.yaml': `${HEAD.split('\n')[0]}\n${text}` })));
      expect(problems.length).toBeGreaterThan(0);
      expect(problems[0]).toMatch(/^a\.yaml:\d+:\d+ /);
    }
    const big = '#'.repeat(3 * 1024 * 1024);
    expect(problemsOf(() => loadRules(overlay({ 'a.yaml': big })))[0]).toMatch(
      /^a\.yaml:1:1 the file has 3145728 bytes/,
    );
  });

  it('no random change of a rule file causes a crash (seed 5)', () => {
    const good =
      HEAD +
      rule(STEP) +
      rule({
        id: 'x',
        kind: 'decision',
        recommend: 'discuss',
        when: '{ all: [ { fact: patient.age, below: 3 }, { not: { fact: patient.sex, is: male } } ] }',
        text: '"{patient.age}"',
        source: '"local: y"',
      });
    const change = fc.record({ at: fc.nat(good.length), cut: fc.nat(6), put: fc.string({ maxLength: 4 }) });
    fc.assert(
      fc.property(fc.array(change, { maxLength: 3 }), (changes) => {
        const text = changes.reduce((t, { at, cut, put }) => t.slice(0, at) + put + t.slice(at + cut), good);
        try {
          rulesFromText([], [{ name: 'a.yaml', text }]);
        } catch (error) {
          // Without the built-in files the numbers for measuring are missing: that is the one RangeError allowed.
          if (!(error instanceof InputFailure) && !/no number rule/.test(String(error))) throw error;
        }
      }),
      { seed: 5, numRuns: 400 },
    );
  });

  it('are all reported in one run', () => {
    const text = HEAD + rule({ ...STEP, source: 'x' }) + rule({ ...STEP, id: 'b', value: 'y' });
    expect(problemsOf(() => loadRules(overlay({ 'ours.yaml': text })))).toHaveLength(2);
  });

  it('a folder that does not exist, an empty folder, a file without the format', () => {
    expect(problemsOf(() => loadRules(join(folder, 'none')))[0]).toMatch(
      /^--rules: the folder "none" cannot be read/,
    );
    expect(problemsOf(() => loadRules(overlay({})))[0]).toMatch(/contains no rule file/);
    expect(problemsOf(() => loadRules(overlay({ 'a.yaml': 'rules: []\n' })))[0]).toMatch(
      /^a\.yaml:1:1 this is not a pavm rule file/,
    );
    expect(problemsOf(() => loadRules(overlay({ 'a.yaml': '- { format: pavm-rules/1 }\n' })))[0]).toMatch(
      /^a\.yaml:1:1 a rule file is a map/,
    );
  });

  it('a source "local:" is for overlays only', () => {
    const file = { name: 'a.yaml', text: HEAD + rule(STEP) };
    expect(problemsOf(() => rulesFromText([file], []))[0]).toMatch(/is not a known source/);
  });
});
