import { describe, expect, it } from 'vitest';
import type { Case, GasSample } from '../../src/case/case.js';
import { assembleResult, type PlanBasis } from '../../src/plan/assemble-result.js';
import { bodyFacts } from '../../src/plan/body-facts.js';
import { contrastLimits } from '../../src/plan/checklist-contrast.js';
import { curacao } from '../../src/plan/checklist-curacao.js';
import { feedersToClose } from '../../src/plan/feeders-to-close.js';
import { readShrinkage } from '../../src/plan/follow-up-shrinkage.js';
import { haemoglobinReading } from '../../src/plan/haemoglobin.js';
import { lesionKind } from '../../src/plan/lesion-kind.js';
import { isNoneOpen, isTreated } from '../../src/plan/none-open.js';
import { planReadiness } from '../../src/plan/readiness.js';
import { type PlanInput, planFacts } from '../../src/plan/readiness-facts.js';
import { scanAdvice } from '../../src/plan/scan-advice.js';
import { urgentPlan } from '../../src/plan/urgent.js';
import { STANDING_CAUTIONS } from '../../src/result/cautions.js';
import type { Device, Result } from '../../src/result/result.generated.js';
import { numberOf } from '../../src/rules/rule.js';
import { plug } from '../devices/make.js';
import { sampleOf } from '../physiology/make.js';
import { landing, lesionOf, makeCase, vessel } from '../resection/make.js';
import { inputOf, RULES, row } from './make.js';

const patient = (more: Partial<Case['patient']> = {}): Case['patient'] => ({
  history: [],
  hht: {},
  spirometry: {},
  ...more,
});
const mesh = { relative: 'a.stl', absolute: 'a.stl' };
type Part = NonNullable<NonNullable<Case['surfaces']>['parts']>[number];
const part = (name: string, role: Part['role'], more: Partial<Part> = {}): Part => ({
  name,
  role,
  mesh,
  spare: false,
  path: 'p',
  ...more,
});
const surfaces = (...parts: Part[]): Case['surfaces'] => ({ unit: 'mm', unitMm: 1, frame: 'LPS', parts });

describe('the result', () => {
  const resultOf = (more: Partial<PlanBasis> = {}, patientCase: Partial<Case> = {}): Result =>
    assembleResult({
      case: makeCase({ surfaces: surfaces(part('A1', 'feeder')), ...patientCase }),
      lesion: lesionOf([vessel('A1')]),
      rules: RULES,
      findings: [],
      inputs: [],
      version: '1.2.3',
      ...more,
    }).result;

  it('names each surface with a stop once, and none with anything less', () => {
    const finding = (level: 'stop' | 'caution', where: string) => ({ id: 'x', level, where, text: 'y' });
    const { because } = resultOf({
      findings: [
        finding('stop', 'A1'),
        finding('caution', 'V1'),
        finding('stop', 'sac'),
        finding('stop', 'A1'),
      ],
    }).readiness;
    expect(because.join()).toContain('there is a stop for A1, sac.');
    expect(resultOf().readiness.because.join()).not.toContain('there is a stop for');
  });

  it('has only findings among its findings, and the standing cautions', () => {
    const result = resultOf({ lesion: lesionOf([vessel('A1'), vessel('A2', { landing: undefined })]) });
    for (const { id, level, where, text } of result.findings) {
      expect(id).toMatch(/^[a-z0-9-]+$/);
      expect(['stop', 'caution', 'note']).toContain(level);
      expect(typeof where).toBe('string');
      expect(text.length).toBeGreaterThan(10);
    }
    expect(result.cautions).toEqual(STANDING_CAUTIONS);
    expect(result.findings.filter(({ id }) => id.startsWith('landing'))).toEqual([]);
  });

  it('landing zones are those of feeders', () => {
    const absent = { landing: undefined, landingAbsentBecause: 'no reason' };
    const result = resultOf({ lesion: lesionOf([vessel('A1'), vessel('V1', { role: 'drain', ...absent })]) });
    expect(result.findings.filter(({ id }) => id === 'landing-zone-absent')).toEqual([]);
  });

  it('the stock on the shelf is used in the hour of a bleed', () => {
    // 8.6 mm on 6.2 mm is 38.7 % over, within the 30 to 50 % of a plug
    const shelf = { devices: [plug(8.6, { nickel: 'no' })] };
    expect(resultOf({ shelf }).urgent?.device_code).toBe('PLUG-8.6');
    expect(resultOf().urgent?.device_code).toBeNull();
    const allergic = patient({ allergies: ['nickel'] });
    const nickel = { devices: [plug(8.6, { nickel: 'yes' }), plug(8.7, { nickel: 'no' })] };
    expect(resultOf({ shelf: nickel }, { patient: allergic }).urgent?.device_code).toBe('PLUG-8.7');
  });

  it('the nickel of a chosen device is that of the shelf, and unknown where it does not say', () => {
    const because = (nickel: 'yes' | 'no' | undefined) =>
      resultOf(
        { shelf: { devices: [plug(8.6, { nickel })] } },
        { patient: patient({ allergies: ['nickel'] }), shelf: mesh },
      ).checklist.find(({ id }) => id === 'nickel')?.because;
    expect(because('no')).toMatch(/the chosen devices contain none$/);
    expect(because(undefined)).toMatch(/nickel of the devices: unknown$/);
  });

  it('shunts before and after a treatment give the change', () => {
    const result = resultOf(
      {},
      {
        lesion: { side: 'left', lobe: 'lower', segments: [], treated: '2026-01-02' },
        scan: { date: '2026-03-14' },
        blood: { haemoglobinGDl: 15 },
        gases: [
          sampleOf({ name: 'one', po2MmHg: 160, when: 'before' }),
          sampleOf({ name: 'two', po2MmHg: 400, when: 'after', path: 'gases[1]' }),
        ],
      },
    );
    const [before, after] = [result.shunt!.fraction!, result.shunt_after!.fraction!];
    expect(Math.abs(result.shunt_change!.change)).toBeCloseTo(before - after, 9);
    const [low, high] = result.shunt_change!.interval!;
    expect(low).toBeLessThan(result.shunt_change!.change);
    expect(high).toBeGreaterThan(result.shunt_change!.change);
    expect(resultOf()).not.toHaveProperty('shunt_change');
  });

  it('plan B has its steps with the lung function after it', () => {
    const { resection } = resultOf(
      {},
      { patient: patient({ spirometry: { fev1Percent: 95, dlcoPercent: 76 } }) },
    );
    // the left lower lobe has 4 of the 19 segments
    expect(resection?.predicted_fev1_percent).toBeCloseTo((95 * 15) / 19, 6);
    expect(resection?.predicted_dlco_percent).toBeCloseTo((76 * 15) / 19, 6);
    expect(resection?.steps?.length).toBeGreaterThan(3);
    const poor = (fev1Percent: number) =>
      resultOf({}, { patient: patient({ spirometry: { fev1Percent } }) }).resection?.steps?.map(
        ({ id }) => id,
      );
    const limit = (numberOf(RULES, 'breathless-predicted-function') * 19) / 15;
    expect(poor(limit - 0.1)).toContain('step-poor-function');
    expect(poor(limit + 0.1)).not.toContain('step-poor-function');
  });

  it('an unlisted branch does not say whether it is to be spared', () => {
    const branch = vessel('unnamed-1', { role: 'branch', neck: undefined, landing: undefined });
    const { vessels } = resultOf({ lesion: lesionOf([vessel('A1'), branch]) });
    expect(vessels['unnamed-1']).toMatchObject({ role: 'branch' });
    for (const key of ['spare', 'of', 'supplies']) expect(vessels['unnamed-1']).not.toHaveProperty(key);
    const bare = resultOf({}, { surfaces: undefined });
    expect(Object.keys(bare.vessels)).toEqual(['A1']);
  });
});

describe('the feeders to be closed', () => {
  const zone = landing({ calibreMm: 6, calibreIntervalMm: [5.5, 6.5], imageCalibreMm: 4 });
  const closed = (interval: [number, number] | undefined) =>
    feedersToClose(
      lesionOf([
        vessel('A1', { landing: { ...zone, ...(interval && { imageCalibreIntervalMm: interval }) } }),
        vessel('V1', { role: 'drain' }),
        vessel('S1', { role: 'systemic-feeder' }),
        vessel('A2', { landing: undefined, landingAbsentBecause: 'short' }),
      ]),
    );
  it('are the pulmonary ones, with the calibre from the image where the two disagree', () => {
    const [first, second, ...rest] = closed([3.5, 4.5]);
    expect(rest).toEqual([]);
    expect(first).toStrictEqual({
      name: 'A1',
      calibreMm: 6,
      calibreIntervalMm: [5.5, 6.5],
      largestWidthMm: zone.largestWidthMm,
      imageCalibreMm: 4,
      zoneLengthMm: zone.lengthMm,
      toSacMm: zone.toSacMm,
      sacVolumeMl: 6.1,
      absentBecause: undefined,
    });
    expect(second).toMatchObject({ name: 'A2', absentBecause: 'short' });
    expect(second).not.toHaveProperty('imageCalibreMm');
  });
  it.each<[[number, number] | undefined, boolean]>([
    [[3.5, 5.5], false],
    [[3.5, 5.49], true],
    [[6.5, 7.5], false],
    [[6.51, 7.5], true],
    [undefined, false],
  ])('image %j against 5.5 to 6.5 mm: they disagree: %s', (interval, apart) => {
    expect(Object.hasOwn(closed(interval)[0], 'imageCalibreMm')).toBe(apart);
  });
});

describe('treated or not', () => {
  it('by a date or by a sample from after it', () => {
    const of = (more: Partial<Case>) => isTreated(makeCase(more));
    expect(of({})).toBe(false);
    expect(of({ gases: [sampleOf({ when: 'before' })] })).toBe(false);
    expect(of({ gases: [sampleOf({ when: 'before' }), sampleOf({ when: 'after' })] })).toBe(true);
    expect(of({ lesion: { segments: [], treated: '2026-01-02' } })).toBe(true);
  });
  it.each<[string, Part[] | undefined, boolean]>([
    ['a feeder', [part('A1', 'feeder'), part('V1', 'drain')], false],
    ['a systemic feeder', [part('S1', 'systemic-feeder')], false],
    ['only a drain', [part('V1', 'drain')], true],
    ['nothing', [], true],
    ['no surfaces', undefined, false],
  ])('none is open with %s: %s', (_, parts, none) => {
    const lesion: Case['lesion'] = { segments: [], treated: '2026-01-02' };
    const given = parts && { surfaces: surfaces(...parts) };
    expect(isNoneOpen(makeCase({ lesion, ...given }))).toBe(none);
    expect(isNoneOpen(makeCase(given))).toBe(false);
  });
});

describe('the kind of a lesion', () => {
  const kind = (arteries: (string | undefined)[], segments: string[] = []) =>
    lesionKind(
      makeCase({
        lesion: { segments },
        surfaces: surfaces(
          part('V1', 'drain'),
          ...arteries.map((arisesFrom, i) => part(`A${i}`, 'feeder', { arisesFrom })),
        ),
      }),
    ).because;
  it('names the segments in order, or what it had to assume', () => {
    expect(kind(['A9 of the left lower lobe', 'A10b', 'A1+2c', 'A9'])).toBe(
      '4 feeding arteries of 3 segments (A1+2, A10, A9)',
    );
    expect(kind(['A1+10', 'A1'])).toBe('2 feeding arteries of 2 segments (A1, A1+10)');
    expect(kind(['A9a', 'A9c'])).toBe('2 feeding arteries of one segment (A9)');
    const assumed = /^2 feeding arteries; assumed to come from different segments/;
    for (const other of [undefined, 'the lingula', 'A99', 'A9d', 'CA9'])
      expect(kind(['A9', other])).toMatch(assumed);
    expect(lesionKind(makeCase()).because).toBe('the case names no feeder');
    expect(lesionKind(makeCase({ surfaces: undefined })).because).toBe('the case names no feeder');
  });
});

describe('contrast', () => {
  const limits = (more: Partial<Case['patient']>) => contrastLimits(patient(more), RULES);
  const small =
    'eGFR per 1.73 m2 taken as it is: without height and weight there is no absolute one, which is smaller in a small patient';
  it.each<[Partial<Case['patient']>, string[]]>([
    [{}, []],
    [{ ageYears: 40, weightKg: 60, heightCm: 165, egfrMlMin173: 80, creatinineUmolL: 90 }, []],
    [{ ageYears: 40, egfrMlMin173: 80 }, [small]],
    [{ ageYears: 40, creatinineUmolL: 90 }, ['no limit by creatinine: the weight is not given']],
    [{ creatinineUmolL: 90, weightKg: 60 }, ['no limit by creatinine: it applies from 18 years']],
    [{ ageYears: 9 }, ['no limit by weight: the weight of the child is not given']],
    [{ ageYears: 9, weightKg: 28 }, []],
    [{ ageYears: 30, pregnant: 'yes' }, []],
    [
      { ageYears: 30, pregnant: 'yes', weightKg: 60, creatinineUmolL: 60, egfrMlMin173: 90 },
      [
        'creatinine falls in pregnancy, so its limit reads too high',
        'no limit by eGFR: its formulas do not hold in pregnancy',
      ],
    ],
    [{ ageYears: 30, pregnant: 'no', weightKg: 60, creatinineUmolL: 60 }, []],
  ])('%j', (more, notes) => {
    expect(limits(more).notes).toEqual(notes);
    const said = bodyFacts(makeCase({ patient: patient(more) }), RULES)['contrast.notes'];
    expect(said).toBe(notes.map((note) => `; ${note}`).join(''));
  });

  it('kidneys without filtration, or a creatinine of zero, give no limit', () => {
    for (const none of [0, -1]) {
      expect(limits({ ageYears: 40, weightKg: 60, heightCm: 165, egfrMlMin173: none })).toEqual({
        limits: [],
        notes: [],
      });
      expect(limits({ ageYears: 40, weightKg: 60, creatinineUmolL: none })).toEqual({
        limits: [],
        notes: [],
      });
    }
  });
});

describe('shrinkage', () => {
  const success = () => numberOf(RULES, 'shrinkage-success');
  const pair = (percent: number) => ({ before: 100, after: 100 - percent });
  const read = (vein: number | undefined, sac: number | undefined) =>
    readShrinkage(
      { ...(vein !== undefined && { veinMm: pair(vein) }), ...(sac !== undefined && { sacMm: pair(sac) }) },
      RULES,
    )!;

  it('both sizes, in words and as numbers', () => {
    expect(read(80, 75)).toEqual({
      veinPercent: 80,
      sacPercent: 75,
      reading: 'closed',
      text: 'Mean calibre of the draining vein 80.0 % smaller (100.0 to 20.0 mm), longest diameter of the sac 75.0 % smaller (100.0 to 25.0 mm): closed, meets the 70 % rule. Shrinkage does not replace angiography.',
    });
    expect(read(undefined, -10)).toStrictEqual({
      sacPercent: -10,
      reading: 'persistence likely',
      text: 'Longest diameter of the sac 10.0 % larger (100.0 to 110.0 mm): persistence likely, fails the 70 % rule. Shrinkage does not replace angiography.',
    });
    expect(read(0, undefined).text).toContain('0.0 % smaller (100.0 to 100.0 mm)');
    expect(read(80, undefined)).not.toHaveProperty('sacPercent');
  });

  it.each<[number | undefined, number | undefined, string, boolean]>([
    // the worse of the two counts, whichever it is; one of them is enough for the rule
    [80, 10, 'persistence likely', true],
    [10, 80, 'persistence likely', true],
    [80, 65, 'probably closed', true],
    [50, 80, 'probably closed', true],
    [50, 65, 'probably closed', false],
    [35, 80, 'indeterminate', true],
    [undefined, 70, 'closed', true],
    [70, undefined, 'closed', true],
    [69.9, undefined, 'probably closed', false],
  ])('vein %d %%, sac %d %%: %s; the rule is met: %s', (vein, sac, reading, meets) => {
    expect(success()).toBe(70);
    const found = read(vein, sac);
    expect(found.reading).toBe(reading);
    expect(found.text.includes('meets the 70 % rule')).toBe(meets);
  });

  it('a previous size of zero gives no percentage and no words', () => {
    const none = { before: 0, after: 1 };
    expect(readShrinkage({ veinMm: none, sacMm: pair(80) }, RULES)?.text).toMatch(/^Longest diameter/);
    expect(readShrinkage({ veinMm: pair(80), sacMm: none }, RULES)?.text).toMatch(/20\.0 mm\): closed/);
    expect(readShrinkage({ sacMm: none }, RULES)).toBeUndefined();
  });
});

describe('haemoglobin and the Curacao criteria', () => {
  const group = (more: Partial<Case['patient']>) =>
    haemoglobinReading({ patient: patient(more), blood: {} }, RULES);
  it('groups for adults, and no upper limit for young children', () => {
    expect(group({ ageYears: 15, sex: 'male' })?.group).toBe('men from 15 years');
    expect(group({ ageYears: 15, sex: 'female' })?.group).toBe('women from 15 years');
    expect(group({ ageYears: 15 })?.group).toBe('15 years and over, sex not stated');
    for (const ageYears of [1, 4, 5.9]) expect(group({ ageYears })).not.toHaveProperty('highGDl');
    expect(group({ ageYears: 6 })).toHaveProperty('highGDl');
  });

  it('an answer of unknown is no answer', () => {
    const open = (hht: Case['patient']['hht']) => curacao({ patient: patient({ hht }) }, RULES);
    expect(open({})).toMatchObject({ score: 1, open: 3 });
    expect(open({ epistaxis: 'unknown', telangiectasia: 'no', firstDegreeRelative: 'yes' })).toMatchObject({
      score: 2,
      open: 1,
    });
    const answered = (hht: Case['patient']['hht']) =>
      planFacts(inputOf(row(), { patient: patient({ hht }) }))['curacao.answered'];
    expect(answered({})).toBe('3 of 4 criteria not answered');
    expect(answered({ epistaxis: 'no', telangiectasia: 'no', firstDegreeRelative: 'no' })).toBe(
      'every criterion answered',
    );
  });
});

describe('facts', () => {
  const facts = (more = {}, patientCase: Partial<Case> = {}, extra: Partial<PlanInput> = {}) =>
    planFacts({ ...inputOf(row(more), patientCase), ...extra });

  it('the team, the blood, the anticoagulant', () => {
    const team = ['surgeon', 'hyperbaric_centre'].map((role) => ({ role, contact: '5550100' }));
    expect(facts({}, { team })['team.hyperbaric']).toBe('yes');
    expect(facts({}, { team: team.slice(0, 1) })['team.hyperbaric']).toBeUndefined();
    expect(facts({}, { blood: { haematocritFraction: 0.58 } })['patient.haematocrit']).toBeCloseTo(58, 9);
    const text = (more: Partial<Case['patient']>) =>
      facts({}, { patient: patient(more) })['patient.anticoagulant'];
    expect(text({ anticoagulated: 'yes' })).toBe('agent, dose and last dose not stated');
    expect(text({ anticoagulated: 'no' })).toBeUndefined();
    expect(text({ anticoagulated: 'yes', anticoagulant: { agent: 'x', lastDose: '2026-03-01' } })).toBe(
      'x, last dose 2026-03-01',
    );
  });

  it('an unmeasured feeder is closed by no stock, and has no landing zone', () => {
    const two = { surfaces: surfaces(part('A1', 'feeder'), part('A2', 'feeder'), part('V1', 'drain')) };
    expect(facts({}, two)).toMatchObject({
      'stock.lacks': 1,
      'stock.lacks_names': ['A2 (not measured)'],
      'landing.missing': 1,
      'landing.missing_names': ['A2 (not measured)'],
    });
    expect(facts({}, two, { lesion: undefined })).toMatchObject({ 'stock.lacks': 0 });
    expect(facts()).toMatchObject({ 'stock.lacks': 0, 'landing.missing': 0 });
  });

  it('calibres and counts are those of feeders and of drains', () => {
    const wide = { landing: undefined, calibreMm: { min: 20, mean: 21, max: 22 } };
    const lesion = lesionOf([
      vessel('A1'),
      vessel('B1', { role: 'branch', ...wide }),
      vessel('V1', { role: 'drain', landing: undefined, calibreMm: { min: 7, mean: 8, max: 9 } }),
      vessel('S1', { role: 'systemic-feeder', ...wide }),
    ]);
    const found = facts({}, {}, { lesion });
    expect(found).toMatchObject({
      'lesion.feeders': 1,
      'lesion.largest_feeder': 6.2,
      'lesion.largest_drain': 8,
      'landing.missing': 0,
    });
    expect(facts({}, {}, { lesion: lesionOf([]) })['lesion.largest_drain']).toBeUndefined();
  });

  it('bleeding has a time only where it bleeds or may bleed', () => {
    const when = (bleeding?: Case['bleeding']) => facts({}, bleeding && { bleeding })['bleeding.when'];
    expect(when({ now: 'yes' })).toBe('now');
    expect(when({ now: 'no', within24h: 'yes' })).toBe('within 24 hours');
    expect(when({ now: 'no' })).toBe('at a time not stated');
    expect(when({ now: 'no', within24h: 'no' })).toBeUndefined();
    expect(when()).toBeUndefined();
  });

  const shunt = (fraction: number): Result['shunt'] => ({ fraction, method: 'content', assumed: [] });
  it('the shunt that counts is that of the visit', () => {
    const both = { shunt: shunt(0.5), shuntAfter: shunt(0.2) };
    const circulation = { meanPaPressureMmHg: 20, wedgePressureMmHg: 8, cardiacOutputLMin: 6 };
    const found = (baseline?: 'before' | 'after') => facts({}, { circulation }, { ...both, baseline });
    // (20 - 8) / (6 · (1 - shunt))
    expect(found('before')['circulation.bed_resistance']).toBeCloseTo(4, 9);
    expect(found('after')['circulation.bed_resistance']).toBeCloseTo(2.5, 9);
    expect(found('before')).toMatchObject({ 'shunt.percent': 50, 'shunt.words': '50.0 %' });
    expect(found()).toMatchObject({ 'shunt.percent': 50 });
    expect(found('after')).toMatchObject({ 'shunt.percent': 20, 'shunt.words': '20.0 %' });
  });

  it('the saturation on air is that of an arterial sample on air of the visit', () => {
    const air = (more: Partial<GasSample>): GasSample => sampleOf({ fio2: 0.21, so2Fraction: 0.9, ...more });
    const of = (gases: GasSample[], baseline: 'before' | 'after' = 'before', more: Partial<Case> = {}) =>
      facts({}, { gases, ...more }, { baseline });
    const key = 'shunt.room_air_saturation';
    expect(of([air({})])[key]).toBeCloseTo(90, 9);
    for (const other of [
      air({ when: 'after' }),
      air({ site: 'mixed-venous' }),
      air({ so2Fraction: undefined }),
      air({ fio2: 1 }),
    ])
      expect(of([other])[key]).toBeUndefined();
    expect(of([air({ so2Fraction: 0.8 }), air({ when: 'after' })], 'after')[key]).toBeCloseTo(90, 9);
    // a date takes precedence over what the case calls it
    const dated = { lesion: { segments: [], treated: '2026-02-01' }, scan: { date: '2026-03-14' } };
    const late = air({ when: 'before', on: '2026-02-20' });
    expect(of([late], 'after', dated)[key]).toBeCloseTo(90, 9);
    expect(of([late], 'before', dated)[key]).toBeUndefined();
    expect(of([air({ so2Fraction: undefined }), air({})])[key]).toBeCloseTo(90, 9);
    expect(of([air({})])['patient.usual_saturation']).toBeCloseTo(90, 9);
  });

  it('a closure of the lobe is not one of the feeders, whatever they are called', () => {
    const lesion = lesionOf([vessel('lobe')]);
    const closure: Result['closure'] = [{ closed: 'lobe', shunt_fraction: 0.01 }];
    expect(facts({}, {}, { lesion, closure })['closure.shunt_words']).toBeUndefined();
  });

  it('devices: late is after the planned date, not on it; without a shelf or a device plan there are none', () => {
    const device: Device = {
      window_mm: [1, 2],
      code: 'X',
      alternates: [],
      rejected: [],
      borderline: false,
      on_shelf: true,
    };
    const on = (ready_by: string) =>
      facts({}, {}, { devices: { A1: { ...device, ready_by } } })['devices.late'];
    // planned for 2026-04-02
    expect([on('2026-04-01'), on('2026-04-02'), on('2026-04-03')]).toEqual(['no', 'no', 'yes']);
    for (const [more, extra, shelf] of [
      [{ shelf: '' }, {}, 'no'],
      [{}, { devices: undefined }, 'yes'],
    ] as const) {
      const found = facts(more, {}, extra);
      expect(found['devices.shelf']).toBe(shelf);
      expect(found['devices.none']).toBeUndefined();
      expect(found['devices.feeders']).toBeUndefined();
    }
  });
});

describe('why there is no date for plan A', () => {
  const device = (code?: string): Device =>
    ({ ...(code && { code, window_mm: [8, 9] }), alternates: [], rejected: [], borderline: false }) as Device;
  const why = (more = {}, extra: Partial<PlanInput> = {}, patientCase: Partial<Case> = {}) =>
    planReadiness({ ...inputOf(row(more), patientCase), ...extra }).readiness.plan_a.ready_by_absent_because;
  it.each<[string, object, Partial<PlanInput>, string | undefined]>([
    ['a date', {}, {}, undefined],
    ['no open feeder', { feeders: 'closed' }, {}, 'there is no open feeder'],
    ['no device plan', {}, { devices: undefined }, 'no feeder was measured'],
    ['no feeder', { feeders: '' }, {}, 'no feeder was measured'],
    ['no shelf', { shelf: '' }, {}, 'no shelf was given'],
    ['no device', { feeders: '6.2:20 5:20' }, {}, 'no device for A2'],
    [
      'no devices',
      {},
      { devices: { A1: { ...device(), window_mm: [1, 2] }, A2: device('X') } },
      'no device for A1',
    ],
    [
      'no date for today',
      {},
      { devices: { A1: device('X') }, today: undefined },
      'there is no date to count lead times from',
    ],
    [
      'an impossible date',
      {},
      { devices: { A1: device('X') }, today: '2026-02-31' },
      'there is no date to count lead times from',
    ],
    [
      'no shelf, although a device has a date',
      { shelf: '' },
      { devices: { A1: { ...device('Y'), ready_by: '2026-04-02' } } },
      'no shelf was given',
    ],
    [
      'no lead time',
      {},
      { devices: { A1: device('X'), A2: { ...device('Y'), ready_by: '2026-04-02' } } },
      'the shelf gives no lead time for X (A1)',
    ],
  ])('%s', (_, more, extra, because) => expect(why(more, extra)).toBe(because));
});

describe('readiness', () => {
  it('has the order list and the best option for today where there are any', () => {
    const of = (extra: object) => planReadiness({ ...inputOf(row()), ...extra }).readiness;
    const orderList = [{ code: 'X', pieces: 1 }];
    const bestToday = [{ feeder: 'A1', code: 'PLUG-8.6' }];
    expect(of({ orderList, bestToday })).toMatchObject({ order_list: orderList, best_today: bestToday });
    const bare = of({ orderList: undefined, bestToday: undefined });
    for (const key of ['order_list', 'best_today']) expect(bare).not.toHaveProperty(key);
  });

  it('asks about a bleed in the words of the case', () => {
    const asked = (patientCase: Partial<Case>) =>
      planReadiness(inputOf(row(), patientCase)).findings.find(({ id }) => id === 'bleeding-not-stated')
        ?.text;
    expect(asked({ patient: patient({ history: ['haemoptysis', 'haemothorax'] }) })).toMatch(
      /^The history lists haemoptysis, haemothorax\. Does it bleed now/,
    );
    expect(asked({ bleeding: { now: 'no' } })).toMatch(/^The case gives a bleed without saying when\. /);
    expect(asked({})).toBeUndefined();
  });
});

it('slices are judged by the thinnest feeder, not by another vessel', () => {
  const thin = (name: string, role: 'feeder' | 'drain', mean: number) =>
    vessel(name, { role, landing: undefined, calibreMm: { min: mean, mean, max: mean } });
  const said = (...vessels: Parameters<typeof scanAdvice>[1]) =>
    scanAdvice(makeCase({ scan: { sliceThicknessMm: 1 } }), vessels, RULES).map(({ where }) => where);
  const slices = numberOf(RULES, 'scan-thinnest-slices');
  expect(said(thin('A1', 'feeder', slices), thin('V1', 'drain', slices / 2))).toEqual([]);
  expect(said(thin('A1', 'feeder', slices), thin('A2', 'feeder', slices - 0.1))).toEqual(['A2']);
  expect(said(thin('V1', 'drain', slices / 2))).toEqual([]);
});

describe('the hour of a bleed', () => {
  const urgentOf = (
    lesion = lesionOf([vessel('A1')]),
    order: string[] = [],
    patientCase: Partial<Case> = {},
  ) => urgentPlan({ ...inputOf(row(), patientCase), lesion, order }).urgent;

  it('starts with the largest share of flow; a feeder without a share comes later, the widest first', () => {
    const names = (order: string[]) =>
      urgentOf(
        lesionOf([
          vessel('V1', { role: 'drain', landing: landing({ calibreMm: 20 }) }),
          vessel('A1', { landing: landing({ calibreMm: 4 }) }),
          vessel('A2', { landing: landing({ calibreMm: 5 }) }),
          vessel('A3', { landing: landing({ calibreMm: 6 }) }),
        ]),
        order,
      ).feeders.map(({ name }) => name);
    expect(names([])).toEqual(['A3', 'A2', 'A1']);
    expect(names(['A1'])).toEqual(['A1', 'A3', 'A2']);
    expect(names(['A2', 'A1', 'A3'])).toEqual(['A2', 'A1', 'A3']);
  });

  it('clamps in the middle of the zone of the first feeder', () => {
    const room = '(two clamps and a cuff need';
    const two = lesionOf([
      vessel('A1', { landing: landing({ calibreMm: 4, fromMm: 2, toMm: 12, lengthMm: 10 }) }),
      vessel('A2', { landing: landing({ calibreMm: 6, fromMm: 22, toMm: 40, lengthMm: 18 }) }),
    ]);
    const site = (order: string[]) => urgentOf(two, order).clamp_site;
    expect(site([])).toContain(
      `left main pulmonary artery, taped first; then A2 in the middle of its landing zone, 31.0 mm from its far end, 18.0 mm of zone ${room}`,
    );
    expect(site(['A1', 'A2'])).toContain(
      'then A1 in the middle of its landing zone, 7.0 mm from its far end',
    );
    const nowhere = urgentOf(two, [], { lesion: { segments: [] } }).clamp_site;
    expect(nowhere).toMatch(/^main pulmonary artery of the side, taped first; then A2/);
    const bare = urgentOf(lesionOf([])).clamp_site;
    expect(bare).toBe('left main pulmonary artery, taped first; no landing zone was measured to clamp on');
  });

  it('without a team everybody has to be found', () => {
    expect(urgentOf().call).toEqual(
      ['interventionist', 'surgeon', 'anaesthesia', 'blood_bank', 'hyperbaric_centre'].map((role) => ({
        role,
      })),
    );
  });
});
