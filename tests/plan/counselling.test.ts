import { describe, expect, it } from 'vitest';
import type { Case } from '../../src/case/case.js';
import { counsellingSheet } from '../../src/plan/counselling.js';
import { rulesOf } from '../../src/rules/rule.js';
import { inputOf, ONE_FEEDER, RULES, row } from './make.js';
import { readingEase, schoolGrade, sentencesOf, syllablesOf, wordsOf } from './reading-ease.js';

const base = { history: [], hht: {}, spirometry: {} };
const sheet = (patientCase: Partial<Case> = {}, more = {}, extra = {}) =>
  counsellingSheet({ ...inputOf(row(more), patientCase), ...extra });
const textOf = (found: ReturnType<typeof sheet>): string =>
  found.sections.flatMap((entry) => entry.sentences).join(' ');

const FULL = () =>
  sheet(
    {
      patient: { ...base, sex: 'female', ageYears: 31, allergies: ['nickel'], pregnant: 'yes' },
      blood: { haemoglobinGDl: 19.8 },
    },
    { feeders: '9:20' },
    {
      shunt: { fraction: 0.31, method: 'content', assumed: [] },
      resection: { spare: [], steps: [], predicted_fev1_percent: 61, predicted_dlco_percent: 55 },
    },
  );

/** Everyone the sheet addresses, by person and by moment. */
const treated = {
  lesion: { side: 'left', lobe: 'lower', segments: [], treated: '2025-06-12' },
} as Partial<Case>;
const child = { patient: { ...base, sex: 'female', ageYears: 9 } } as Partial<Case>;
const teenager = {
  patient: { ...base, sex: 'female', ageYears: 14, allergies: ['nickel'] },
} as Partial<Case>;
const adult = { patient: { ...base, sex: 'male', ageYears: 46 } } as Partial<Case>;
const pregnant = { patient: { ...base, sex: 'female', ageYears: 31, pregnant: 'yes' } } as Partial<Case>;
const pregnantChild = { patient: { ...base, sex: 'female', ageYears: 15, pregnant: 'yes' } } as Partial<Case>;
const EVERYONE = (): [string, ReturnType<typeof sheet>][] => [
  ['full', FULL()],
  ['nothing known', sheet()],
  ...(
    [
      ['adult', adult],
      ['child', child],
      ['teenager', teenager],
      ['woman of 31', { patient: { ...base, sex: 'female', ageYears: 31 } }],
      ['pregnant', pregnant],
      ['pregnant child', pregnantChild],
    ] as [string, Partial<Case>][]
  ).flatMap(([name, who]): [string, ReturnType<typeof sheet>][] => [
    [`${name}, small feeder`, sheet(who, { feeders: '5:20' })],
    [`${name}, large feeder`, sheet(who, { feeders: '9:20', shunt: '0.31' })],
    [`${name}, diffuse`, sheet(who, { feeders: '5:20', kind: 'diffuse', mean_pa: '44' })],
    [`${name}, closed`, sheet(who, { feeders: 'closed', after: '0.03' })],
    [`${name}, open again`, sheet({ ...who, ...treated, ...ONE_FEEDER }, { feeders: '9:20' })],
    [`${name}, bleeding`, sheet({ ...who, bleeding: { now: 'yes' } }, { feeders: '9:20' })],
    [`${name}, treated, not seen`, sheet({ ...who, ...treated }, { feeders: '' })],
  ]),
];

describe('reading ease', () => {
  it('counts syllables', () => {
    for (const [word, count] of [
      ['lung', 1],
      ['oxygen', 3],
      ['closed', 1],
      ['pregnant', 2],
      ['vessel', 2],
      ['table', 2],
      ['treated', 2],
    ] as const) {
      expect(syllablesOf(word), word).toBe(count);
    }
  });
  it('formula: one word of one syllable scores 206.835 - 1.015 - 84.6', () => {
    expect(readingEase('Go.')).toBeCloseTo(121.22, 2);
    expect(readingEase('The cat sat on the mat.')).toBeCloseTo(116.145, 3);
  });
  it.each(EVERYONE())(
    '%s: no harder than the sheet before all later additions (91.6), and no sentence of 20 words',
    (_, found) => {
      expect(readingEase(textOf(found))).toBeGreaterThanOrEqual(91.6);
      expect(schoolGrade(textOf(found))).toBeLessThanOrEqual(6);
      expect(sentencesOf(textOf(found)).filter((sentence) => wordsOf(sentence).length >= 20)).toEqual([]);
    },
  );
});

describe('numbers', () => {
  it('are given as the team’s, to be confirmed', () => {
    const sentences = FULL().sections.flatMap((entry) => entry.sentences);
    for (const number of ['31.0 %', '61.0 %', '19.8 g/dL', '2026-04-02']) {
      const found = sentences.filter((sentence) => sentence.includes(number));
      expect(found, number).toHaveLength(1);
      expect(found[0]).toMatch(/[Yy]our team's .*\(to be confirmed\)/);
    }
  });
  it('that are not known give no sentence', () => {
    const plain = textOf(sheet({ patient: base, planned: { approach: 'auto' } }, { feeders: '' }));
    expect(plain).not.toMatch(/not stated|to be confirmed|undefined|[{}]/);
  });
});

describe('who gets which sentence', () => {
  const has = (wanted: RegExp, patient: Partial<Case['patient']>): boolean =>
    wanted.test(textOf(sheet({ patient: { ...base, ...patient } })));
  it.each([
    ['female', 31, true, true, false],
    ['female', 56, false, false, false],
    ['female', 55, true, true, false],
    ['female', 16, true, true, false],
    ['female', 15, true, false, true],
    ['female', 12, true, false, true],
    ['female', 11, false, false, false],
    ['male', 31, false, false, false],
    ['male', 15, false, false, false],
    [undefined, 31, true, true, false],
  ] as const)('%s of %i', (sex, ageYears, emergency, planning, later) => {
    expect(has(/If (you are|your child is) pregnant/, { sex, ageYears })).toBe(emergency);
    expect(has(/before you plan a baby/, { sex, ageYears })).toBe(planning);
    expect(has(/should be asked before a pregnancy/, { sex, ageYears })).toBe(later);
  });
  it('pregnant now: this pregnancy, and no planning of another', () => {
    expect(
      has(/You are pregnant: .*Tell each doctor and midwife/, {
        sex: 'female',
        ageYears: 31,
        pregnant: 'yes',
      }),
    ).toBe(true);
    expect(has(/If you are pregnant|plan a baby/, { sex: 'female', ageYears: 31, pregnant: 'yes' })).toBe(
      false,
    );
    expect(has(/Tell each doctor and midwife/, { sex: 'female', ageYears: 31, pregnant: 'no' })).toBe(false);
  });
  it.each([
    [15.9, true],
    [16, false],
    [undefined, false],
  ] as const)('age %s (limit: rule child-below, 16): to the parent %s', (ageYears, toParent) => {
    const found = sheet({ patient: { ...base, sex: 'male', ageYears } });
    expect(found.title).toMatch(toParent ? /^For parents: .* your child's lung$/ : /^About .* your lung$/);
    expect(/^Your child has a short cut/.test(textOf(found))).toBe(toParent);
    expect(/Your child will be asleep/.test(textOf(found))).toBe(toParent);
    expect(/about 1 in 4 treatments/.test(textOf(found))).toBe(toParent);
    expect(/About 1 in 8 people/.test(textOf(found))).toBe(!toParent);
  });
  it('the sheet for the parent of a child never addresses the patient', () => {
    const parents = EVERYONE().filter(([, { title }]) => title.startsWith('For parents'));
    expect(parents.length).toBe(21);
    for (const [name, found] of parents) {
      expect(textOf(found), name).not.toMatch(
        /\byou (have|had|are|breathe|feel|cough|speak)\b|\b[Yy]our (lung|leg|face|vessel|blood|card|drips|children)\b|\b[Yy]ours\b|\bmy drips\b/,
      );
    }
  });
  it('a closed lesion has neither the risks of an untreated one nor the two plans; the others have both', () => {
    const untreated = /more than 1 in 4|plan A|plan B|Plan A|Plan B|Yours is a wide one|can be taken out/;
    for (const [name, found] of EVERYONE()) {
      const said = `${found.sections.map(({ heading }) => heading).join(' ')} ${textOf(found)}`;
      expect(untreated.test(said), name).toBe(!name.endsWith('closed'));
      expect(/has been treated/.test(said), name).toBe(name.endsWith('closed'));
      expect(/open vessel to it. So it still needs care/.test(said), name).toBe(name.endsWith('open again'));
      expect(
        /you should not have chest pain/.test(said) || /child should not have chest pain/.test(said),
        name,
      ).toBe(!/closed|open again|not seen|bleeding/.test(name));
    }
  });
  it.each([
    // Deaths: CALGB 140503, Lancet Respir Med 2018, 1.1 % in 30 days after a lobectomy; 18 resections of PAVM without one
    [/of 18 people with a short cut, none died/, 0 / 18, 0, 0],
    [/about 1 in 100 died/, 0.011, 0.005, 0.015],
    // Bleeding: J Cardiothorac Surg 2023;18:213, 1900 mL in 1 of 24
    [/1 of 24 operations had a large bleed/, 1 / 24, 0.04, 0.05],
    // Air leak: J Thorac Dis 2022, prolonged in 36 of 191
    [
      /tube stays in the chest till it stops\. In one study this lasted for days in 1 in 5/,
      36 / 191,
      0.15,
      0.25,
    ],
    // Pain: Bayman & Brennan, J Pain 2014;15:887, from memory, 47 % at 6 months
    [/About half of people still had some 6 months/, 0.47, 0.4, 0.6],
    // Children: Faughnan, J Pediatr 2004;145:826, pain after 24 % of sessions
    [/children, sharp chest pain came after about 1 in 4/, 0.24, 0.2, 0.3],
  ])('%s is as published', (said, share, from, to) => {
    expect(share).toBeGreaterThanOrEqual(from);
    expect(share).toBeLessThanOrEqual(to);
    expect(said.test(textOf(sheet(adult)) + textOf(sheet(child)))).toBe(true);
  });
  it('a parent is told that the published figures of plan B are from adults', () => {
    const text = textOf(sheet(child, { feeders: '9:20' }));
    expect(text).toMatch(/can be taken out\. The numbers that come next are of adults\..*4 to 5 days/);
    expect(text).toMatch(/4 of 100 adults.*about 1 in 3 in adults/);
    expect(textOf(sheet(adult, { feeders: '9:20' }))).not.toMatch(/adults/);
  });
  it('treated and not seen since: is called neither open nor closed', () => {
    const text = textOf(sheet({ ...adult, ...treated }, { feeders: '' }));
    expect(text).toMatch(
      /^You were treated for a short cut .* Ask your team if it is closed\. What comes next is for the case that it is still open\./,
    );
    expect(text).not.toMatch(/You have a short cut|You had a short cut/);
  });
  it('nickel, large vessel, thick blood', () => {
    expect(has(/nickel/, { allergies: ['nickel'] })).toBe(true);
    expect(has(/nickel/, { allergies: [] })).toBe(false);
    expect(textOf(sheet({}, { feeders: '7.9:20' }))).not.toMatch(/large one/);
    expect(textOf(sheet({}, { feeders: '8:20' }))).toMatch(/large one/);
    expect(
      textOf(sheet({ patient: { ...base, ageYears: 46, sex: 'male' }, blood: { haemoglobinGDl: 16.5 } })),
    ).not.toMatch(/blood count is high/);
  });
  it('every sentence reaches somebody, in both voices', () => {
    const said = EVERYONE().flatMap(([, found]) => found.sections.flatMap(({ sentences }) => sentences));
    const escaped = (text: string): string =>
      text.replace(/[.*+?^$()|[\]\\]/g, '\\$&').replace(/\{[^}]*\}/g, '.+');
    for (const { id, text, parent } of rulesOf(RULES, 'sentence')) {
      const reaches = (wanted: string): boolean =>
        said.some((sentence) => new RegExp(`^${escaped(wanted)}$`).test(sentence));
      expect(id === 'talk-life-blood' || reaches(text), id).toBe(true);
      if (parent !== undefined && !/^talk-(b-function|life-blood)$/.test(id))
        expect(reaches(parent), `${id}, parent`).toBe(true);
    }
    expect(textOf(FULL())).toMatch(/blood count is high to make up/);
  });
  it('sections in order; both plans are included before treatment', () => {
    const headings = (found: ReturnType<typeof sheet>): string[] =>
      found.sections.map((entry) => entry.heading);
    expect(headings(FULL())).toEqual([
      'What it is',
      'Why treat it',
      'Plan A: closing it from inside',
      'Chest pain: when to expect it',
      'Plan B: an operation',
      'When to call for help',
      'In this pregnancy',
      'For life',
      'What comes later',
      'Your family',
      'Your questions',
    ]);
    const closed = sheet({}, { feeders: 'closed', after: '0.03' });
    expect(headings(closed)).toEqual([
      'What it is',
      'Why checks go on',
      'Chest pain: when to expect it',
      'When to call for help',
      'For life',
      'If you may become pregnant',
      'What comes later',
      'Your family',
      'Your questions',
    ]);
    expect(textOf(closed)).toMatch(
      /after the treatment: 3\.0 % \(to be confirmed\)[\s\S]*sees no open vessel/,
    );
    for (const source of FULL().sources) expect(source.length).toBeGreaterThan(3);
  });
});
