import { describe, expect, it } from 'vitest';
import type { Case } from '../../src/case/case.js';
import { buildChecklist } from '../../src/plan/checklist.js';
import { counsellingSheet } from '../../src/plan/counselling.js';
import { followUp } from '../../src/plan/follow-up.js';
import { planReadiness } from '../../src/plan/readiness.js';
import { triggers } from '../../src/plan/triggers.js';
import { urgentPlan } from '../../src/plan/urgent.js';
import type { Condition } from '../../src/rules/condition.js';
import type { Rule, Rules } from '../../src/rules/rule.js';
import { inputOf, RULES, row } from './make.js';

// The handling of rules is tested with made-up rules: these and the built-in numbers are in force.

const HOLDS: Condition = { all: [] };
const FAILS: Condition = { any: [] };
const UNKNOWN: Condition = { fact: 'patient.weight', compare: 'above', to: 0 };
/** True for the adult of these tests, by a number of the rules. */
const GROWN: Condition = { fact: 'patient.age', compare: 'at_least', to: 'rule:child-below' };

type Kind<K extends Rule['kind']> = Extract<Rule, { kind: K }>;
const base = (id: string) => ({ id, text: `Text of ${id}.`, source: `source of ${id}`, origin: 'built-in' });
const inForce = (...rules: Rule[]): Rules => ({
  ...RULES,
  list: [...RULES.list.filter(({ kind }) => kind === 'number' || kind === 'window'), ...rules],
});
const inputWith = (rules: Rules, patientCase: Partial<Case> = {}) => ({
  ...inputOf(row(), patientCase),
  rules,
});

describe('decisions', () => {
  const decision = (id: string, more: Partial<Kind<'decision'>> = {}): Rule => ({
    ...base(id),
    kind: 'decision',
    recommend: 'discuss',
    when: HOLDS,
    elective: false,
    beside: false,
    ...more,
  });
  const reason = (id: string) => `Text of ${id}. (source of ${id})`;
  const decide = (rules: Rule[], patientCase: Partial<Case> = {}) => {
    const { readiness, findings } = planReadiness(inputWith(inForce(...rules), patientCase));
    return { ...readiness, findings: findings.filter(({ id }) => id !== 'follow-up-without-date') };
  };

  it('the first that applies decides; of the others, those against closing and those that add a remark are named', () => {
    const { recommended, decided_by, because, findings } = decide([
      decision('no', { when: FAILS }),
      decision('open', { when: UNKNOWN }),
      decision('aside', { beside: true, recommend: 'embolise' }),
      decision('first', { recommend: 'resect' }),
      decision('also-close', { recommend: 'embolise' }),
      decision('also-not'),
      decision('bleeding-later'),
      decision('bleeding-aside', { beside: true }),
    ]);
    expect([recommended, decided_by, findings]).toEqual(['resect', 'first', []]);
    expect(because).toEqual(['first', 'aside', 'also-not', 'bleeding-aside'].map(reason));
  });

  it('while it bleeds, nothing that can wait is asked, and an approach in the case does not decide', () => {
    const bleeding: Case['bleeding'] = { now: 'yes' };
    const rules = [decision('later', { elective: true }), decision('now', { recommend: 'resect' })];
    expect(decide(rules)).toMatchObject({ decided_by: 'later', because: [reason('later'), reason('now')] });
    const bleeds = decide(rules, { bleeding });
    expect(bleeds).toMatchObject({ decided_by: 'now', recommended: 'resect', because: [reason('now')] });
    expect(bleeds.findings).toEqual([
      {
        id: 'bleeding',
        level: 'stop',
        where: 'bleeding',
        text: `${reason('now')} This decides before everything else.`,
      },
    ]);
    expect(decide(rules, { bleeding, planned: { approach: 'embolise' } }).because).toEqual([
      reason('now'),
      'The case asks for planned.approach: embolise; a bleed decides first.',
    ]);
  });

  it('none: to discuss, without a finding', () => {
    const { because, findings } = decide([decision('aside', { beside: true })]);
    expect(because).toEqual(['No recommendation rule applies to this case.', reason('aside')]);
    expect(findings).toEqual([]);
  });

  it('an approach in the case that agrees is not a finding', () => {
    const planned: Case['planned'] = { approach: 'resect' };
    const same = decide([decision('x', { recommend: 'resect' })], { planned });
    expect([same.decided_by, same.findings]).toEqual(['approach-in-case', []]);
    expect(decide([decision('x')], { planned }).findings.map(({ id }) => id)).toEqual([
      'approach-against-rules',
    ]);
  });
});

describe('what a plan needs', () => {
  const need = (id: string, more: Partial<Kind<'need'>> = {}): Rule => ({
    ...base(id),
    kind: 'need',
    plan: 'b',
    blocks: false,
    ...more,
  });
  const planB = (...rules: Rule[]) => planReadiness(inputWith(inForce(...rules))).readiness.plan_b;

  it.each<[string, Partial<Kind<'need'>>, boolean, string[], string[]]>([
    ['at hand', { met: HOLDS }, true, [], []],
    ['missing', { met: FAILS }, false, ['Text of x.'], []],
    ['missing, with its own text', { met: FAILS, missing: 'no x' }, false, ['no x'], []],
    ['to be confirmed', { met: UNKNOWN }, true, [], ['Text of x.']],
    ['to be confirmed, blocking', { met: UNKNOWN, blocks: true }, false, [], ['Text of x.']],
    ['to be confirmed on the day', {}, true, [], ['Text of x.']],
    ['to be confirmed on the day, blocking', { blocks: true }, false, [], ['Text of x.']],
    ['not needed', { met: FAILS, when: FAILS }, true, [], []],
    ['possibly not needed', { met: FAILS, when: UNKNOWN }, true, [], []],
    ['needed', { met: FAILS, when: HOLDS }, false, ['Text of x.'], []],
    ['for the other plan', { met: FAILS, plan: 'a' }, true, [], []],
  ])('%s', (_, more, ready, missing, unknown) => {
    expect(planB(need('x', more))).toMatchObject({ ready_today: ready, missing, unknown });
  });

  it('one missing item is not made up for by another', () => {
    const order = [need('x', { met: UNKNOWN, blocks: true }), need('y', { met: UNKNOWN })];
    expect(planB(...order).ready_today).toBe(false);
    expect(planB(...order.reverse()).ready_today).toBe(false);
  });
});

it('advice on the patient becomes a finding, advice on a device does not', () => {
  const advice = (id: string, about: Kind<'advice'>['about'], when: Condition): Rule => ({
    ...base(id),
    kind: 'advice',
    about,
    level: 'caution',
    when,
  });
  const { findings } = planReadiness(
    inputWith(
      inForce(
        advice('own', 'patient', GROWN),
        advice('device', 'feeder', HOLDS),
        advice('no', 'patient', FAILS),
      ),
    ),
  );
  expect(findings).toEqual([{ id: 'own', level: 'caution', where: 'patient', text: 'Text of own.' }]);
});

describe('triggers', () => {
  const trigger = (id: string, more: Partial<Kind<'trigger'>> = {}): Rule => ({
    ...base(id),
    kind: 'trigger',
    direction: 'a-to-b',
    ...more,
  });
  it('apply with their reason, if they have one, and are listed without it where they do not apply', () => {
    const found = triggers(
      { 'patient.age': 46 },
      inForce(
        trigger('trigger-met', { when: GROWN, because: 'aged {patient.age}' }),
        trigger('trigger-bare', { when: HOLDS }),
        trigger('trigger-no', { when: FAILS, because: 'never' }),
        trigger('trigger-day', { because: 'never' }),
        trigger('trigger-other', { concerns: FAILS }),
        trigger('trigger-perhaps', { concerns: UNKNOWN }),
      ),
    );
    const common = (id: string) => ({
      id,
      direction: 'a-to-b',
      text: `Text of trigger-${id}.`,
      source: `source of trigger-${id}`,
    });
    expect(found).toStrictEqual([
      { ...common('met'), applies: true, because: 'aged 46 years' },
      { ...common('bare'), applies: true },
      { ...common('no'), applies: false },
      { ...common('day'), applies: false },
      { ...common('perhaps'), applies: false },
    ]);
  });
});

describe('the checklist', () => {
  const item = (id: string, more: Partial<Kind<'item'>> = {}): Rule => ({
    ...base(id),
    kind: 'item',
    moment: 'planning',
    waits: false,
    cases: [{ level: 'caution', because: 'so' }],
    ask: { level: 'note', because: 'asked' },
    ...more,
  });
  const listOf = (rules: Rule[], patientCase: Partial<Case> = {}) =>
    buildChecklist(inputWith(inForce(...rules), patientCase));
  const levels = (...args: Parameters<typeof listOf>) =>
    listOf(...args).checklist.map(({ id, level, because }) => [id, level, because]);

  it('contains what concerns the patient, or may', () => {
    const rules = [
      item('grown', { concerns: GROWN }),
      item('perhaps', { concerns: UNKNOWN }),
      item('no', { concerns: FAILS }),
      item('child', { concerns: { not: GROWN } }),
    ];
    expect(levels(rules)).toEqual([
      ['grown', 'caution', 'so'],
      ['perhaps', 'caution', 'so'],
    ]);
  });

  it('what can wait is a note while it bleeds, but what is in order stays so', () => {
    const rules = [
      item('late', { waits: true }),
      item('well', { waits: true, cases: [{ level: 'ok', because: 'fine' }] }),
      item('now'),
    ];
    expect(levels(rules, { bleeding: { now: 'yes' } })).toEqual([
      ['late', 'note', 'bleeding: can wait until it is controlled; so'],
      ['well', 'ok', 'fine'],
      ['now', 'caution', 'so'],
    ]);
    expect(levels(rules)[0]).toEqual(['late', 'caution', 'so']);
  });

  it('a case that cannot be judged asks, unless another applies', () => {
    const [open, holds, rest] = [
      { when: UNKNOWN, level: 'stop' as const, because: 'open' },
      { when: HOLDS, level: 'ok' as const, because: 'holds' },
      { level: 'caution' as const, because: 'rest' },
    ];
    const of = (...cases: Kind<'item'>['cases']) => levels([item('x', { cases })])[0].slice(1);
    expect(of(open, holds)).toEqual(['ok', 'holds']);
    expect(of(open, rest)).toEqual(['note', 'asked']);
    expect(of({ ...open, when: FAILS }, rest)).toEqual(['caution', 'rest']);
    expect(of({ ...open, when: FAILS })).toEqual(['note', 'asked']);
  });

  it('is ordered by moment, and a stop of planning alone is a finding', () => {
    const stop = { cases: [{ level: 'stop' as const, because: 'bad' }] };
    const { checklist, findings } = listOf([
      item('late', { moment: 'after', ...stop }),
      item('early', stop),
      item('mild'),
    ]);
    expect(checklist.map(({ id }) => id)).toEqual(['early', 'mild', 'late']);
    expect(findings).toEqual([
      { id: 'checklist-early', level: 'stop', where: 'checklist', text: 'Text of early. Here: bad.' },
    ]);
  });

  it('nickel is that of the chosen devices; without any, the question is open', () => {
    const nickel = (is: string): Kind<'item'>['cases'][number] => ({
      when: { fact: 'devices.nickel', compare: 'is', to: is },
      level: 'caution',
      because: is,
    });
    const rules = inForce(item('x', { cases: ['yes', 'unknown', 'no'].map(nickel) }));
    const device = (code?: string) => ({
      ...(code && { code }),
      alternates: [],
      rejected: [],
      borderline: false,
    });
    const said = (devices: Record<string, ReturnType<typeof device>> | undefined) =>
      buildChecklist({
        ...inputWith(rules),
        devices,
        nickelByCode: new Map([
          ['N', 'no'],
          ['Y', 'yes'],
          ['U', 'unknown'],
        ] as const),
      }).checklist[0].because;
    expect(said({ A1: device('N') })).toBe('no');
    expect(said({ A1: device('N'), A2: device('U') })).toBe('unknown');
    expect(said({ A1: device('N'), A2: device('gone') })).toBe('unknown');
    expect(said({ A1: device('U'), A2: device('Y') })).toBe('yes');
    expect(said({ A1: device(), A2: device('N') })).toBe('no');
    expect(said({ A1: device() })).toBe('asked');
    expect(said({})).toBe('asked');
    expect(said(undefined)).toBe('asked');
  });
});

describe('follow-up, the sheet and the hour of a bleed', () => {
  const visit = (id: string, more: Partial<Kind<'follow-up'>> = {}): Rule => ({
    ...base(id),
    kind: 'follow-up',
    ...more,
  });
  it('visits have dates from the planned one on', () => {
    const rules = inForce(
      visit('a', { fromDays: 28, toDays: 31, when: GROWN }),
      visit('b', { toDays: 1 }),
      visit('c', { when: FAILS }),
    );
    const common = (id: string) => ({ what: `Text of ${id}.`, source: `source of ${id}` });
    const facts = { 'patient.age': 46 };
    // 2026 is not a leap year
    expect(followUp(facts, rules, '2026-02-28')).toStrictEqual({
      followUp: [
        { ...common('a'), from: '2026-03-28', to: '2026-03-31' },
        { ...common('b'), to: '2026-03-01' },
      ],
      findings: [],
    });
    for (const none of [undefined, '2026-02-31']) {
      const { followUp: list, findings } = followUp(facts, rules, none);
      expect(list).toStrictEqual([common('a'), common('b')]);
      expect(findings.map(({ id, level }) => [id, level])).toEqual([['follow-up-without-date', 'note']]);
    }
  });

  it('the sheet has its sections in order, and each source once', () => {
    const sentence = (id: string, section: string, more: Partial<Kind<'sentence'>> = {}): Rule => ({
      ...base(id),
      kind: 'sentence',
      section,
      ...more,
    });
    const rules = inForce(
      sentence('a', 'One', { source: 'S' }),
      sentence('b', 'Two', { when: GROWN, source: 'T' }),
      sentence('c', 'One', { source: 'S', parent: 'To the parent.' }),
      sentence('d', 'Three', { when: FAILS, source: 'U' }),
      sentence('e', 'Three', { when: UNKNOWN, source: 'V' }),
    );
    expect(counsellingSheet(inputWith(rules))).toMatchObject({
      sections: [
        { heading: 'One', sentences: ['Text of a.', 'Text of c.'] },
        { heading: 'Two', sentences: ['Text of b.'] },
      ],
      sources: ['S', 'T'],
    });
    const child = counsellingSheet({ ...inputOf(row({ age: '9' })), rules });
    expect(child.sections).toEqual([{ heading: 'One', sentences: ['Text of a.', 'To the parent.'] }]);
    expect(child.title).toMatch(/^For parents/);
  });

  it('steps are those that apply', () => {
    const step = (id: string, when?: Condition): Rule => ({
      ...base(id),
      kind: 'urgent',
      ...(when && { when }),
    });
    const input = inputWith(inForce(step('a'), step('b', GROWN), step('c', FAILS), step('d', UNKNOWN)));
    const rules = { ...input.rules, byId: RULES.byId };
    const { urgent } = urgentPlan({ ...input, rules, lesion: input.lesion!, order: [] });
    expect(urgent.steps).toEqual(
      ['a', 'b'].map((id) => ({ id, text: `Text of ${id}.`, source: `source of ${id}` })),
    );
  });
});
