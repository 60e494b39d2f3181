import { describe, expect, it } from 'vitest';
import type { Case } from '../../src/case/case.js';
import { closureCirculation, pressureFindings } from '../../src/physiology/closure-circulation.js';
import { type ClosureInput, closureTable } from '../../src/physiology/closure-table.js';
import type { Closure, Shunt } from '../../src/result/result.generated.js';
import { closureCaseOf, feedersOf, RULES, vesselOf } from './make.js';

const SHUNT: Shunt = {
  fraction: 0.3,
  interval: [0.26, 0.35],
  method: 'content',
  sample: 'on-oxygen',
  assumed: [],
};
type Given = Partial<ClosureInput['case']>;
/** Without haemoglobin: no saturation is searched for, and a table takes a millisecond. */
const caseOf = (given: Given = {}) => closureCaseOf({ blood: {}, ...given });
const table = (feeders: string, given: Given = {}, more: Partial<ClosureInput> = {}) =>
  closureTable({ vessels: feedersOf(feeders), shunt: SHUNT, case: caseOf(given), rules: RULES, ...more });
type Table = ReturnType<typeof table>;
const row = ({ rows }: Table, ...closed: string[]): Closure =>
  rows.find((one) => (closed[0] === 'lobe' ? one.closed === 'lobe' : String(one.closed) === closed.join()))!;
const named = ({ rows }: Table): string[] =>
  rows.map(({ closed }) => (closed === 'lobe' ? 'lobe' : closed.join('+')));
const said = ({ findings }: Table, id: string): string[] =>
  findings.filter((one) => one.id === id).map(({ level, where, text }) => `${level} ${where} ${text}`);
const leftOf = (f: number, w: number): number => (f * (1 - w)) / (1 - f * w);
/** Poiseuille's share of A1 among feeders of equal length, and Murray's. */
const POISEUILLE = 6 ** 4 / (6 ** 4 + 4 ** 4);
const MURRAY = 6 ** 3 / (6 ** 3 + 4 ** 3);

describe('the row of a set of feeders', () => {
  const two = () => table('6x60 4x60');

  it.each([
    [['A1'], POISEUILLE, MURRAY],
    [['A2'], 1 - POISEUILLE, 1 - MURRAY],
  ])('%s: f (1 - w) / (1 - f w), and in its interval that of the other law', (closed, share, other) => {
    const found = row(two(), ...closed);
    expect(found.shunt_fraction).toBeCloseTo(leftOf(0.3, share), 5);
    const [low, high] = found.intervals!.shunt_fraction!;
    expect(low).toBeLessThanOrEqual(Math.min(leftOf(0.3, share), leftOf(0.3, other)) + 1e-5);
    expect(high).toBeGreaterThanOrEqual(Math.max(leftOf(0.3, share), leftOf(0.3, other)) - 1e-5);
  });

  it('pressure and output: the remaining bed carries what the shunt no longer does', () => {
    const found = row(two(), 'A1');
    const rise = (1 - leftOf(0.3, POISEUILLE)) / 0.7;
    expect(found.mean_pa_pressure_mmhg).toBeCloseTo(8 + 8 * rise, 2);
    expect(found.cardiac_output_l_min).toBeCloseTo(6 / rise, 3);
    const [low, high] = found.intervals!.mean_pa_pressure_mmhg!;
    // the measured pressures are known to 1.5 mmHg each: about 3 mmHg either way, times the rise
    expect(low).toBeLessThan(8 + 8 * rise - 2);
    expect(low).toBeGreaterThan(8 + 8 * rise - 8);
    expect(high).toBeGreaterThan(8 + 8 * rise + 2);
    expect(high).toBeLessThan(8 + 8 * rise + 8);
    const [least, most] = found.intervals!.cardiac_output_l_min!;
    expect(least).toBeLessThan(6 / rise - 1);
    expect(least).toBeGreaterThan(6 / rise - 4);
    expect(most).toBeGreaterThan(6 / rise + 1);
    expect(most).toBeLessThan(6 / rise + 4);
  });

  it('remaining flow: the feeders left open, with their previous shares by both laws', () => {
    const found = row(two(), 'A1').remaining!;
    expect(Object.keys(found)).toEqual(['A2']);
    expect(found.A2.flow_l_min).toBeCloseTo(6 * leftOf(0.3, POISEUILLE), 3);
    expect(found.A2.share).toBeCloseTo(1 - POISEUILLE, 4);
    expect(found.A2.share_range![0]).toBeCloseTo(1 - POISEUILLE, 4);
    expect(found.A2.share_range![1]).toBeCloseTo(1 - MURRAY, 4);
    expect(row(two(), 'A1', 'A2').remaining).toEqual({});
    expect(row(two(), 'lobe').remaining).toBeUndefined();
    const large = row(two(), 'A2').remaining!.A1;
    expect(large.share_range![0]).toBeCloseTo(MURRAY, 4);
    expect(large.share_range![1]).toBeCloseTo(POISEUILLE, 4);
  });

  it('partially: half of both is half the share of all', () => {
    const half = table('6x60 4x60', {}, { occlusion: 0.5 });
    const found = row(half, 'A1', 'A2');
    expect(found.occlusion_percent).toBe(50);
    expect(found.shunt_fraction).toBeCloseTo(leftOf(0.3, 0.5), 5);
    expect(Object.keys(found.remaining!)).toEqual(['A1', 'A2']);
    expect(row(half, 'lobe').occlusion_percent).toBeUndefined();
    expect(row(half, 'lobe').shunt_fraction).toBeCloseTo(0.027, 5);
    // what a missed feeder leaves is given only where the others are closed completely
    expect(said(half, 'missed-feeder')).toEqual([]);
    expect(row(two(), 'A1', 'A2').occlusion_percent).toBeUndefined();
    for (const occlusion of [-0.01, 1.01, Number.NaN])
      expect(() => table('6x60', {}, { occlusion })).toThrow('it is from 0 to 1');
    for (const occlusion of [0, 1]) expect(table('6x60', {}, { occlusion }).rows).toHaveLength(2);
  });

  it('the lobe takes its segments of the bed with it: four of nineteen on the lower left', () => {
    const lobe = row(two(), 'lobe');
    const rise = (1 - 0.027) / (0.7 * (15 / 19));
    expect(lobe.mean_pa_pressure_mmhg).toBeCloseTo(8 + 8 * rise, 2);
    expect(lobe.cardiac_output_l_min).toBeCloseTo(6 / rise, 3);
    expect(lobe.assumed).toContain('the resection takes 21.1 % of the normal bed with it, by segments');
    expect(row(two(), 'A1').assumed?.join()).not.toContain('resection');
    const unknown = table('6x60 4x60', { lesion: { segments: [] } as unknown as Case['lesion'] });
    expect(row(unknown, 'lobe').mean_pa_pressure_mmhg).toBeUndefined();
    expect(row(unknown, 'lobe').assumed).toContain(
      'the side is not given: pressure and output after the resection are not predicted',
    );
    expect(row(unknown, 'A1').mean_pa_pressure_mmhg).toBeDefined();
  });

  it('only the requested sets', () => {
    expect(named(two())).toEqual(['A1', 'A2', 'A1+A2', 'lobe']);
    expect(named(table('6x60 4x60', {}, { sets: [['A2'], 'lobe'] }))).toEqual(['A2', 'lobe']);
  });
});

describe('where a row has only its shunt', () => {
  const whole = { cardiacOutputLMin: 6, meanPaPressureMmHg: 16, wedgePressureMmHg: 8 };

  it('a shunt known exactly starts at what Poiseuille leaves and includes what Murray leaves', () => {
    const vessels = feedersOf('6x60 4x60').map((one) => ({ ...one, calibreSigmaMm: 0 }));
    const found = table('', {}, { vessels, shunt: { ...SHUNT, interval: [0.3, 0.3] } });
    expect(row(found, 'A1').intervals!.shunt_fraction![0]).toBe(row(found, 'A1').shunt_fraction);
  });

  it('no pressure where those given contradict each other, or where all of the output is shunt', () => {
    const apart = table('6x60 4x60', {
      circulation: { ...whole, wedgePressureMmHg: 16 },
      lesion: { segments: [] } as unknown as Case['lesion'],
    });
    expect(row(apart, 'A1')).not.toHaveProperty('mean_pa_pressure_mmhg');
    expect(row(apart, 'A1').assumed?.join()).not.toContain('not predicted');
    expect(row(apart, 'A1').shunt_fraction).toBeCloseTo(leftOf(0.3, POISEUILLE), 5);
    const all = table(
      '6x60 4x60',
      {},
      { shunt: { ...SHUNT, fraction: 1, interval: [1, 1] }, sets: [['A1']] },
    );
    expect(row(all, 'A1')).not.toHaveProperty('mean_pa_pressure_mmhg');
  });

  it('a pressure and no output in a child of unknown size', () => {
    const patient = { ageYears: 9, history: [], hht: {}, spirometry: {} };
    const found = table('6x60 4x60', {
      circulation: { meanPaPressureMmHg: 16, wedgePressureMmHg: 8 },
      patient,
    });
    expect(row(found, 'A1')).toHaveProperty('mean_pa_pressure_mmhg');
    expect(row(found, 'A1')).not.toHaveProperty('cardiac_output_l_min');
    expect(row(found, 'A1')).not.toHaveProperty('remaining');
    expect(said(found, 'feeder-flow')).toEqual([]);
  });

  it.each([
    [0.3, 'no shunt below the physiological 2.7 % (Whyte'],
    [0.027, 'no shunt below the physiological 2.7 % (Whyte'],
    [0.02, 'no shunt below the measured 2.0 %, which is less than the physiological 2.7 % (Whyte'],
    [0, 'closing takes nothing away, since the measured shunt cannot be told from none'],
  ])('with a shunt of %d: %s', (fraction, words) => {
    const found = table('6x60', {}, { shunt: { ...SHUNT, fraction, interval: [fraction, fraction] } });
    expect(row(found, 'A1').assumed![1].slice(0, words.length)).toBe(words);
  });

  it('saturations only with a haemoglobin', () => {
    const blood = { haemoglobinGDl: 15 };
    const with15 = table(
      '6x60 4x60',
      { blood },
      { shunt: { ...SHUNT, barometric_mmhg: 760, av_difference_ml_dl: 5 }, sets: [['A1']] },
    );
    const { so2_room_air_percent: value, intervals } = row(with15, 'A1');
    expect(value).toBeGreaterThan(intervals!.so2_room_air_percent![0]);
    expect(value).toBeLessThan(intervals!.so2_room_air_percent![1]);
    expect(row(table('6x60 4x60'), 'A1')).not.toHaveProperty('so2_room_air_percent');
  });

  it('of five feeders, one without a profile: the sets follow the order of the case', () => {
    const [first, ...others] = feedersOf('3x60 4x60 5x60 6x60 7x60');
    const found = named(table('', {}, { vessels: [{ ...first, profile: [] }, ...others] }));
    expect(found).toContain('A1+A2');
    expect(found).toContain('A1+A2+A3');
    expect(named(table('3x60 4x60 5x60 6x60 7x60'))).toContain('A4+A5');
    expect(named(table('3x60 4x60 5x60 6x60 7x60'))).not.toContain('A1+A2');
  });
});

describe('what is found besides the rows', () => {
  it('the order by share, and what each missed feeder leaves', () => {
    const found = table('4x60 6x60 5x60');
    expect(said(found, 'closure-order')).toEqual([
      'note closure By share of flow, close in the order A2, A3, A1. The team may choose another.',
    ]);
    const sum = 4 ** 4 + 6 ** 4 + 5 ** 4;
    const percent = (calibre: number): string => (100 * leftOf(0.3, 1 - calibre ** 4 / sum)).toFixed(1);
    expect(said(found, 'missed-feeder')).toEqual([
      `note A2 If A2 is missed, a shunt of ${percent(6)} % is left.`,
      `note A3 If A3 is missed, a shunt of ${percent(5)} % is left.`,
      `note A1 If A1 is missed, a shunt of ${percent(4)} % is left.`,
    ]);
    expect(found).toMatchObject({ order: ['A2', 'A3', 'A1'], before: 0.3 });
    expect(said(table('6x60'), 'closure-order')).toEqual([]);
    expect(table('6x60').findings.map(({ id }) => id)).toEqual(['closure-saturation-absent', 'feeder-flow']);
    // nothing is reported for a set that was not requested
    expect(said(table('4x60 6x60', {}, { sets: ['lobe'] }), 'missed-feeder')).toEqual([]);
  });

  it('a systemic feeder stays, and a feeder without a profile removes the shares', () => {
    const vessels = [
      ...feedersOf('6x60 4x60'),
      vesselOf('S1', 40, 3, 'systemic-feeder'),
      vesselOf('V1', 40, 9, 'drain'),
    ];
    const found = table('', {}, { vessels });
    expect(named(found)).toEqual(['A1', 'A2', 'A1+A2', 'lobe']);
    expect(said(found, 'systemic-feeder-stays')).toHaveLength(1);
    expect(said(found, 'systemic-feeder-stays')[0]).toMatch(/^caution S1 S1 brings systemic blood/);
    const [first, second] = feedersOf('6x60 4x60');
    const partly = table('', {}, { vessels: [first, { ...second, profile: [] }] });
    expect(said(partly, 'feeder-without-profile')[0]).toMatch(/^caution A2 A2 has no usable calibre profile/);
    expect(row(partly, 'A1')).toEqual({
      closed: ['A1'],
      absent_because: 'no share of flow can be given: A2 has no usable calibre profile',
    });
    expect(row(partly, 'A1', 'A2').shunt_fraction).toBeCloseTo(0.027, 5);
    expect(row(partly, 'A1', 'A2').remaining).toBeUndefined();
    expect(row(partly, 'lobe').shunt_fraction).toBeCloseTo(0.027, 5);
    const neither = table('', {}, { vessels: [first, second].map((one) => ({ ...one, profile: [] })) });
    expect(row(neither, 'A1').absent_because).toContain('A1, A2 have no usable calibre profile');
    const half = table('', {}, { vessels: [first, { ...second, profile: [] }], occlusion: 0.25 });
    expect(row(half, 'A1', 'A2').shunt_fraction).toBeCloseTo(leftOf(0.3, 0.25), 5);
    expect(row(half, 'A1').occlusion_percent).toBe(25);
    expect(row(half, 'A1', 'A2').intervals!.shunt_fraction![0]).toBeGreaterThan(0.15);
  });

  it('without a shunt every row says so, without a feeder only the lobe has one', () => {
    const why = (shunt: Shunt | undefined) =>
      table('6x60', {}, { shunt }).rows.map((one) => [String(one.closed), one.absent_because]);
    const absent = 'the shunt is not known: there is no usable blood gas';
    expect(why(undefined)).toEqual([
      ['A1', absent],
      ['lobe', absent],
    ]);
    expect(why({ method: 'content', assumed: [], absent_because: 'x' })[0][1]).toBe(
      'the shunt is not known: x',
    );
    expect(table('6x60', {}, { shunt: undefined }).before).toBeUndefined();
    const none = table('', {}, { vessels: [], sets: [['A1'], 'lobe'] });
    expect(none.rows[0]).toMatchObject({ absent_because: 'the case has no measured feeder' });
    expect(none.rows[1].shunt_fraction).toBeCloseTo(0.027, 5);
    const lobeOf = table('6x60', {}, { shunt: undefined, occlusion: 0.5 }).rows;
    expect(lobeOf.map(({ occlusion_percent }) => occlusion_percent)).toEqual([50, undefined]);
  });

  it('the pressure after the set that raises it most, above 20 mmHg and above the present one', () => {
    const at = (meanPaPressureMmHg: number | undefined, wedgePressureMmHg = 8) =>
      said(
        table('6x60 4x60', { circulation: { cardiacOutputLMin: 6, meanPaPressureMmHg, wedgePressureMmHg } }),
        'pulmonary-hypertension-after-closure',
      );
    // with all closed the pressure difference rises by 0.973 / 0.7: from 16 to 19.1, from 17 to 20.5 mmHg
    expect(at(16)).toEqual([]);
    expect(at(17)).toHaveLength(1);
    expect(at(17)[0]).toMatch(
      /^caution closure With A1, A2 closed the mean PA pressure could rise from 17 to at most 21 mmHg .* above 20 mmHg/,
    );
    expect(at(undefined)).toEqual([]);
    expect(at(17, 17)).toEqual([]);
    // the highest, in whatever order the sets are requested
    const asked = table(
      '6x60 4x60',
      { circulation: { cardiacOutputLMin: 6, meanPaPressureMmHg: 19, wedgePressureMmHg: 8 } },
      { sets: [['A1', 'A2'], ['A2'], 'lobe', ['A1']] },
    );
    expect(said(asked, 'pulmonary-hypertension-after-closure')[0]).toContain('With A1, A2 closed');
  });
});

describe('what the rows assume', () => {
  const first = (given: Given, more: Partial<ClosureInput> = {}): string =>
    row(table('6x60 4x60', given, more), 'A1').assumed![0];
  const lesion = (otherLesions: Case['lesion']['otherLesions']) =>
    ({ ...closureCaseOf().lesion, otherLesions }) as Case['lesion'];
  it.each<[Case['lesion']['otherLesions'], ClosureInput['patient'], string]>([
    [undefined, undefined, 'the whole measured shunt runs through this lesion'],
    ['no', undefined, 'the whole measured shunt runs through this lesion'],
    [
      'yes',
      undefined,
      'at most the whole measured shunt runs through this lesion (other lesions: yes); intervals reach to none of it',
    ],
    [
      'unknown',
      { remainder: 0.1 },
      'at most the whole measured shunt runs through these lesions (other lesions: unknown); intervals reach to none of it',
    ],
    [undefined, { remainder: 0 }, 'the whole measured shunt runs through these lesions'],
    [
      undefined,
      { remainder: 0.1 },
      '10 % of the shunt runs through lesions that no surface holds, as the file states, and stays',
    ],
  ])('other lesions %s, %o: %s', (others, patient, text) => {
    expect(first({ lesion: lesion(others) }, { patient })).toBe(text);
  });

  it('a remainder is never closed: with all closed, a tenth of the shunt flow remains', () => {
    const found = table('6x60 4x60', {}, { patient: { remainder: 0.1 } });
    expect(row(found, 'A1', 'A2').shunt_fraction).toBeCloseTo(leftOf(0.3, 0.9), 5);
    expect(Object.keys(row(found, 'A1').remaining!)).toEqual(['A2', 'remainder']);
  });

  it('where other lesions may exist every remaining shunt is a lower bound, with an interval up to the whole of it', () => {
    for (const others of ['yes', 'unknown'] as const) {
      const found = table('6x60 4x60', { lesion: lesion(others) });
      const all = row(found, 'A1', 'A2');
      expect(all.shunt_fraction_is).toBe('at-least');
      expect(all.shunt_fraction).toBeCloseTo(0.027, 5);
      expect(all.intervals!.shunt_fraction![1]).toBeGreaterThan(0.33);
      const [text] = said(found, 'other-lesions');
      const [low, high] = all.intervals!.shunt_fraction!;
      expect(text).toContain(
        `the shunt left lies between ${(100 * low).toFixed(1)} and ${(100 * high).toFixed(1)} %. Shares of flow are upper bounds. Plan all lesions`,
      );
      expect(text).toContain(
        others === 'yes'
          ? 'Other lesions exist that no surface here holds: how'
          : 'Whether other lesions exist is not known: how',
      );
      expect(said(found, 'missed-feeder')[0]).toContain('a shunt of at least ');
      expect(said(found, 'feeder-flow')[0]).toContain('A1 carries at most ');
      // none of the shunt in this lesion: the lobe takes only bed, so that 0.3 / (0.3 + 0.7 · 15/19) remains
      expect(row(found, 'lobe').intervals!.shunt_fraction![1]).toBeGreaterThan(0.3 / (0.3 + 0.7 * (15 / 19)));
    }
    const ofPatient = table('6x60', { lesion: lesion('yes') }, { patient: { remainder: 0 } });
    expect(said(ofPatient, 'other-lesions')[0]).toContain('runs through these is not known');
    expect(said(ofPatient, 'other-lesions')[0]).toContain('Read the whole scan again.');
    const plain = table('6x60 4x60');
    expect(said(plain, 'other-lesions')).toEqual([]);
    expect(said(plain, 'feeder-flow')[0]).toContain('A1 carries about ');
    expect(row(plain, 'A1').shunt_fraction_is).toBeUndefined();
    expect(row(plain, 'A1', 'A2').intervals!.shunt_fraction![1]).toBeLessThan(0.1);
    const without = table('6x60', { lesion: lesion('yes') }, { sets: ['lobe'] });
    expect(said(without, 'other-lesions')[0]).toContain('physiological shunt. Shares of flow');
  });
});

describe('the circulation that a closure starts from', () => {
  const adult = { ageYears: 40 };
  const of = (given: Case['circulation'], patient = adult as Parameters<typeof closureCirculation>[1]) =>
    closureCirculation(given, patient);
  const whole = { cardiacOutputLMin: 6, meanPaPressureMmHg: 16, wedgePressureMmHg: 8 };

  it('as measured, with the errors of a catheter and of the output', () => {
    expect(of({ ...whole, cardiacOutputMethod: 'thermodilution' })).toEqual({
      fitted: { cardiacOutputLMin: 6, meanPaMmHg: 16, wedgeMmHg: 8 },
      assumed: [],
      findings: [],
      isUsable: true,
      outputIsKnown: true,
      meanPaIsMeasured: true,
      spread: { meanPaSdMmHg: 1.5, wedgeSdMmHg: 1.5, outputSdFraction: 0.1 },
    });
  });

  it('without any values: normal ones, named, with the spread of normal values', () => {
    const found = of({});
    expect(found).toMatchObject({
      fitted: { cardiacOutputLMin: 5, meanPaMmHg: 14, wedgeMmHg: 8 },
      isUsable: true,
      outputIsKnown: true,
      meanPaIsMeasured: false,
    });
    expect(found.assumed.map((text) => text.split(',')[0])).toEqual([
      'cardiac output 5 L/min',
      'mean PA pressure 14 mmHg',
      'wedge pressure 8 mmHg',
    ]);
    expect(found.findings.map(({ level, id, where }) => `${level} ${id} ${where}`)).toEqual([
      'note pa-pressure-not-measured circulation.mean_pa_pressure',
    ]);
    // 4 to 6 L/min are 95 %: 2 over 3.92 over 5
    expect(found.spread.outputSdFraction).toBeCloseTo(2 / 3.92 / 5, 12);
    expect(found.spread).toMatchObject({ meanPaSdMmHg: 3, wedgeSdMmHg: 2 });
  });

  it('for a child: by its size, or none', () => {
    const surface = 0.007184 * 138 ** 0.725 * 30 ** 0.425;
    const child = of({}, { ageYears: 10, weightKg: 30, heightCm: 138 });
    expect(child.fitted.cardiacOutputLMin).toBeCloseTo(3.4 * surface, 9);
    expect(child.spread.outputSdFraction).toBeCloseTo(0.3 / 1.96, 9);
    const unknown = of({}, { ageYears: 10 });
    expect(unknown.outputIsKnown).toBe(false);
    expect(unknown.fitted.cardiacOutputLMin).toBe(5);
    expect(unknown.assumed[0]).toContain('no cardiac output: ');
  });

  it.each<[Partial<Case['circulation']>, boolean]>([
    [{ meanPaPressureMmHg: 8.1 }, true],
    [{ meanPaPressureMmHg: 8 }, false],
    [{ cardiacOutputLMin: 0 }, false],
    [{ cardiacOutputLMin: 0.1 }, true],
  ])('%o can be used: %s', (given, isUsable) => {
    const found = of({ ...whole, ...given });
    expect(found.isUsable).toBe(isUsable);
    expect(found.findings.map(({ level, id, where }) => `${level} ${id} ${where}`)).toEqual(
      isUsable ? [] : ['caution pressures-contradict circulation'],
    );
  });

  it.each<[number, boolean]>([
    [20, false],
    [20.1, true],
  ])('after closing, %d mmHg is reported: %s', (mmHg, isTold) => {
    const set = { closed: 'A1', mmHg };
    expect(pressureFindings(of(whole), set, RULES)).toHaveLength(isTold ? 1 : 0);
    expect(pressureFindings(of({ ...whole, meanPaPressureMmHg: 22 }), set, RULES)).toEqual([]);
    expect(pressureFindings(of({ ...whole, meanPaPressureMmHg: undefined }), set, RULES)).toEqual([]);
    expect(pressureFindings(of({ ...whole, meanPaPressureMmHg: 7 }), set, RULES)).toEqual([]);
    expect(pressureFindings(of(whole), undefined, RULES)).toEqual([]);
  });
});
