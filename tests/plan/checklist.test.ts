import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import type { Case, Patient } from '../../src/case/case.js';
import { buildChecklist } from '../../src/plan/checklist.js';
import { curacao } from '../../src/plan/checklist-curacao.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { numberOf, rulesOf } from '../../src/rules/rule.js';
import { withNumber } from '../rules/with-number.js';
import { inputOf, RULES, row } from './make.js';

const patient = (more: Partial<Patient> = {}): Patient => ({ history: [], hht: {}, spirometry: {}, ...more });
const WOMAN = patient({ ageYears: 46, sex: 'female' });
const MAN = patient({ ageYears: 46, sex: 'male' });
const list = (patientCase: Partial<Case> = {}, more = {}, extra = {}) =>
  seen(buildChecklist({ ...inputOf(row(more), patientCase), ...extra }));
const seen = (found: ReturnType<typeof buildChecklist>) => {
  for (const entry of found.checklist) reached.add(`${entry.id} ${entry.level}`);
  return found;
};
const item = (id: string, patientCase: Partial<Case> = {}, more = {}, extra = {}) =>
  list(patientCase, more, extra).checklist.find((entry) => entry.id === id);

/** Levels that each item reached in the tests of this file. */
const reached = new Set<string>();

describe('checklist', () => {
  it('has every item once, each with its reason and source, assigned to a moment in order', () => {
    const { checklist } = list(
      { patient: patient({ sex: 'female', ageYears: 31, pregnant: 'yes', anticoagulated: 'yes' }) },
      {},
      { missed: [] },
    );
    expect(checklist.map((entry) => entry.id).sort()).toEqual(
      rulesOf(RULES, 'item')
        .map((rule) => rule.id)
        .sort(),
    );
    const moments = ['planning', 'sign-in', 'time-out', 'sign-out', 'after'];
    const order = checklist.map((entry) => moments.indexOf(entry.moment ?? ''));
    expect(order).toEqual([...order].sort((a, b) => a - b));
    expect(new Set(order)).toEqual(new Set([0, 1, 2, 3, 4]));
    for (const entry of checklist) {
      expect(entry.because.length).toBeGreaterThan(2);
      expect(entry.source.length).toBeGreaterThan(3);
      expect(`${entry.text}${entry.because}`).not.toMatch(/[{}]|undefined|NaN/);
    }
  });

  it('a vessel outside all surfaces: a caution, ok where none was found, nothing where none was looked for', () => {
    const level = (...kinds: string[]) =>
      item('missed-feeder-item', {}, {}, { missed: kinds.map((kind) => ({ kind })) })?.level;
    expect(item('missed-feeder-item')).toBeUndefined();
    expect(level()).toBe('ok');
    expect(level('side-branch')).toBe('ok');
    expect(level('unclear')).toBe('caution');
    expect(level('side-branch', 'feeder-candidate')).toBe('caution');
  });

  it('an empty case is never silent, and never ok about what it does not state', () => {
    const empty = list({ patient: patient() }, { feeders: '', shelf: '', kind: '', mean_pa: '' }).checklist;
    const ok = empty.filter((entry) => entry.level === 'ok').map((entry) => entry.id);
    expect(ok).toEqual([]);
    for (const id of [
      'pregnancy',
      'nickel',
      'contrast-allergy-item',
      'contrast-volume',
      'anticoagulation',
      'iron',
      'pulmonary-pressure',
      'one-lung',
      'leak-test-item',
      'latex',
    ]) {
      expect(empty.find((entry) => entry.id === id)?.because, id).toMatch(/the case does not say.*: ask/);
    }
  });

  it('a case without a condition never hides one that could not be judged', () => {
    const folder = mkdtempSync(join(tmpdir(), 'items-'));
    const text =
      'format: pavm-rules/1\nrules:\n  - { id: ours, kind: item, moment: planning, text: Ours, source: "local: protocol 7", ' +
      'cases: [ { when: { fact: patient.age, below: 18 }, level: caution, because: young }, { level: ok, because: grown up } ], ' +
      'ask: { level: caution, because: "the case does not say: ask" } }\n';
    writeFileSync(join(folder, 'ours.yaml'), text);
    const rules = loadRules(folder);
    rmSync(folder, { recursive: true });
    const because = (ageYears?: number): string | undefined => {
      const input = inputOf(row(), { patient: patient({ ageYears }) });
      return buildChecklist({ ...input, rules }).checklist.find((entry) => entry.id === 'ours')?.because;
    };
    expect([because(17), because(18), because()]).toEqual([
      'young',
      'grown up',
      'the case does not say: ask',
    ]);
  });

  it('stop-level items are findings', () => {
    const { findings } = list({}, { pregnant: 'yes' });
    expect(findings.map((entry) => [entry.id, entry.level])).toEqual([['checklist-pregnancy', 'stop']]);
    const input = inputOf(row());
    const stops = (more: Partial<Case>, rest: object = {}): string[] =>
      buildChecklist({ ...input, ...rest, case: { ...input.case, ...more } }).findings.map(({ id }) => id);
    expect(stops({ patient: patient({ allergies: ['nickel'] }) })).toEqual(['checklist-nickel']);
    expect(stops({ patient: patient({ allergies: ['latex'] }) })).toEqual([]);
    const resection = (predicted_fev1_percent: number) => ({
      resection: { spare: [], steps: [], predicted_fev1_percent, predicted_dlco_percent: 70 },
    });
    const least = numberOf(RULES, 'low-predicted-function');
    expect(stops({}, resection(least - 0.1))).toEqual(['checklist-lung-function']);
    expect(stops({}, resection(least))).toEqual([]);
  });

  const levels: [string, string, Partial<Case>, object][] = [
    ['pulmonary-pressure', 'ok', { circulation: { meanPaPressureMmHg: 20 } }, {}],
    ['pulmonary-pressure', 'caution', { circulation: { meanPaPressureMmHg: 20.1 } }, {}],
    ['pulmonary-pressure', 'caution', { circulation: { meanPaPressureMmHg: 34.9 } }, {}],
    ['pulmonary-pressure', 'stop', { circulation: { meanPaPressureMmHg: 35 } }, {}],
    [
      'pulmonary-pressure',
      'stop',
      { circulation: {}, patient: patient({ history: ['pulmonary-hypertension'] }) },
      {},
    ],
    ['pulmonary-pressure', 'caution', { circulation: {} }, {}],
    [
      'pulmonary-pressure',
      'stop',
      { circulation: { meanPaPressureMmHg: 34, wedgePressureMmHg: 8, cardiacOutputLMin: 3.8 } },
      {},
    ],
    ['pregnancy', 'caution', { patient: patient({ sex: 'female', ageYears: 12 }) }, {}],
    [
      'iron',
      'caution',
      { blood: { haemoglobinGDl: 16, ferritinUgL: 29.9, transferrinSaturationFraction: 0.3 } },
      {},
    ],
    [
      'iron',
      'note',
      { blood: { haemoglobinGDl: 16, ferritinUgL: 30, transferrinSaturationFraction: 0.2 } },
      {},
    ],
    [
      'iron',
      'caution',
      { blood: { haemoglobinGDl: 16, ferritinUgL: 80, transferrinSaturationFraction: 0.199 } },
      {},
    ],
    [
      'hht-criteria',
      'caution',
      { patient: patient({ hht: { epistaxis: 'yes', telangiectasia: 'yes', firstDegreeRelative: 'no' } }) },
      {},
    ],
    [
      'hht-criteria',
      'note',
      { patient: patient({ hht: { epistaxis: 'yes', telangiectasia: 'no', firstDegreeRelative: 'no' } }) },
      {},
    ],
    ['pregnancy', 'caution', { patient: patient({ sex: 'female', ageYears: 55 }) }, {}],
    ['pregnancy', 'stop', { patient: patient({ pregnant: 'yes' }) }, {}],
    ['pregnancy', 'ok', { patient: patient({ pregnant: 'no' }) }, {}],
    ['pulmonary-pressure', 'ok', { bleeding: { now: 'yes' } }, { mean_pa: '16', wedge: '8', output: '6' }],
    ['pulmonary-pressure', 'caution', { bleeding: { now: 'yes' } }, { mean_pa: '40' }],
    ['nickel', 'ok', { patient: patient({ allergies: [] }) }, {}],
    ['nickel', 'caution', { patient: patient({ allergies: ['nickel'] }) }, { shelf: '' }],
    ['nickel', 'caution', {}, { allergies: 'nickel', shelf: 'C7.8' }],
    ['contrast-allergy-item', 'caution', {}, { allergies: 'iodinated-contrast' }],
    ['contrast-allergy-item', 'ok', {}, {}],
    ['latex', 'caution', {}, { allergies: 'latex' }],
    ['contrast-volume', 'caution', { patient: patient({ egfrMlMin173: 29.9 }) }, {}],
    ['contrast-volume', 'caution', { patient: patient({ egfrMlMin173: 44.9 }) }, {}],
    ['contrast-volume', 'note', { patient: patient({ egfrMlMin173: 45 }) }, {}],
    ['anticoagulation', 'caution', { patient: patient({ anticoagulated: 'yes' }) }, {}],
    [
      'anticoagulation',
      'caution',
      { patient: patient({ anticoagulated: 'no', history: ['atrial-fibrillation'] }) },
      {},
    ],
    ['anticoagulation', 'ok', { patient: patient({ anticoagulated: 'no' }) }, {}],
    ['anticoagulation', 'caution', { patient: patient({ anticoagulated: 'unknown' }) }, {}],
    ['iron', 'caution', { patient: WOMAN, blood: { haemoglobinGDl: 11.9 } }, {}],
    ['iron', 'note', { patient: WOMAN, blood: { haemoglobinGDl: 12 } }, {}],
    ['iron', 'note', { patient: patient(), blood: { haemoglobinGDl: 12 } }, {}],
    ['polycythaemia', 'note', { patient: patient(), blood: { haemoglobinGDl: 15 } }, {}],
    ['polycythaemia', 'note', { patient: WOMAN, blood: { haemoglobinGDl: 13.9 } }, {}],
    ['polycythaemia', 'ok', { patient: WOMAN, blood: { haemoglobinGDl: 16 } }, {}],
    ['polycythaemia', 'caution', { patient: WOMAN, blood: { haemoglobinGDl: 16.1 } }, {}],
    ['polycythaemia', 'ok', { patient: MAN, blood: { haemoglobinGDl: 16.5 } }, {}],
    ['polycythaemia', 'caution', { patient: MAN, blood: { haemoglobinGDl: 16.6 } }, {}],
    ['contrast-volume', 'caution', { patient: patient({ pregnant: 'yes', egfrMlMin173: 100 }) }, {}],
    ['contrast-volume', 'caution', { patient: patient({ ageYears: 9, weightKg: 28 }) }, {}],
    ['brain', 'caution', { patient: patient({ history: ['tia'] }) }, {}],
    ['brain', 'note', { patient: patient() }, {}],
    ['large-feeder-item', 'ok', {}, { feeders: '7.99:20' }],
    ['large-feeder-item', 'caution', {}, { feeders: '8:20' }],
    ['landing-item', 'caution', {}, { feeders: 'x5' }],
    ['landing-item', 'ok', {}, {}],
    ['borderline-item', 'ok', {}, {}],
    ['radiation', 'caution', {}, { age: '39' }],
    ['radiation', 'note', {}, { age: '40' }],
    ['blood-loss', 'caution', { patient: patient({ history: ['haemothorax'] }) }, {}],
    ['blood-loss', 'caution', { patient: WOMAN, blood: { haemoglobinGDl: 11.9 } }, {}],
    ['blood-loss', 'note', { patient: WOMAN, blood: { haemoglobinGDl: 12 } }, {}],
    ['blood-loss', 'note', { patient: WOMAN, blood: { haemoglobinGDl: 12 }, atHand: { blood: 'yes' } }, {}],
    ['blood-loss', 'caution', { blood: { haemoglobinGDl: 14 }, atHand: { blood: 'no' } }, {}],
    ['device-check', 'caution', { atHand: { snare: 'no' } }, {}],
    ['one-lung', 'stop', { surgery: { oneLungVentilation: 'no' } }, {}],
    ['one-lung', 'note', { surgery: { oneLungVentilation: 'yes' } }, {}],
    ['one-lung', 'caution', { surgery: { oneLungVentilation: 'unknown' } }, {}],
    ['nose', 'caution', { patient: patient({ history: ['epistaxis'] }) }, {}],
    ['nose', 'note', { patient: patient() }, {}],
    ['neuraxial', 'caution', { patient: patient({ hht: { telangiectasia: 'yes' } }) }, {}],
    ['antibiotic', 'caution', { patient: patient({ history: ['brain-abscess'] }) }, {}],
    ['device-check', 'caution', {}, { shelf: 'P8' }],
    ['device-check', 'caution', {}, { shelf: 'P8.6o' }],
    ['device-check', 'note', {}, {}],
    ['device-check', 'caution', {}, { shelf: '' }],
    ['leak-test-item', 'ok', { surgery: { leakTest: { cmH2O: 30, asWritten: '30 cmH2O' } } }, {}],
    ['leak-test-item', 'caution', { surgery: { leakTest: { cmH2O: 30.1, asWritten: '30.1 cmH2O' } } }, {}],
    ['leak-test-item', 'caution', { surgery: { leakTest: { cmH2O: 40.8, asWritten: '30 mmHg' } } }, {}],
    ['leak-test-item', 'caution', { surgery: { leakTest: { cmH2O: 3, asWritten: '3 cmH2O' } } }, {}],
    ['bleeding-drill', 'caution', { patient: patient({ history: ['haemoptysis'] }) }, {}],
    ['pleurisy', 'caution', {}, { feeders: '8:20' }],
    ['persistence', 'ok', {}, { after: '0.05' }],
    ['persistence', 'caution', {}, { after: '0.06' }],
    ['persistence', 'note', {}, {}],
    ['lifelong', 'caution', { patient: patient({ history: ['stroke'] }) }, {}],
    ['hht-criteria', 'note', { patient: patient() }, {}],
    [
      'hht-criteria',
      'ok',
      { patient: patient({ hht: { epistaxis: 'no', telangiectasia: 'no', firstDegreeRelative: 'no' } }) },
      {},
    ],
    ['identity-site', 'note', {}, {}],
    ['other-lesions', 'note', {}, {}],
    ['other-lesions', 'caution', { lesion: { segments: [], otherLesions: 'unknown' } }, {}],
    ['other-lesions', 'caution', { lesion: { segments: [], otherLesions: 'yes' } }, {}],
    ['other-lesions', 'ok', { lesion: { segments: [], otherLesions: 'no' } }, {}],
    ['systemic-feeder-item', 'caution', {}, { systemic: '1' }],
    ['systemic-feeder-item', 'note', {}, {}],
    ['liver-lesions', 'caution', { patient: patient({ sex: 'male', history: ['liver-avm'] }) }, {}],
    ['liver-lesions', 'caution', { patient: patient({ sex: 'male', history: ['heart-failure'] }) }, {}],
    ['liver-lesions', 'caution', { patient: patient({ sex: 'female', pregnant: 'yes' }) }, {}],
    ['liver-lesions', 'note', { patient: WOMAN }, {}],
    ['fetal-dose', 'caution', { patient: patient({ pregnant: 'yes', gestationWeeks: 20 }) }, {}],
    ['reversal', 'caution', { patient: patient({ anticoagulated: 'yes' }) }, {}],
    ['reversal', 'caution', { patient: patient() }, {}],
    ['air-embolism-call', 'caution', {}, {}],
    ['air-embolism-call', 'caution', { team: [{ role: 'surgeon', contact: '1' }] }, {}],
    ['air-embolism-call', 'note', { team: [{ role: 'hyperbaric_centre', contact: '1' }] }, {}],
    ['thrombosis', 'caution', {}, { bleeding: 'now' }],
    ['thrombosis', 'caution', { patient: patient({ anticoagulated: 'yes' }) }, {}],
    ['thrombosis', 'caution', { patient: patient({ anticoagulated: 'no', pregnant: 'yes' }) }, {}],
    ['thrombosis', 'caution', { patient: patient({ history: ['epistaxis'] }) }, {}],
    [
      'thrombosis',
      'note',
      {
        patient: patient({ sex: 'male', ageYears: 46, anticoagulated: 'no' }),
        blood: { haemoglobinGDl: 16.5 },
      },
      {},
    ],
    [
      'thrombosis',
      'caution',
      {
        patient: patient({ sex: 'male', ageYears: 46, anticoagulated: 'no' }),
        blood: { haemoglobinGDl: 16.6 },
      },
      {},
    ],
    ['stroke-route', 'caution', { patient: patient({ history: ['tia'] }) }, {}],
    ['stroke-route', 'note', { patient: patient() }, {}],
    ['contrast-volume', 'caution', { patient: patient({ egfrMlMin173: 90 }) }, { bleeding: 'now' }],
    ['iron', 'note', {}, { bleeding: 'now' }],
    ['lung-function', 'caution', {}, { bleeding: 'now' }],
    ['identity-site', 'caution', { lesion: { segments: [] } }, {}],
  ];
  it.each(levels)('%s is %s (%#)', (id, level, patientCase, more) => {
    expect(item(id, patientCase, more)?.level).toBe(level);
  });

  const woman = (ageYears: number): Partial<Case> => ({ patient: patient({ sex: 'female', ageYears }) });
  it.each<[string, boolean, Partial<Case>, object]>([
    ['pregnancy', false, { patient: patient({ sex: 'male', ageYears: 31 }) }, {}],
    ['pregnancy', false, woman(11), {}],
    ['pregnancy', true, woman(12), {}],
    ['pregnancy', true, woman(55), {}],
    ['pregnancy', false, woman(56), {}],
    ['pregnancy', true, { patient: patient() }, {}],
    ['pregnancy', true, { patient: patient({ sex: 'female', ageYears: 56, pregnant: 'yes' }) }, {}],
    ['fetal-dose', true, { patient: patient({ pregnant: 'yes' }) }, {}],
    ['fetal-dose', false, { patient: patient() }, {}],
    ['liver-lesions', false, { patient: MAN }, {}],
    ['liver-lesions', true, { patient: WOMAN }, {}],
    ['reversal', false, { patient: patient({ anticoagulated: 'no' }) }, {}],
    ['reversal', true, { patient: patient() }, {}],
    ...[
      'large-feeder-item',
      'landing-item',
      'device-check',
      'one-lung',
      'systemic-feeder-item',
      'leak-test-item',
    ].flatMap((id): [string, boolean, Partial<Case>, object][] => [
      [id, false, {}, { feeders: 'closed' }],
      [id, true, {}, {}],
    ]),
    ['persistence', true, {}, { feeders: 'closed' }],
  ])('%s is listed: %s (%#)', (id, wanted, patientCase, more) => {
    expect(item(id, patientCase, more) !== undefined).toBe(wanted);
  });

  it('in a bleed, whatever delays is marked as waiting, and only missing planning data still stops', () => {
    const patientNow = patient({
      egfrMlMin173: 90,
      pregnant: 'no',
      anticoagulated: 'yes',
      anticoagulant: { agent: 'apixaban' },
    });
    const because = (id: string) => item(id, { patient: patientNow }, { bleeding: 'now' })?.because;
    expect(because('contrast-volume')).toMatch(/^bleeding: does not delay; limit \d+ mL/);
    expect(because('iron')).toMatch(/^bleeding: can wait until it is controlled; /);
    expect(because('reversal')).toBe(
      'bleeding and anticoagulated (apixaban): reverse now per local protocol',
    );
    expect(item('iron', { patient: patientNow }, { bleeding: 'no' })?.because).not.toMatch(/bleeding/);
    expect(
      item('contrast-volume', { patient: patient({ pregnant: 'yes' }) }, { bleeding: 'now' })?.because,
    ).toMatch(/^bleeding: does not delay/);
  });

  it('nickel in a chosen device under an allergy: stop', () => {
    const input = inputOf(row());
    const found = seen(
      buildChecklist({ ...input, case: { ...input.case, patient: patient({ allergies: ['nickel'] }) } }),
    );
    expect(found.checklist.find((entry) => entry.id === 'nickel')?.level).toBe('stop');
  });

  it.each([
    [34.9, 'note'],
    [35, 'caution'],
  ])('predicted pressure of %f mmHg with every feeder closed', (mean_pa_pressure_mmhg, level) => {
    const closure = [{ closed: ['A1'], shunt_fraction: 0.04, mean_pa_pressure_mmhg }];
    const found = item('pressure-after-closure', {}, {}, { closure });
    expect(found).toMatchObject({ level, because: expect.stringContaining('predicted shunt 4.0 %') });
  });

  it('a borderline choice', () => {
    const input = inputOf(row());
    const devices = { A1: { ...input.devices?.A1, alternates: [], rejected: [], borderline: true } };
    const found = seen(buildChecklist({ ...input, devices })).checklist.find(
      (entry) => entry.id === 'borderline-item',
    );
    expect(found).toMatchObject({ level: 'caution', because: 'borderline: A1' });
  });

  it.each([
    [29.9, 80, 'stop'],
    [30, 30, 'caution'],
    [60, 80, 'caution'],
    [60.1, 60.1, 'ok'],
  ])('lung function %f / %f: %s', (predicted_fev1_percent, predicted_dlco_percent, level) => {
    const resection = { spare: [], steps: [], predicted_fev1_percent, predicted_dlco_percent };
    expect(item('lung-function', {}, {}, { resection })?.level).toBe(level);
    const half = { spare: [], steps: [], predicted_fev1_percent: 70 };
    expect(item('lung-function', {}, {}, { resection: half })).toMatchObject({
      level: 'caution',
      because: expect.stringMatching(/DLCO not stated: ask for what is not stated/),
    });
  });

  it('a low normal haemoglobin is not OK in a hypoxaemic patient, by saturation or by shunt', () => {
    const iron = (haemoglobinGDl: number, so2Fraction?: number, fraction?: number) =>
      item(
        'iron',
        {
          patient: WOMAN,
          blood: { haemoglobinGDl },
          gases:
            so2Fraction === undefined
              ? []
              : [
                  {
                    name: 'air',
                    when: 'before',
                    site: 'arterial',
                    fio2: 0.21,
                    so2Fraction,
                    path: 'gases[0]',
                  },
                ],
        },
        {},
        fraction === undefined ? {} : { shunt: { fraction, method: 'content', assumed: [] } },
      );
    expect(iron(13.9, 0.939)).toMatchObject({
      level: 'caution',
      because: expect.stringContaining('low for a hypoxaemic patient'),
    });
    expect(iron(13.9, 0.94)?.level).toBe('note');
    expect(iron(14, 0.9)?.level).toBe('note');
    expect(iron(13.9, undefined, 0.15)?.level).toBe('caution');
    expect(iron(13.9, undefined, 0.149)?.level).toBe('note');
    expect(iron(11.9, 0.99)?.because).toContain('low (below 12.0 g/dL, women from 15 years, WHO 2024)');
  });

  it('quotes the patient’s own values', () => {
    const gases = [
      { name: 'air', when: 'before', site: 'arterial', fio2: 0.21, so2Fraction: 0.88, path: 'gases[0]' },
    ] as const;
    const patientCase = { gases: [...gases], surgery: { oneLungVentilation: 'yes' } } as const;
    const shunt = { fraction: 0.284, method: 'content', assumed: [] } as const;
    expect(
      item('one-lung', { ...patientCase, gases: [...gases] }, {}, { shunt: { ...shunt, assumed: [] } }),
    ).toMatchObject({
      level: 'caution',
      because: 'the case says that it is possible; saturation on air 88.0 %',
    });
    expect(item('air', {}, {}, { shunt: { ...shunt, assumed: [] } })?.because).toBe('shunt 28.4 %');
    expect(
      item('pulmonary-pressure', {
        circulation: { meanPaPressureMmHg: 25, wedgePressureMmHg: 10, cardiacOutputLMin: 6 },
      })?.because,
    ).toContain('resistance 2.5');
    expect(item('contrast-volume', { patient: patient({ egfrMlMin173: 60 }) })?.because).toMatch(
      /smallest limit 106 mL \(Nie 2021 106 mL, Nyman 2008 171 mL, ESUR 10\.0 180 mL, ESUR 10\.0 by iodine 188 mL, Laskey 2007 222 mL/,
    );
  });
});

it('contrast-prophylaxis-egfr: prophylaxis is considered below it, and only there', () => {
  const limit = numberOf(RULES, 'contrast-prophylaxis-egfr');
  const because = (egfrMlMin173: number, rules = RULES) =>
    list({ patient: patient({ egfrMlMin173 }) }, {}, { rules }).checklist.find(
      ({ id }) => id === 'contrast-volume',
    )?.because;
  expect(because(limit - 0.1)).toContain(`below ${limit} mL/min/1.73m2: consider prophylaxis`);
  expect(because(limit)).not.toContain('prophylaxis');
  expect(because(limit, withNumber('contrast-prophylaxis-egfr', limit + 1))).toContain('prophylaxis');
});

describe('Curacao score (Shovlin et al., Am J Med Genet 2000;91:66)', () => {
  const score = (hht: Patient['hht'], history: string[] = []) =>
    curacao({ patient: patient({ hht, history }) }, RULES);
  it.each([
    [{}, [], 1, 3, 'unlikely'],
    [{ epistaxis: 'yes' }, [], 2, 2, 'possible'],
    [{ epistaxis: 'yes', telangiectasia: 'yes' }, [], 3, 1, 'definite'],
    [
      { epistaxis: 'no', telangiectasia: 'no', firstDegreeRelative: 'no', visceralLesion: 'no' },
      [],
      1,
      0,
      'unlikely',
    ],
    [{ epistaxis: 'yes', telangiectasia: 'yes', firstDegreeRelative: 'yes' }, [], 4, 0, 'definite'],
    [{ epistaxis: 'unknown' }, ['epistaxis', 'hht-family'], 3, 1, 'definite'],
  ] as const)('%j %j', (hht, history, wanted, open, reading) => {
    expect(score(hht, [...history])).toEqual({ score: wanted, open, reading });
  });
});
