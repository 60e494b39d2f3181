import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { planReadiness } from '../../src/plan/readiness.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { rulesOf } from '../../src/rules/rule.js';
import { inputOf, RULES, row, rowsOf } from './make.js';

const TABLE = rowsOf('decisions.csv');
const plan = (more = {}, patientCase = {}, extra = {}) =>
  planReadiness({ ...inputOf(row(more), patientCase), ...extra }).readiness;

describe('decision table', () => {
  it.each(TABLE.map((entry) => [entry.id, entry] as const))('%s', (_, entry) => {
    const { readiness } = planReadiness(inputOf(entry));
    expect(readiness.recommended).toBe(entry.recommend);
    expect(readiness.decided_by).toBe(entry.rule);
    expect(readiness.because.length).toBeGreaterThan(0);
    for (const reason of readiness.because) expect(reason).not.toMatch(/[{}]|undefined|NaN/);
  });

  it('has at least 40 patients, and every decision rule decides for one of them', () => {
    expect(TABLE.length).toBeGreaterThanOrEqual(40);
    const fired = new Set([...TABLE, ...rowsOf('advice.csv')].map((entry) => entry.rule));
    const deciding = rulesOf(RULES, 'decision').filter((rule) => !rule.beside);
    expect(deciding.map((rule) => rule.id).filter((id) => !fired.has(id))).toEqual([]);
  });

  it('says what else speaks against the plan', () => {
    const { because } = plan({ pregnant: 'yes', mean_pa: '40', feeders: 'x5' });
    expect(because).toHaveLength(4);
    expect(because[0]).toMatch(/^Pregnant/);
    expect(because[1]).toMatch(/^Mean pulmonary artery pressure 40 mmHg/);
    expect(because[2]).toMatch(/^No landing zone on A1/);
  });

  it('an approach in the case overrides, and is reported', () => {
    const { readiness, findings } = planReadiness(inputOf(row({ feeders: 'x5', approach: 'embolise' })));
    expect(readiness.recommended).toBe('embolise');
    expect(readiness.because[0]).toBe(
      'The case asks for this approach (planned.approach: embolise). The rules alone would say: discuss.',
    );
    expect(findings.map((entry) => entry.id)).toContain('approach-against-rules');
    const agrees = planReadiness(inputOf(row({ approach: 'embolise' })));
    expect(agrees.findings.map((entry) => entry.id)).not.toContain('approach-against-rules');
  });
});

describe('plan A', () => {
  it('is ready from the shelf', () => {
    expect(plan().plan_a).toMatchObject({ ready_today: true, ready_by: '2026-03-20', missing: [] });
  });
  it('waits for the last device', () => {
    const { plan_a, order_list } = plan({ feeders: '6.2:20 5:20', shelf: 'P8.6 P7o' });
    expect(plan_a).toMatchObject({
      ready_today: false,
      ready_by: '2026-04-10',
      missing: ['devices to be ordered for A2'],
    });
    expect(order_list).toEqual([{ item: 'PLUG-7', count: 1, ready_by: '2026-04-10', for: ['A2'] }]);
  });
  it('has no date where a feeder has no device or no zone', () => {
    expect(plan({ shelf: 'P8' }).plan_a).toMatchObject({
      ready_today: false,
      missing: ['a device that fits A1'],
      ready_by_absent_because: 'no device for A1',
    });
    expect(plan({ feeders: 'x5' }).plan_a).toMatchObject({
      ready_today: false,
      missing: ['a landing zone on A1'],
      ready_by_absent_because: 'no device for A1',
    });
    expect(plan({ shelf: 'P8.6n' }).plan_a.ready_by_absent_because).toBe(
      'the shelf gives no lead time for PLUG-8.6 (A1)',
    );
  });
  it('is not ready without a shelf, and without a measured feeder', () => {
    expect(plan({ shelf: '' }).plan_a).toMatchObject({
      ready_today: false,
      missing: [],
      ready_by_absent_because: 'no shelf was given',
    });
    expect(plan({ shelf: '' }).plan_a.unknown).toContain('devices: no shelf was given');
    expect(plan({ feeders: '' }).plan_a).toMatchObject({
      ready_today: false,
      ready_by_absent_because: 'no feeder was measured',
    });
  });
  it('counts a feeder that the case lists but nobody measured', () => {
    const part = {
      role: 'feeder',
      mesh: { relative: 'a.stl', absolute: 'a.stl' },
      spare: false,
      path: 'p',
    } as const;
    const parts = [
      { ...part, name: 'A1' },
      { ...part, name: 'A9' },
    ];
    const found = plan({}, { surfaces: { unit: 'mm', unitMm: 1, frame: 'LPS', parts } });
    expect(found.decided_by).toBe('no-landing-zone');
    expect(found.plan_a).toMatchObject({
      ready_today: false,
      missing: ['a landing zone on A9 (not measured)'],
    });
  });
  it('lists what the case does not state', () => {
    const unknown = plan({ allergies: '', mean_pa: '', pregnant: 'unknown' }, {}).plan_a.unknown ?? [];
    expect(unknown).toEqual(
      expect.arrayContaining([
        'mean pulmonary artery pressure',
        'kidney function (eGFR) before contrast',
        'allergies (nickel, contrast)',
        'a retrieval snare at hand',
      ]),
    );
    expect(plan().plan_a.unknown).not.toContain('mean pulmonary artery pressure');
  });
  it('asks only women of child-bearing age for a pregnancy test', () => {
    const ask = (sex: 'female' | 'male', ageYears: number, pregnant: 'no' | 'unknown'): boolean =>
      plan(
        {},
        { patient: { history: [], hht: {}, spirometry: {}, sex, ageYears, pregnant } },
      ).plan_a.unknown?.includes('pregnancy test') ?? false;
    expect([ask('female', 12, 'unknown'), ask('female', 55, 'unknown')]).toEqual([true, true]);
    expect([
      ask('female', 11, 'unknown'),
      ask('female', 56, 'unknown'),
      ask('male', 30, 'unknown'),
      ask('female', 30, 'no'),
    ]).toEqual([false, false, false, false]);
  });
  it('a balloon from 8 mm', () => {
    expect(plan({ feeders: '7.9:20' }).plan_a.unknown?.some((entry) => entry.startsWith('a balloon'))).toBe(
      false,
    );
    expect(plan({ feeders: '8:20' }).plan_a.unknown).toContain(
      'a balloon for flow control (largest feeder 8.0 mm)',
    );
    const both = plan({ feeders: '8:20' }, { atHand: { balloon: 'yes', snare: 'yes' } }).plan_a;
    expect(both.unknown?.some((entry) => /balloon|snare/.test(entry))).toBe(false);
    const lacking = plan({ feeders: '8:20' }, { atHand: { balloon: 'no', snare: 'unknown' } }).plan_a;
    expect(lacking.missing).toContain('a balloon for flow control (largest feeder 8.0 mm)');
    expect(lacking.unknown).toContain('a retrieval snare at hand');
  });
});

describe('plan B', () => {
  const surgery = (answer?: 'yes' | 'no' | 'unknown') => ({
    surgery: answer ? { oneLungVentilation: answer } : {},
  });
  it('needs lung isolation, and says if it is missing or unknown', () => {
    expect(plan({}, surgery('yes')).plan_b).toMatchObject({
      ready_today: true,
      ready_by: '2026-03-20',
      missing: [],
    });
    expect(plan({}, surgery('no')).plan_b).toMatchObject({
      ready_today: false,
      missing: ['lung isolation: the case says it is not possible'],
    });
    for (const answer of ['unknown', undefined] as const) {
      const { plan_b } = plan({}, surgery(answer));
      expect(plan_b.ready_today).toBe(false);
      expect(plan_b.unknown).toContain('lung isolation (tube or blocker, one-lung ventilation tolerated)');
    }
  });
  it('lists blood, clamps, sutures, stapler and print as unknown until confirmed', () => {
    const unknown = plan({}, surgery('yes')).plan_b.unknown ?? [];
    expect(unknown).toEqual([
      'lung function (FEV1 and DLCO, % of predicted)',
      'crossmatched blood (2 to 4 units), cell salvage agreed',
      'vascular clamps and tapes',
      'vascular sutures',
      'vascular and bronchial staplers',
      'the printed model, checked against its gauges',
    ]);
    const hand = { clamps: 'yes', sutures: 'yes', stapler: 'yes', print: 'yes' } as const;
    const all = plan({}, { ...surgery('yes'), atHand: { ...hand, blood: 'yes' } }).plan_b;
    expect(all.unknown).toEqual(['lung function (FEV1 and DLCO, % of predicted)']);
    const some = plan({}, { ...surgery('yes'), atHand: hand }).plan_b;
    expect(some).toMatchObject({ ready_today: true, missing: [] });
    expect(some.unknown).toContain('crossmatched blood (2 to 4 units), cell salvage agreed');
    const none = plan({}, { ...surgery('yes'), atHand: { ...hand, blood: 'no' } }).plan_b;
    expect(none).toMatchObject({ ready_today: false, missing: ['crossmatched blood and cell salvage'] });
  });
  it.each([
    [29.9, 70, false],
    [30, 70, true],
    [70, 29.9, false],
  ])('predicted FEV1 %f, DLCO %f', (predicted_fev1_percent, predicted_dlco_percent, ready) => {
    const resection = { spare: [], steps: [], predicted_fev1_percent, predicted_dlco_percent };
    expect(plan({}, surgery('yes'), { resection }).plan_b.ready_today).toBe(ready);
  });
  it('a diffuse lesion and an unknown lobe', () => {
    expect(plan({ kind: 'diffuse' }, surgery('yes')).plan_b.missing[0]).toMatch(/this one is diffuse/);
    const nowhere = plan({}, { ...surgery('yes'), lesion: { segments: [] } }).plan_b;
    expect(nowhere).toMatchObject({ ready_today: false });
    expect(nowhere.unknown).toContain('side and lobe of the lesion');
  });
});

describe('triggers', () => {
  const applying = (...args: Parameters<typeof plan>): string[] =>
    (plan(...args).triggers ?? []).filter((entry) => entry.applies).map((entry) => entry.id);
  it('devices after the planned date, 2026-04-02', () => {
    expect(applying({ shelf: 'P8.6o' })).toEqual(['late-devices']);
  });
  it('none applies to a patient whose plan A is ready', () => {
    expect(applying()).toEqual([]);
    const concerned = rulesOf(RULES, 'trigger').filter(({ concerns }) => concerns === undefined);
    // Nothing waits for delivery, and no sex is given, so a pregnancy may be found.
    expect(plan().triggers?.map(({ id }) => id)).toEqual(
      rulesOf(RULES, 'trigger')
        .filter((rule) => concerned.includes(rule) || rule.id === 'trigger-pregnancy')
        .map(({ id }) => id.replace('trigger-', '')),
    );
    for (const { text, because, source } of plan().triggers!) {
      expect(text).not.toMatch(/[{}]/);
      expect(source.length).toBeGreaterThan(5);
      expect(because ?? 'no').not.toMatch(/[{}]/);
    }
  });
  it.each([
    ['no-landing', { feeders: 'x5' }, {}, {}],
    ['no-device', { shelf: 'P8' }, {}, {}],
    ['bleeding-waiting', { shelf: 'P8.6o', history: 'haemoptysis' }, {}, {}],
    ['persistence', { after: '0.12' }, {}, {}],
    ['isolation', {}, { surgery: { oneLungVentilation: 'no' } }, {}],
    ['function', {}, {}, { resection: { spare: [], steps: [], predicted_fev1_percent: 29 } }],
    ['pressure', { mean_pa: '35' }, {}, {}],
    ['pregnancy', { pregnant: 'yes' }, {}, {}],
  ])('%s applies', (id, more, patientCase, extra) => {
    expect(applying(more, patientCase, extra).filter((other) => other !== 'late-devices')).toEqual([id]);
  });
  it('borderline choice', () => {
    const input = inputOf(row());
    const devices = { A1: { ...(input.devices?.A1 ?? { alternates: [], rejected: [] }), borderline: true } };
    const found = planReadiness({ ...input, devices }).readiness.triggers?.filter((entry) => entry.applies);
    expect(found?.map((entry) => [entry.id, entry.because])).toEqual([
      ['borderline', 'the choice changes within the calibre interval on A1'],
    ]);
  });
  it('those of the day never apply in advance', () => {
    const day = plan().triggers?.filter((entry) =>
      ['rupture', 'adhesions', 'branch-lost', 'other-anatomy', 'air-or-stroke', 'metal-contrast'].includes(
        entry.id,
      ),
    );
    expect(day).toHaveLength(6);
    expect(new Set(plan().triggers?.map((entry) => entry.direction))).toEqual(
      new Set(['a-to-b', 'b-to-a', 'stop-and-discuss']),
    );
  });
});

describe('follow-up', () => {
  it('counts from the planned date', () => {
    const follow = plan().follow_up ?? [];
    expect(follow[0]).toMatchObject({ from: '2026-04-02', to: '2026-04-03' });
    expect(follow.find((entry) => entry.what.startsWith('CT at 6 to 12 months'))).toMatchObject({
      from: '2026-10-01',
      to: '2027-04-02',
    });
    for (const { source } of follow) expect(source.length).toBeGreaterThan(5);
  });
  it('has no dates without a planned date, and says so', () => {
    const { readiness, findings } = planReadiness(inputOf(row(), { planned: { approach: 'auto' } }));
    expect(readiness.follow_up?.every((entry) => entry.from === undefined && entry.to === undefined)).toBe(
      true,
    );
    expect(findings.map((entry) => entry.id)).toContain('follow-up-without-date');
  });
  it('the wound only after an operation, the family only with two criteria', () => {
    const what = (...args: Parameters<typeof plan>): string =>
      (plan(...args).follow_up ?? []).map((entry) => entry.what).join('\n');
    expect(what()).not.toMatch(/Surgical clinic|Genetic/);
    expect(what({ approach: 'resect' })).toMatch(/Surgical clinic/);
    expect(what({ history: 'epistaxis' })).toMatch(/Genetic advice/);
  });
});

it('a hospital’s own advice on the patient becomes a finding', () => {
  const folder = mkdtempSync(join(tmpdir(), 'advice-'));
  const text =
    'format: pavm-rules/1\nrules:\n  - { id: our-young, kind: advice, about: patient, level: note, ' +
    'when: { fact: patient.age, below: 18 }, text: "Age {patient.age}: call ext 7.", source: "local: protocol 7" }\n';
  writeFileSync(join(folder, 'ours.yaml'), text);
  const rules = loadRules(folder);
  rmSync(folder, { recursive: true });
  const found = planReadiness({ ...inputOf(row({ age: '17' })), rules }).findings;
  expect(found.filter((entry) => entry.id === 'our-young').map((entry) => entry.text)).toEqual([
    'Age 17 years: call ext 7.',
  ]);
  expect(
    planReadiness({ ...inputOf(row({ age: '18' })), rules }).findings.map((entry) => entry.id),
  ).not.toContain('our-young');
});
