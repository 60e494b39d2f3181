import { describe, expect, it } from 'vitest';
import type { GasSample } from '../../src/case/case.js';
import { caseShunts } from '../../src/physiology/case-shunts.js';
import { shuntInputOfCase } from '../../src/physiology/compute-shunt.js';
import type { ShuntInput } from '../../src/physiology/shunt-input.js';
import { makeCase } from '../resection/make.js';
import { RULES, sampleOf, shuntBy } from './make.js';
import { alveolarMmHg, contentMlDl, curve } from './independent-formulas.js';

const HB = 15;
const shuntOf = (given: Partial<GasSample>, more: Partial<ShuntInput> = {}) =>
  shuntBy({ samples: [sampleOf(given)], when: 'before', haemoglobinGDl: HB, ...more });
const told = ({ findings }: { findings: { level: string; id: string; where: string }[] }): string[] =>
  findings.map(({ level, id, where }) => `${level} ${id} ${where}`);
const because = (given: Partial<GasSample>, more: Partial<ShuntInput> = {}): string | undefined =>
  shuntOf(given, more).shunt?.absent_because;
/** On 100 % oxygen at 760 mmHg and a PaCO2 of 40 mmHg: 760 - 47 - 40. */
const ALVEOLAR = 673;
const END_CAPILLARY = contentMlDl(HB, 1, ALVEOLAR);

describe('one sample', () => {
  it('each step by hand: 60 mmHg at 90 % on oxygen', () => {
    const { shunt } = shuntOf({ po2MmHg: 60, so2Fraction: 0.9, ph: 7.42 });
    const arterial = contentMlDl(HB, 0.9, 60);
    expect(shunt).toMatchObject({
      method: 'content',
      sample: 'on-oxygen',
      alveolar_po2_mmhg: 673,
      barometric_mmhg: 760,
      arterial_saturation_percent: 90,
      end_capillary_content_ml_dl: Number(END_CAPILLARY.toFixed(4)),
      arterial_content_ml_dl: Number(arterial.toFixed(4)),
      venous_content_ml_dl: Number((arterial - 5).toFixed(4)),
      av_difference_ml_dl: 5,
      av_difference_basis: 'assumed',
    });
    expect(shunt?.fraction).toBeCloseTo((END_CAPILLARY - arterial) / (END_CAPILLARY - arterial + 5), 5);
    expect(shunt).not.toHaveProperty('upper_limit');
    expect(shunt).not.toHaveProperty('equation_fraction');
  });

  it('the dissolved form: 300 mmHg, 0.0031 · 373 over that plus 5; contents are not given', () => {
    const { shunt } = shuntOf({ po2MmHg: 300 }, { haemoglobinGDl: undefined });
    const dissolved = (0.0031 * 373) / (0.0031 * 373 + 5);
    expect(shunt?.method).toBe('dissolved');
    expect(shunt?.fraction).toBeCloseTo(dissolved, 5);
    expect(shunt?.dissolved_only).toEqual({ fraction: Number(dissolved.toFixed(5)) });
    for (const key of ['end_capillary_content_ml_dl', 'arterial_content_ml_dl', 'venous_content_ml_dl'])
      expect(shunt).not.toHaveProperty(key);
    // above the alveolar PO2 by an analyser error it is zero, never less
    expect(shuntOf({ po2MmHg: 690 }).shunt?.dissolved_only).toEqual({ fraction: 0 });
  });

  it('the dissolved form is refused with the most it could give: 0.0031 · 633 over that plus 5 is 28 %', () => {
    const refused = (given: Partial<GasSample>) => shuntOf(given).shunt?.dissolved_only;
    expect(refused({ po2MmHg: 149.9 })).toEqual({
      refused_because:
        'PaO2 149.9 mmHg (20.0 kPa) is below 150 mmHg: not fully saturated, and this form levels off near 28 %.',
    });
    expect(refused({ po2MmHg: 150 })).toHaveProperty('fraction');
    expect(refused({ po2MmHg: 300, fio2: 0.6 })).toEqual({
      refused_because: 'FiO2 is 0.60: the dissolved-only form needs 100 % oxygen.',
    });
    expect(because({ po2MmHg: 149.9 }, { haemoglobinGDl: undefined })).toContain(
      'Haemoglobin is missing, and the dissolved-only form does not count: PaO2 149.9 mmHg',
    );
    expect(because({ po2MmHg: 60, fio2: 0.21 }, { haemoglobinGDl: undefined })).toContain(
      'does not count: FiO2 is 0.21: the dissolved-only form needs 100 % oxygen.',
    );
  });

  it('a shunt indistinguishable from none: 0, an upper limit, and what the equation gave', () => {
    const { shunt } = shuntOf({ po2MmHg: 690 });
    // by the curve 690 mmHg has 0.0031 · 17 mL/dL more than the alveolar PO2, less what its saturation lacks of 1
    const lack = END_CAPILLARY - contentMlDl(HB, curve(690), 690);
    expect(shunt).toMatchObject({ fraction: 0 });
    expect(shunt?.equation_fraction).toBeCloseTo(lack / (lack + 5), 5);
    expect(shunt?.upper_limit).toBe(shunt?.interval?.[1]);
    expect(shunt?.interval?.[0]).toBe(0);
  });

  it.each<[string, Partial<GasSample>, Partial<ShuntInput>, string, string]>([
    [
      'an alveolar PO2 below zero',
      { po2MmHg: 30, fio2: 0.05 },
      {},
      'The alveolar PO2 comes out below zero',
      'room-air',
    ],
    ['a PCO2 in the wrong unit', { po2MmHg: 300, pco2MmHg: 5 }, {}, 'PaCO2 is 5.0 mmHg', 'content'],
    [
      'a haemoglobin in the wrong unit',
      { po2MmHg: 300 },
      { haemoglobinGDl: 150 },
      'Haemoglobin is 150.0 g/dL',
      'content',
    ],
    ['no FiO2', { po2MmHg: 300, fio2: undefined }, {}, 'gases[0].fio2 is missing', 'content'],
    [
      'neither PO2 nor saturation, on air',
      { fio2: 0.21 },
      {},
      'gases[0] has neither po2 nor so2.',
      'room-air',
    ],
    ['more oxygen than inspired', { po2MmHg: 720 }, {}, 'PaO2 720.0 mmHg', 'content'],
    [
      'less oxygen than the arterio-venous difference',
      { po2MmHg: 30, so2Fraction: 0.5 },
      { haemoglobinGDl: 5 },
      'The arterial content of 3.4 mL/dL is less than the arterio-venous difference of 5.0 mL/dL',
      'content',
    ],
  ])('%s: no number, and why', (_, given, more, text, method) => {
    const outcome = shuntOf(given, more);
    expect(outcome.shunt).not.toHaveProperty('fraction');
    expect(outcome.shunt).toMatchObject({
      method,
      sample: 'on-oxygen',
      absent_because: expect.stringContaining(text),
    });
    expect(told(outcome)).toContain('caution shunt-absent gases[0]');
    expect(outcome.findings.find(({ id }) => id === 'shunt-absent')?.text).toContain(
      `was not computed: ${text}`,
    );
  });

  it('what was computed before a refusal is given, and what was assumed', () => {
    const { shunt } = shuntOf({ po2MmHg: 720 });
    expect(shunt).toMatchObject({ alveolar_po2_mmhg: 673, barometric_mmhg: 760 });
    expect(shunt?.assumed.length).toBeGreaterThan(3);
    expect(shuntOf({ po2MmHg: 300, pco2MmHg: 5 }).shunt?.assumed).toEqual([]);
  });

  it('arterial blood more than 3 points above end-capillary blood in saturation gives no answer', () => {
    // on air at a PaCO2 of 70 mmHg: the alveolar PO2 is about 65 mmHg; a saturation without a PO2 is compared with it
    const alveolar = alveolarMmHg(0.21, 760, 70);
    const at = (above: number) => shuntOf({ fio2: 0.21, pco2MmHg: 70, so2Fraction: curve(alveolar) + above });
    expect(at(0.029).shunt?.fraction).toBe(0);
    const found = at(0.031);
    expect(found.shunt).not.toHaveProperty('fraction');
    expect(told(found)).toContain('caution shunt-out-of-range gases[0]');
    expect(found.findings.find(({ id }) => id === 'shunt-out-of-range')?.text).toMatch(
      /^The equation gives -\d+\.\d %: the arterial saturation lies 3\.1 points above the end-capillary one, so arterial blood/,
    );
    expect(found.shunt?.alveolar_po2_mmhg).toBeCloseTo(alveolar, 2);
  });

  it.each<[Partial<GasSample>, string[]]>([
    [{ minutesOnOxygen: 20 }, []],
    [{ minutesOnOxygen: 19.9 }, ['caution oxygen-too-short gases[0].minutes_on_oxygen']],
    [{ minutesOnOxygen: undefined }, ['note oxygen-time-unknown gases[0].minutes_on_oxygen']],
    [{ fio2: 0.21, po2MmHg: 70, minutesOnOxygen: undefined }, ['note room-air-estimate gases[0]']],
    [{ fio2: 0.6, minutesOnOxygen: 1 }, ['note room-air-estimate gases[0]']],
  ])('%o: %s', (given, expected) => {
    expect(told(shuntOf({ po2MmHg: 300, ph: 7.4, ...given }))).toEqual(expected);
  });
});

describe('the alternative answer', () => {
  const beside = (given: Partial<GasSample>, more: Partial<ShuntInput> = {}) =>
    shuntOf(given, more).shunt?.other_saturation;
  it('is by the saturation that was not used', () => {
    const by = (saturation: number, po2: number): number => {
      const lack = END_CAPILLARY - contentMlDl(HB, saturation, po2);
      return lack / (lack + 5);
    };
    const measured = beside({ po2MmHg: 60, so2Fraction: 0.88 });
    expect(measured?.fraction).toBeCloseTo(by(curve(60), 60), 5);
    expect(measured?.basis).toBe(`${(100 * curve(60)).toFixed(1)} % from PO2 by the dissociation curve`);
    const used = beside({ po2MmHg: 300, so2Fraction: 0.99 });
    expect(used?.fraction).toBeCloseTo(by(0.99, 300), 5);
    expect(used?.basis).toBe('99.0 % as measured');
  });

  it('is omitted where there is none, or where it is impossible', () => {
    expect(beside({ po2MmHg: 60 })).toBeUndefined();
    expect(beside({ so2Fraction: 0.88 })).toBeUndefined();
    expect(beside({ po2MmHg: 300, so2Fraction: 0.99 }, { haemoglobinGDl: undefined })).toBeUndefined();
    // 100 % at 670 mmHg has as much as the alveolar PO2: none; 100 % at 690 mmHg has more
    expect(beside({ po2MmHg: 670, so2Fraction: 1 })?.fraction).toBeCloseTo(
      (0.0031 * 3) / (0.0031 * 3 + 5),
      5,
    );
    expect(beside({ po2MmHg: 690, so2Fraction: 1 })).toBeUndefined();
    // by the curve 6 g/dL hold less at 25 mmHg than the difference takes
    expect(beside({ po2MmHg: 25, so2Fraction: 0.9 }, { haemoglobinGDl: 6 })).toBeUndefined();
  });

  it('by other differences, without the one used', () => {
    const rows = (more: Partial<ShuntInput>) =>
      (shuntOf({ po2MmHg: 60, so2Fraction: 0.9 }, more).shunt?.sensitivity ?? []).map((row) => [
        row.av_difference_ml_dl,
        row.fraction,
        ...(row.interval ?? []),
      ]);
    const lack = END_CAPILLARY - contentMlDl(HB, 0.9, 60);
    const by = (difference: number): number => Number((lack / (lack + difference)).toFixed(5));
    expect(rows({})).toEqual([[4.4, by(4.4)]]);
    expect(rows({ avDifferenceMlDl: 4.4 })).toEqual([[5, by(5)]]);
    expect(rows({ avDifferenceMlDl: 6 })).toEqual([
      [5, by(5)],
      [4.4, by(4.4)],
    ]);
    // 279.0 mL/min predicted over 64, 30 % either way: a larger difference is a smaller shunt
    const man = { ageYears: 40, sex: 'male', weightKg: 75, heightCm: 178, pregnant: 'no' } as const;
    const predicted = (157.3 * 0.007184 * 178 ** 0.725 * 75 ** 0.425 + 10 - 10.5 * Math.log(40) + 4.8) / 64;
    expect(rows({ patient: man, cardiacOutputLMin: 6.4 })[1]).toEqual([
      Number(predicted.toFixed(3)),
      by(predicted),
      by(1.3 * predicted),
      by(0.7 * predicted),
    ]);
    const venous = sampleOf({
      name: 'pa',
      site: 'mixed-venous',
      path: 'gases[1]',
      po2MmHg: 38,
      so2Fraction: 0.68,
    });
    const arterial = sampleOf({ po2MmHg: 60, so2Fraction: 0.9 });
    const withVenous = (so2Fraction: number) =>
      shuntOf({}, { samples: [arterial, { ...venous, so2Fraction }] }).shunt?.sensitivity;
    expect(withVenous(0.68)).toBeUndefined();
    // 18.276 - (1.34 · 15 · 0.8 + 0.118) = 2.08 mL/dL: in doubt, so the others are listed
    expect(withVenous(0.8)?.map((row) => row.av_difference_ml_dl)).toEqual([5, 4.4]);
  });
});

describe('with several samples', () => {
  const named = (name: string, given: Partial<GasSample>, index: number): GasSample =>
    sampleOf({ name, path: `gases[${index}]`, ...given });
  const chosen = (...given: Partial<GasSample>[]): string | undefined =>
    shuntOf({}, { samples: given.map((one, i) => named(`s${i}`, one, i)) }).shunt?.sample;

  it('one on oxygen comes before one on less, then the one with more measured, then the first', () => {
    const air = { fio2: 0.21, po2MmHg: 60, so2Fraction: 0.9 };
    const oxygen = { po2MmHg: 300 };
    expect(chosen(air, oxygen)).toBe('s1');
    expect(chosen(oxygen, oxygen)).toBe('s0');
    expect(chosen(oxygen, { ...oxygen, so2Fraction: 0.99 })).toBe('s1');
    expect(chosen({ ...oxygen, pco2MmHg: undefined }, oxygen)).toBe('s1');
    expect(chosen({ ...oxygen, barometricMmHg: undefined }, oxygen)).toBe('s1');
    // an altitude counts as much as a pressure
    expect(chosen({ ...oxygen, barometricMmHg: undefined, altitudeM: 100 }, oxygen)).toBe('s0');
    // without an inspired oxygen there is no answer, nor with an impossible one
    expect(chosen({ ...oxygen, fio2: undefined }, air)).toBe('s1');
    expect(chosen({ po2MmHg: 720, so2Fraction: 0.99 }, air)).toBe('s1');
    // Where none has an answer the best remains
    expect(chosen({ fio2: undefined, po2MmHg: 60, so2Fraction: 0.9 }, { fio2: 0.21 })).toBe('s1');
  });

  it('the others are reported with what they give, and their stops', () => {
    const samples = [
      named('best', { po2MmHg: 300, ph: 7.4 }, 0),
      named('second', { po2MmHg: 290, ph: 7.4 }, 1),
      named('slip', { po2MmHg: 300, pco2MmHg: 5 }, 2),
      named('none', { po2MmHg: 690, ph: 7.4, minutesOnOxygen: 5 }, 3),
    ];
    const outcome = shuntOf({}, { samples });
    const other = (name: string): string =>
      outcome.findings.find(({ id, text }) => id === 'shunt-other-sample' && text.includes(` ${name} `))!
        .text;
    const lack = END_CAPILLARY - contentMlDl(HB, curve(290), 290);
    expect(other('second')).toBe(
      `The sample second gives ${((100 * lack) / (lack + 5)).toFixed(1)} % (content); it is not the one reported.`,
    );
    expect(other('slip')).toMatch(/^The sample slip gives none: PaCO2 is 5\.0 mmHg/);
    expect(other('none')).toMatch(
      /^The sample none gives a shunt that cannot be told from none, at most \d\.\d % \(content\); /,
    );
    // of the others only what stops is repeated: neither the short time on oxygen of one nor the absent answer of another
    expect(told(outcome)).toEqual([
      'caution shunt-samples-disagree gases[3]',
      'note shunt-other-sample gases',
      'stop pco2-unit-suspect gases[2].pco2',
      'note shunt-other-sample gases',
      'note shunt-other-sample gases',
    ]);
  });

  it('those of another visit or from a vein are not arterial ones', () => {
    const samples = [
      named('later', { po2MmHg: 300, when: 'after' }, 0),
      named('pa', { po2MmHg: 38, site: 'mixed-venous' }, 1),
    ];
    const without = shuntOf({}, { samples });
    expect(without.shunt).toBeUndefined();
    expect(without.findings).toEqual([
      {
        level: 'caution',
        id: 'gases-absent',
        where: 'gases',
        text: 'No arterial blood gas from before the treatment: the shunt of that time cannot be computed. Add a sample, best after 20 min on 100 % oxygen.',
      },
    ]);
    expect(shuntOf({}, { samples: [samples[1]] }).findings[0].text).toContain(
      'No arterial blood gas: the shunt cannot be',
    );
    expect(shuntOf({}, { samples: [samples[1]], when: 'after' })).toEqual({ findings: [] });
    expect(shuntOf({}, { samples, when: 'after' }).shunt?.sample).toBe('later');
  });

  it('a saturation on air next to a shunt on oxygen: from a sample on air, and by oximetry lying or standing', () => {
    const oxygen = named('oxygen', { po2MmHg: 300, ph: 7.4 }, 0);
    const unexplained = (samples: GasSample[], oximetry?: ShuntInput['oximetry']): string[] =>
      shuntOf({}, { samples, oximetry })
        .findings.filter(({ id }) => id === 'room-air-saturation-unexplained')
        .map(({ where, text }) => `${where}: ${text.split(' is ')[0]}`);
    const air = (fio2: number) => named('air', { fio2, po2MmHg: 44, so2Fraction: 0.8, ph: 7.4 }, 1);
    expect(unexplained([oxygen, air(0.21)])).toEqual(['gases[1]: The saturation on air of the sample air']);
    expect(unexplained([oxygen, air(0.4)])).toEqual([]);
    expect(unexplained([oxygen, { ...air(0.21), pco2MmHg: 5 }])).toEqual([]);
    expect(unexplained([oxygen], { lyingFraction: 0.8 })).toEqual([
      'patient.oximetry.lying: The saturation on air by oximetry, lying,',
    ]);
    expect(unexplained([oxygen], { standingFraction: 0.8 })).toEqual([]);
    expect(unexplained([oxygen], { standingFraction: 0.99 })).toEqual([
      'patient.oximetry.standing: The saturation on air by oximetry, standing,',
    ]);
    expect(unexplained([oxygen], { lyingFraction: 0.92, standingFraction: 0.92 })).toEqual([]);
  });
});

describe('the shunts of a case', () => {
  const oxygen = sampleOf({ po2MmHg: 300 });
  const later = sampleOf({ name: 'later', when: 'after', path: 'gases[1]', po2MmHg: 500 });
  const patientCase = (more: Parameters<typeof makeCase>[0]) =>
    makeCase({ blood: { haemoglobinGDl: HB }, ...more });

  it('use what the case has; oximetry belongs to the visit that the plan depends on', () => {
    const given = patientCase({
      gases: [oxygen],
      blood: { haemoglobinGDl: 15, haematocritFraction: 0.44 },
      circulation: {
        cardiacOutputLMin: 6,
        cardiacOutputMethod: 'echo',
        oxygenUptakeMlMin: 240,
        oxygenUptakeMethod: 'measured',
      },
    });
    given.patient.oximetry = { lyingFraction: 0.9 };
    expect(shuntInputOfCase(given, 'before')).toEqual({
      patient: given.patient,
      oximetry: { lyingFraction: 0.9 },
      samples: [oxygen],
      when: 'before',
      haemoglobinGDl: 15,
      haematocritFraction: 0.44,
      cardiacOutputLMin: 6,
      cardiacOutputMethod: 'echo',
      oxygenUptakeMlMin: 240,
      oxygenUptakeMethod: 'measured',
    });
    expect(shuntInputOfCase(given, 'after', false)).not.toHaveProperty('oximetry');
    expect(shuntInputOfCase(given, 'after', false).when).toBe('after');
  });

  it('of both visits, each with its own, and what the closure starts from', () => {
    const treated = {
      lesion: { segments: [], treated: '2025-06-24' },
      scan: { date: '2025-07-01' },
      surfaces: {} as never,
    };
    const both = caseShunts(patientCase({ gases: [oxygen, later], ...treated }), RULES);
    expect(both).toMatchObject({
      baseline: 'after',
      before: { shunt: { when: 'before' } },
      after: { shunt: { when: 'after' } },
    });
    expect(both.headline).toBe(both.after);
    expect(both.closureShunt).toBe(both.after.shunt);
    expect(both.change?.change).toBeCloseTo(both.after.shunt!.fraction! - both.before.shunt!.fraction!, 12);

    const first = caseShunts(patientCase({ gases: [oxygen] }), RULES);
    expect(first.headline).toBe(first.before);
    expect(first.after.shunt).toBeUndefined();
    expect(first.change).toBeUndefined();

    // Only the later gases: the missing ones from before do not matter
    const after = caseShunts(patientCase({ gases: [later], ...treated }), RULES);
    expect(told(after)).not.toContain('caution gases-absent gases');
    expect(told(caseShunts(patientCase({ gases: [] }), RULES))).toEqual(['caution gases-absent gases']);

    // The gases from before do not say what closing the treated lesion leaves
    const apart = caseShunts(patientCase({ gases: [oxygen], ...treated }), RULES);
    expect(apart.closureShunt).toEqual({
      method: 'content',
      assumed: [],
      absent_because: 'the blood gases are from before the treatment, the surfaces from after it',
    });
    // No gases from the time that the plan depends on, and those from after say nothing about it
    const older = { ...treated, scan: { date: '2025-06-01' } };
    expect(caseShunts(patientCase({ gases: [later], ...older }), RULES).closureShunt).toEqual({
      method: 'content',
      assumed: [],
      absent_because: 'the blood gases are from after the treatment, the surfaces from before it',
    });
    // What is found before is listed next to an answer from after; oximetry is of the visit that the plan depends on
    const short = patientCase({ gases: [{ ...oxygen, minutesOnOxygen: 5 }, later], ...treated });
    short.patient.oximetry = { lyingFraction: 0.8 };
    const found = told(caseShunts(short, RULES));
    expect(found).toContain('caution oxygen-too-short gases[0].minutes_on_oxygen');
    expect(found.filter((one) => one.includes('room-air-saturation'))).toHaveLength(1);
    expect(found.filter((one) => one.includes('shunt-trend-absent'))).toEqual([]);
    const onAir = sampleOf({ po2MmHg: 70, fio2: 0.21 });
    expect(told(caseShunts(patientCase({ gases: [onAir, later], ...treated }), RULES))).toContain(
      'note shunt-trend-absent gases',
    );
    expect(caseShunts(patientCase({ gases: [onAir], ...treated }), RULES).closureShunt?.method).toBe(
      'room-air',
    );
  });
});
