import { describe, expect, it } from 'vitest';
import type { Case } from '../../src/case/case.js';
import { counsellingSheet } from '../../src/plan/counselling.js';
import { rulesOf } from '../../src/rules/rule.js';
import { inputOf, RULES, row } from './make.js';
import { readingEase, schoolGrade, sentencesOf, syllablesOf, wordsOf } from './reading-ease.js';

const base = { history: [], hht: {}, spirometry: {} };
const sheet = (theCase: Partial<Case> = {}, more = {}, extra = {}) =>
  counsellingSheet({ ...inputOf(row(more), theCase), ...extra });
const textOf = (found: ReturnType<typeof sheet>): string => found.sections.flatMap((entry) => entry.sentences).join(' ');

const FULL = () =>
  sheet(
    { patient: { ...base, sex: 'female', ageYears: 31, allergies: ['nickel'], pregnant: 'yes' }, blood: { haemoglobinGDl: 19.8 } },
    { feeders: '9:20' },
    {
      shunt: { fraction: 0.31, method: 'content', assumed: [] },
      resection: { spare: [], steps: [], predicted_fev1_percent: 61, predicted_dlco_percent: 55 },
    },
  );

describe('reading ease', () => {
  it('counts syllables', () => {
    for (const [word, count] of [['lung', 1], ['oxygen', 3], ['closed', 1], ['pregnant', 2], ['vessel', 2], ['table', 2], ['treated', 2]] as const) {
      expect(syllablesOf(word), word).toBe(count);
    }
  });
  it('formula: one word of one syllable scores 206.835 - 1.015 - 84.6', () => {
    expect(readingEase('Go.')).toBeCloseTo(121.22, 2);
    expect(readingEase('The cat sat on the mat.')).toBeCloseTo(116.145, 3);
  });
  it('the sheet suits a reader of 11 to 12 years: ease of 80 or more, school grade of 6 or less', () => {
    for (const found of [FULL(), sheet()]) {
      expect(readingEase(textOf(found))).toBeGreaterThanOrEqual(80);
      expect(schoolGrade(textOf(found))).toBeLessThanOrEqual(6);
    }
  });
  it('every sentence has under 20 words', () => {
    const long = sentencesOf(textOf(FULL())).filter((sentence) => wordsOf(sentence).length >= 20);
    expect(long).toEqual([]);
  });
});

describe('numbers', () => {
  it("stand as the team's, to be confirmed", () => {
    const sentences = FULL().sections.flatMap((entry) => entry.sentences);
    for (const number of ['31.0 %', '61.0 %', '19.8 g/dL', '2026-04-02']) {
      const found = sentences.filter((sentence) => sentence.includes(number));
      expect(found, number).toHaveLength(1);
      expect(found[0]).toMatch(/[Yy]our team's .*\(to be confirmed\)/);
    }
  });
  it('that are not known make no sentence', () => {
    const plain = textOf(sheet({ patient: base, planned: { approach: 'auto' } }, { feeders: '' }));
    expect(plain).not.toMatch(/not stated|to be confirmed|undefined|[{}]/);
  });
});

describe('who gets which sentence', () => {
  const has = (wanted: RegExp, patient: Partial<Case['patient']>): boolean => wanted.test(textOf(sheet({ patient: { ...base, ...patient } })));
  it.each([
    ['female', 31, true, true],
    ['female', 56, false, false],
    ['female', 55, true, true],
    ['female', 11, false, false],
    ['female', 12, true, true],
    ['male', 31, false, false],
    [undefined, 31, true, true],
  ] as const)('%s of %i', (sex, ageYears, emergency, planning) => {
    expect(has(/If you are pregnant/, { sex, ageYears })).toBe(emergency);
    expect(has(/before you plan a baby/, { sex, ageYears })).toBe(planning);
  });
  it('nickel, large vessel, thick blood', () => {
    expect(has(/nickel/, { allergies: ['nickel'] })).toBe(true);
    expect(has(/nickel/, { allergies: [] })).toBe(false);
    expect(textOf(sheet({}, { feeders: '7.9:20' }))).not.toMatch(/large one/);
    expect(textOf(sheet({}, { feeders: '8:20' }))).toMatch(/large one/);
    expect(textOf(sheet({ patient: { ...base, ageYears: 46, sex: 'male' }, blood: { haemoglobinGDl: 16.5 } }))).not.toMatch(/blood count is high/);
  });
  it('every sentence reaches somebody, and both plans are there', () => {
    const full = FULL();
    expect(full.sections.map((entry) => entry.heading)).toEqual([
      'What it is',
      'Why treat it',
      'Plan A: closing it from inside',
      'Plan B: an operation',
      'When to call for help',
      'For the rest of your life',
      'If you may become pregnant',
      'What comes later',
      'Your family',
      'Your questions',
    ]);
    const closed = sheet({}, { feeders: 'closed', after: '0.03' });
    const said = new Set([full, closed].flatMap(({ sections }) => sections.flatMap((entry) => entry.sentences)));
    expect(said.size).toBe(rulesOf(RULES, 'sentence').length);
    expect(textOf(closed)).toMatch(/after your treatment: 3\.0 % \(to be confirmed\)[\s\S]*sees no open vessel/);
    expect(textOf(full)).not.toMatch(/no open vessel/);
    for (const source of full.sources) expect(source.length).toBeGreaterThan(3);
  });
});
