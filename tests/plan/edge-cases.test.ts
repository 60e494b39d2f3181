import { describe, expect, it } from 'vitest';
import type { Case } from '../../src/case/case.js';
import { buildChecklist } from '../../src/plan/checklist.js';
import { dateFindings } from '../../src/plan/date-findings.js';
import { haemoglobinReading } from '../../src/plan/haemoglobin.js';
import { planReadiness } from '../../src/plan/readiness.js';
import { planFacts, readyByDate } from '../../src/plan/readiness-facts.js';
import { scanAdvice } from '../../src/plan/scan-advice.js';
import { stockToday, urgentPlan } from '../../src/plan/urgent.js';
import type { Result } from '../../src/result/result.generated.js';
import { plug } from '../devices/make.js';
import { lesionOf, makeCase, vessel } from '../resection/make.js';
import { inputOf, RULES, row } from './make.js';

const patient = (more: Partial<Case['patient']> = {}): Case['patient'] => ({
  history: [],
  hht: {},
  spirometry: {},
  ...more,
});

describe('what the hour of a bleed needs and the case lacks', () => {
  const team = [
    'interventionist',
    'surgeon',
    'anaesthesia',
    'blood_bank',
    'hyperbaric_centre',
    'obstetrics',
  ].map((role) => ({ role, contact: '5550100' }));
  const whole: Partial<Case> = {
    team,
    patient: patient({ bloodGroup: 'A pos', weightKg: 62, anticoagulated: 'no', pregnant: 'no' }),
    blood: { haemoglobinGDl: 14 },
  };
  const missing = (more: Partial<Case['patient']>, patientCase: Partial<Case> = {}): string[] => {
    const input = inputOf(row(), { ...whole, ...patientCase, patient: { ...whole.patient!, ...more } });
    const found = urgentPlan({ ...input, lesion: lesionOf([]), order: [] }).findings;
    return found.length === 0 ? [] : /hour of a bleed: (.*)\. Ask now/.exec(found[0].text)![1].split(', ');
  };

  it('nothing where everything is there', () => {
    expect(missing({})).toEqual([]);
    expect(
      missing({ anticoagulated: 'yes', anticoagulant: { agent: 'warfarin', lastDose: '2026-03-14' } }),
    ).toEqual([]);
    expect(missing({ pregnant: 'yes', gestationWeeks: 20 })).toEqual([]);
  });

  it.each([
    [{ bloodGroup: undefined }, {}, ['patient.blood_group']],
    [{ weightKg: undefined }, {}, ['patient.weight']],
    [{}, { blood: {} }, ['blood.haemoglobin']],
    [{ anticoagulated: undefined }, {}, ['patient.anticoagulated']],
    [{ anticoagulated: 'yes' }, {}, ['patient.anticoagulant (agent', 'dose', 'last_dose)']],
    [
      { anticoagulated: 'yes', anticoagulant: { agent: 'warfarin' } },
      {},
      ['patient.anticoagulant (agent', 'dose', 'last_dose)'],
    ],
    [{ pregnant: 'yes' }, {}, ['patient.gestation']],
    [{}, { team: team.filter(({ role }) => role !== 'surgeon') }, ['team.surgeon']],
    [{}, { team: team.map((one) => (one.role === 'surgeon' ? { role: 'surgeon' } : one)) }, ['team.surgeon']],
    [
      { pregnant: 'yes', gestationWeeks: 20 },
      { team: team.filter(({ role }) => role !== 'obstetrics') },
      ['team.obstetrics'],
    ],
    [{}, { team: team.filter(({ role }) => role !== 'obstetrics') }, []],
  ] as [Partial<Case['patient']>, Partial<Case>, string[]][])('%j %j', (more, patientCase, names) => {
    expect(missing(more, patientCase)).toEqual(names);
  });
});

describe('stock in a bleed', () => {
  const feeders = [{ name: 'A1', calibreMm: 6, zoneLengthMm: 20 }];
  const stock = (nickel: 'yes' | 'no', allergies: string[] | undefined, more = {}) =>
    stockToday(feeders, {
      shelf: {
        devices: [plug(8.4, { nickel, code: 'METAL' }), plug(8, { nickel: 'no', code: 'FREE', ...more })],
      },
      allergies,
      rules: RULES,
    });

  it('respects an allergy as long as that leaves no feeder open', () => {
    expect(stock('yes', ['nickel'])).toEqual({ A1: 'FREE' });
    expect(stock('yes', [])).toEqual({ A1: 'METAL' });
    expect(stock('yes', undefined)).toEqual({ A1: 'METAL' });
    expect(stock('yes', ['nickel'], { inStock: 0 })).toEqual({ A1: 'METAL' });
  });
});

describe('dates', () => {
  const texts = (
    scan: string | undefined,
    planned: string | undefined,
    today: string | undefined,
  ): string[] =>
    dateFindings({ scan: { date: scan }, planned: { date: planned, approach: 'auto' } }, today, RULES).map(
      ({ text }) => text,
    );

  it('an old scan is old on the planned date or today, whichever is later', () => {
    expect(texts('2025-01-01', '2026-07-01', '2026-03-20')[0]).toContain(
      'days old on the planned date 2026-07-01',
    );
    expect(texts('2025-01-01', '2026-03-19', '2026-03-20')[1]).toContain('days old today, 2026-03-20');
    expect(texts('2025-01-01', undefined, '2026-03-20')[0]).toContain('days old today, 2026-03-20');
  });

  it('nothing is old without a date to count to or from', () => {
    expect(texts('2025-01-01', undefined, undefined)).toEqual([]);
    expect(texts(undefined, undefined, '2026-03-20')).toEqual([]);
    expect(texts(undefined, undefined, undefined)).toEqual([]);
  });

  it('a device plan is ready by its last date, and by none where one is open', () => {
    const devices = (...dates: (string | undefined)[]): Result['devices'] =>
      Object.fromEntries(
        dates.map((ready_by, i) => [`A${i}`, { ready_by, alternates: [], rejected: [], borderline: false }]),
      );
    expect(readyByDate(devices('2026-04-02', '2026-03-20'))).toBe('2026-04-02');
    expect(readyByDate(devices('2026-04-02', undefined))).toBeUndefined();
    expect(readyByDate({})).toBeUndefined();
  });
});

describe('the trimester of a pregnancy', () => {
  it('is named by its weeks (14 and 28, WHO 2024)', () => {
    const group = (gestationWeeks?: number) =>
      haemoglobinReading(
        {
          patient: patient({ ageYears: 30, sex: 'female', pregnant: 'yes', gestationWeeks }),
          blood: {},
        } as never,
        RULES,
      )?.group;
    expect([group(13.9), group(14), group(27.9), group(28), group()]).toEqual([
      'the first trimester',
      'the second trimester',
      'the second trimester',
      'the third trimester',
      'pregnancy, weeks not stated',
    ]);
  });
});

describe('facts', () => {
  const facts = (more = {}, patientCase: Partial<Case> = {}, extra = {}) =>
    planFacts({ ...inputOf(row(more), patientCase), ...extra });

  it('a closure of all feeders is one of the facts, and a bound is marked as one', () => {
    const closure: Result['closure'] = [
      { closed: 'lobe', shunt_fraction: 0.01, mean_pa_pressure_mmhg: 40 },
      { closed: ['A1'], shunt_fraction: 0.2, mean_pa_pressure_mmhg: 20 },
      {
        closed: ['A1', 'A2'],
        shunt_fraction: 0.06,
        shunt_fraction_is: 'at-least',
        mean_pa_pressure_mmhg: 21,
      },
    ];
    const two = facts({ feeders: '6.2:20 5:20' }, {}, { closure });
    expect(two).toMatchObject({ 'closure.shunt_words': 'at least 6.0 %', 'closure.mean_pa': 21 });
    const none = facts({ feeders: '' }, {}, { closure });
    expect(none['closure.shunt_words']).toBeUndefined();
    expect(none['closure.mean_pa']).toBeUndefined();
  });

  it('a shunt indistinguishable from none has its upper limit in words', () => {
    const shunt = { method: 'content', assumed: [] };
    const words = (more: object) => facts({}, {}, { shunt: { ...shunt, ...more } })['shunt.words'];
    expect(words({ fraction: 0.31 })).toBe('31.0 %');
    expect(words({ fraction: 0, upper_limit: 0.034 })).toBe('cannot be told from none (at most 3.4 %)');
    expect(words({})).toBeUndefined();
  });

  it('devices: the widest lumen of those chosen; a feeder without a zone is not ready', () => {
    const input = inputOf(row({ feeders: '6.2:20 5:20 x4', shelf: 'P8.6 P7' }));
    const [first, second] = Object.values(input.devices!);
    first.needs_lumen_mm = 1.8;
    second.needs_lumen_mm = 2.2;
    expect(planFacts(input)).toMatchObject({
      'devices.lumen': 2.2,
      'devices.feeders': 3,
      'devices.unready': 1,
    });
    delete first.needs_lumen_mm;
    delete second.needs_lumen_mm;
    expect(planFacts(input)['devices.lumen']).toBeUndefined();
    expect(planFacts(inputOf(row({ feeders: '6.2:20 5:20 x4', shelf: 'P8.6' })))).toMatchObject({
      'devices.unready': 2,
      'devices.none': 1,
    });
  });

  it('late is stated only with both dates', () => {
    const late = (shelf: string, planned: string | undefined) =>
      facts({ shelf }, { planned: { approach: 'auto', date: planned } })['devices.late'];
    expect([late('P8.6', '2026-04-02'), late('P8.6o', '2026-04-02'), late('P8.6o', undefined)]).toEqual([
      'no',
      'yes',
      undefined,
    ]);
    expect(late('P8.6n', '2026-04-02')).toBeUndefined();
  });

  it('a history of bleeding contains what bled, and nothing else', () => {
    const history = (...words: string[]) =>
      facts({}, { patient: patient({ history: words as never }) })['history.bleeding'];
    expect(history('migraine', 'haemoptysis', 'stroke')).toHaveLength(1);
    expect(history('migraine', 'stroke')).toEqual([]);
  });

  it('the kind of a lesion is given without its surfaces', () => {
    expect(facts({ feeders: '', kind: 'diffuse' })['lesion.kind']).toBe('diffuse');
  });
});

describe('readiness', () => {
  it('asks about a bleed that is listed or only partly described, and not where the answer is given', () => {
    const asked = (history: string[], bleeding?: Case['bleeding']): boolean =>
      planReadiness(
        inputOf(row(), { patient: patient({ history: history as never }), ...(bleeding && { bleeding }) }),
      ).findings.some(({ id }) => id === 'bleeding-not-stated');
    expect(asked(['haemoptysis'])).toBe(true);
    expect(asked(['migraine'])).toBe(false);
    expect(asked([])).toBe(false);
    expect(asked(['haemoptysis'], { now: 'no', within24h: 'no' })).toBe(false);
    expect(asked(['haemoptysis'], { now: 'yes' })).toBe(false);
    expect(asked([], { on: '2026-03-18' })).toBe(true);
  });

  it('plan B has only today as a date, and only where nothing delays it', () => {
    const ready = (isolation: string, today: string | undefined) =>
      planReadiness({ ...inputOf(row({ isolation })), today }).readiness.plan_b;
    expect(ready('yes', '2026-03-20')).toMatchObject({ ready_today: true, ready_by: '2026-03-20' });
    const undated = ready('yes', undefined);
    expect(undated).not.toHaveProperty('ready_by');
    expect(undated.ready_by_absent_because).toBe('there is no date to count from');
    const held = ready('no', '2026-03-20');
    expect(held).not.toHaveProperty('ready_by');
    expect(held.ready_by_absent_because).toMatch(/missing or unanswered/);
  });

  it('no rule for the recommendation: discuss, with a note', () => {
    const list = RULES.list.filter(({ kind }) => kind !== 'decision');
    const { readiness } = planReadiness({ ...inputOf(row()), rules: { ...RULES, list } });
    expect(readiness).toMatchObject({ recommended: 'discuss', decided_by: 'no-rule-holds' });
    expect(readiness.because[0]).toMatch(/^No recommendation rule applies/);
  });

  it('a rule that only adds a remark never decides', () => {
    const beside = RULES.list.filter((rule) => rule.kind !== 'decision' || rule.beside);
    const { readiness } = planReadiness({
      ...inputOf(row({ systemic: '1' })),
      rules: { ...RULES, list: beside },
    });
    expect(readiness.decided_by).toBe('no-rule-holds');
    expect(readiness.because.length).toBeGreaterThan(1);
  });

  it('a trigger that does not apply has no reason', () => {
    const { triggers } = planReadiness(inputOf(row())).readiness;
    for (const one of triggers!) {
      expect(one.applies).toBe(false);
      expect(one).not.toHaveProperty('because');
      expect(one.id).not.toMatch(/^trigger-/);
    }
  });
});

it('the nickel of a device no longer on the shelf is not known', () => {
  const input = inputOf(row({ allergies: 'nickel', shelf: 'P8.6' }));
  const item = (nickelByCode?: ReadonlyMap<string, 'yes' | 'no' | 'unknown'>) =>
    buildChecklist({
      ...input,
      devices: { A1: { code: 'PLUG-8.6', alternates: [], rejected: [], borderline: false } },
      nickelByCode,
    }).checklist.find(({ id }) => id === 'nickel')!;
  expect(item(undefined).level).toBe(item(new Map()).level);
  expect(item(new Map([['PLUG-8.6', 'yes']])).level).toBe('stop');
  expect(item(new Map([['PLUG-8.6', 'no']])).level).not.toBe('stop');
});

it('a scan without a slice thickness gets no advice', () => {
  expect(scanAdvice(makeCase({ scan: {} }), [vessel('A1')], RULES)).toEqual([]);
});
