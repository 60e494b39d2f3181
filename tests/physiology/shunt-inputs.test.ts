import { describe, expect, it } from 'vitest';
import type { GasSample } from '../../src/case/case.js';
import { fixed } from '../../src/foundation/number-text.js';
import { gasLimits } from '../../src/physiology/gas-limits.js';
import type { ShuntInput } from '../../src/physiology/shunt-input.js';
import { type ResolvedSample, resolveSample } from '../../src/physiology/shunt-inputs.js';
import { RULES, sampleOf } from './make.js';
import { contentMlDl, curve } from './independent-formulas.js';

const HB = 15;
const input = (more: Partial<ShuntInput> = {}): ShuntInput => ({
  samples: [],
  when: 'before',
  haemoglobinGDl: HB,
  ...more,
});
const answer = (given: Partial<GasSample>, more: Partial<ShuntInput> = {}) =>
  resolveSample(sampleOf(given), input(more), gasLimits(RULES));
function resolved(given: Partial<GasSample>, more: Partial<ShuntInput> = {}): ResolvedSample {
  const found = answer(given, more);
  if ('absentBecause' in found) throw new Error(found.absentBecause);
  return found.resolved;
}
const ids = ({ findings }: ResolvedSample): string[] =>
  findings.map(({ level, id, where }) => `${level} ${id} ${where}`);

const BINDS = 'haemoglobin binds 1.34 mL/g (';
const DISSOLVES = 'plasma and cells dissolve 0.0031 mL/dL/mmHg (';
const VAPOUR = 'water vapour at 37 degC 47 mmHg (';
const FULL = 'end-capillary blood on 100 % oxygen fully saturated';
const DIFFERENCE = 'arterio-venous difference 5 mL/dL (Chiang';
const BY_CURVE = 'arterial saturation from PO2, not measured (Severinghaus';
const PH = 'pH 7.40 (not given)';
const NORMAL_T = 'temperature 37 degC (not given)';
const QUOTIENT = 'respiratory quotient 0.8 (';
const END_CAPILLARY = 'end-capillary saturation from the alveolar PO2 (Severinghaus';

describe('substitutes for missing values of a sample are named', () => {
  const whole = { po2MmHg: 60, so2Fraction: 0.9, ph: 7.42, temperatureC: 37 };
  it.each<[string, Partial<GasSample>, Partial<ShuntInput>, string[]]>([
    ['nothing missing, on oxygen', whole, {}, [DIFFERENCE, BINDS, DISSOLVES, VAPOUR, FULL]],
    [
      'after a treatment',
      whole,
      { when: 'after' },
      [DIFFERENCE, BINDS, 'haemoglobin after treatment as before', DISSOLVES, VAPOUR, FULL],
    ],
    ['no haemoglobin', whole, { haemoglobinGDl: undefined }, [DIFFERENCE, DISSOLVES, VAPOUR, FULL]],
    [
      'no temperature',
      { ...whole, temperatureC: undefined },
      {},
      [DIFFERENCE, BINDS, DISSOLVES, VAPOUR, NORMAL_T, FULL],
    ],
    ['a temperature of 38 °C', { ...whole, temperatureC: 38 }, {}, [DIFFERENCE, BINDS, DISSOLVES, FULL]],
    [
      'a temperature of almost 37 °C',
      { ...whole, temperatureC: 36.995 },
      {},
      [DIFFERENCE, BINDS, DISSOLVES, VAPOUR, FULL],
    ],
    ['on air', { ...whole, fio2: 0.21 }, {}, [DIFFERENCE, BINDS, DISSOLVES, VAPOUR, QUOTIENT, END_CAPILLARY]],
    // a pH counts where the curve is used: on the arterial side, or on air on the end-capillary one
    [
      'no pH, measured saturation, on oxygen',
      { ...whole, ph: undefined },
      {},
      [DIFFERENCE, BINDS, DISSOLVES, VAPOUR, FULL],
    ],
    [
      'no pH, measured saturation, on air',
      { ...whole, ph: undefined, fio2: 0.21 },
      {},
      [DIFFERENCE, BINDS, DISSOLVES, VAPOUR, QUOTIENT, END_CAPILLARY, PH],
    ],
    [
      'no pH and no saturation',
      { ...whole, ph: undefined, so2Fraction: undefined },
      {},
      [BY_CURVE, DIFFERENCE, BINDS, DISSOLVES, VAPOUR, FULL, PH],
    ],
    [
      'neither haemoglobin nor saturation',
      { ...whole, so2Fraction: undefined },
      { haemoglobinGDl: undefined },
      [DIFFERENCE, DISSOLVES, VAPOUR, FULL],
    ],
    [
      'no PO2',
      { ...whole, po2MmHg: undefined },
      {},
      ['arterial PO2 ', DIFFERENCE, BINDS, DISSOLVES, VAPOUR, FULL],
    ],
    [
      'no barometric pressure',
      { ...whole, barometricMmHg: undefined },
      {},
      ['barometric pressure 760 mmHg, sea level (neither', DIFFERENCE, BINDS, DISSOLVES, VAPOUR, FULL],
    ],
    [
      'an altitude instead of a pressure',
      { ...whole, barometricMmHg: undefined, altitudeM: 540 },
      {},
      ['barometric pressure 712.', DIFFERENCE, BINDS, DISSOLVES, VAPOUR, FULL],
    ],
    [
      'no PCO2',
      { ...whole, pco2MmHg: undefined },
      {},
      ['PaCO2 40 mmHg (not given; common practice, no source)', DIFFERENCE, BINDS, DISSOLVES, VAPOUR, FULL],
    ],
    [
      '98 % measured at 150 mmHg',
      { ...whole, po2MmHg: 150, so2Fraction: 0.98 },
      {},
      [
        'arterial saturation from PO2 though 98.0 % was measured: from 150 mmHg up',
        DIFFERENCE,
        BINDS,
        DISSOLVES,
        VAPOUR,
        FULL,
      ],
    ],
  ])('%s', (_, given, more, expected) => {
    const { assumed } = resolved(given, more);
    expect(assumed.map((text, i) => text.slice(0, expected[i]?.length))).toEqual(expected);
  });

  it('with its findings and its error', () => {
    expect(ids(resolved(whole))).toEqual([]);
    expect(resolved(whole).spread).toEqual({
      pressure: 'measured',
      pco2: 'measured',
      avDifferenceSdMlDl: 0.7,
    });
    const guessed = resolved({ ...whole, barometricMmHg: undefined, pco2MmHg: undefined });
    expect(ids(guessed)).toEqual([
      'caution pressure-assumed-sea-level gases[0]',
      'caution pco2-assumed gases[0].pco2',
    ]);
    expect(guessed.spread).toMatchObject({ pressure: 'assumed', pco2: 'assumed' });
    expect(guessed.numbers).toMatchObject({ barometricMmHg: 760, pco2MmHg: 40 });
    const high = resolved({ ...whole, barometricMmHg: undefined, altitudeM: 0 });
    expect(ids(high)).toEqual(['note pressure-from-altitude gases[0]']);
    expect(high.spread.pressure).toBe('altitude');
    expect(high.findings[0].text).toMatch(
      /^Barometric pressure 760\.0 mmHg from the altitude of 0 m, standard/,
    );
    expect(high.numbers.barometricMmHg).toBeCloseTo(760, 1);
    expect(ids(resolved({ ...whole, po2MmHg: undefined }))).toEqual(['note po2-derived gases[0].po2']);
  });

  it('and what has no substitute says why', () => {
    expect(answer({ fio2: undefined })).toEqual({
      absentBecause: 'gases[0].fio2 is missing: without it no alveolar PO2 can be given.',
    });
    expect(answer({})).toEqual({ absentBecause: 'gases[0] has neither po2 nor so2.' });
    expect(answer({ so2Fraction: 0.99 })).toMatchObject({
      absentBecause: expect.stringContaining('a saturation of 99.0 % is on the flat part of the curve'),
    });
  });
});

describe('without haemoglobin', () => {
  it('no saturation is computed, and a missing pH is named', () => {
    const found = resolved({ po2MmHg: 300 }, { haemoglobinGDl: undefined });
    expect(found.saturationBasis).toBe('curve');
    expect(found.assumed).toContain(PH);
    expect(found.assumed.join()).not.toContain('arterial saturation');
  });
});

describe('pH and temperature', () => {
  it('are those of the sample, otherwise 7.40 and 37 degC', () => {
    expect(resolved({ po2MmHg: 60, ph: 7.2, temperatureC: 38 }).numbers).toMatchObject({
      ph: 7.2,
      temperatureC: 38,
    });
    expect(resolved({ po2MmHg: 60 }).numbers).toMatchObject({
      ph: 7.4,
      temperatureC: 37,
      respiratoryQuotient: 0.8,
    });
  });

  it('count where half of a sample is taken from the curve', () => {
    const { po2MmHg } = resolved({ so2Fraction: 0.9, ph: 7.2 }).numbers;
    expect(curve(po2MmHg, 7.2)).toBeCloseTo(0.9, 6);
    const pa = sampleOf({ site: 'mixed-venous', path: 'gases[1]', po2MmHg: 30, ph: 7.2 });
    const venous = resolved({ po2MmHg: 60, so2Fraction: 0.9 }, { samples: [pa] }).numbers.venous!;
    expect(venous.so2Fraction).toBeCloseTo(curve(30, 7.2), 6);
    // arterial blood at pH 7.1 has less at 60 mmHg: the same venous blood is then almost as full
    const near = sampleOf({
      site: 'mixed-venous',
      path: 'gases[1]',
      po2MmHg: 50,
      so2Fraction: (contentMlDl(HB, curve(60, 7.1), 60) - 1.4 - 0.155) / (1.34 * HB),
    });
    const at = (ph: number): string[] => ids(resolved({ po2MmHg: 60, ph }, { samples: [near] }));
    expect(at(7.1)).toEqual(['caution mixed-venous-arterial gases[1]']);
    expect(at(7.4)).toEqual([]);
  });
});

describe('the difference between arterial and mixed-venous blood', () => {
  it('by Fick is measured: nothing is assumed for it', () => {
    const fick = { oxygenUptakeMlMin: 240, cardiacOutputLMin: 6.4, oxygenUptakeMethod: 'measured' } as const;
    const found = resolved({ po2MmHg: 60, so2Fraction: 0.9, ph: 7.4, temperatureC: 37 }, fick);
    expect(found).toMatchObject({ differenceBasis: 'fick', origins: { av_difference_ml_dl: 'derived' } });
    expect(found.assumed).toHaveLength(4);
    expect(found.assumed.every((text) => typeof text === 'string')).toBe(true);
  });

  it('if assumed, is doubted along with the output', () => {
    const patient = { ageYears: 40, weightKg: 75 };
    const found = resolved({ po2MmHg: 60, so2Fraction: 0.9 }, { cardiacOutputLMin: 9, patient });
    expect(ids(found)).toEqual(['caution assumed-difference-implausible circulation.cardiac_output']);
  });
});

describe('the arterial saturation used', () => {
  it.each<[number, number | undefined, 'measured' | 'curve']>([
    [149.9, 0.99, 'measured'],
    [150, 0.99, 'curve'],
    [150, 0.98, 'curve'],
    [150, 0.979, 'measured'],
    [400, 0.979, 'measured'],
    [60, undefined, 'curve'],
  ])('at %d mmHg with %d measured: %s', (po2MmHg, so2Fraction, basis) => {
    const found = resolved({ po2MmHg, so2Fraction });
    expect(found.saturationBasis).toBe(basis);
    expect(found.numbers.arterialSaturation).toBe(basis === 'measured' ? so2Fraction : undefined);
    expect(found.origins.arterial_saturation_percent).toBe(basis === 'measured' ? 'measured' : 'derived');
  });
});

describe('mixed-venous blood', () => {
  const arterial = { po2MmHg: 60, so2Fraction: 0.9 };
  const venous = (given: Partial<GasSample>): GasSample =>
    sampleOf({ name: 'pa', site: 'mixed-venous', path: 'gases[1]', ...given });
  const withVenous = (samples: GasSample[], more: Partial<ShuntInput> = {}) =>
    resolved(arterial, { samples, ...more });
  const used = { po2MmHg: 38, so2Fraction: 0.68 };

  it('of the visit and its oxygen is used; the difference is then neither assumed nor doubted', () => {
    const found = withVenous([venous(used)], {
      cardiacOutputLMin: 20,
      patient: { ageYears: 40, weightKg: 60 },
    });
    expect(found.numbers.venous).toMatchObject(used);
    expect(found).toMatchObject({ differenceBasis: 'mixed-venous', doubtfulVenous: undefined });
    expect(found.origins.av_difference_ml_dl).toBe('measured');
    expect(found.assumed.some((text) => text.startsWith('arterio-venous'))).toBe(false);
    expect(found.findings).toEqual([]);
  });

  it.each<[string, Partial<GasSample>, string[]]>([
    ['another visit', { ...used, when: 'after' }, []],
    ['arterial blood', { ...used, site: 'arterial' }, []],
    ['a different FiO2', { ...used, fio2: 0.21 }, ['caution mixed-venous-other-oxygen gases[1]']],
    ['neither PO2 nor saturation', {}, ['caution mixed-venous-unusable gases[1]']],
  ])('of %s is not used', (_, given, expected) => {
    const found = withVenous([venous(given)]);
    expect(found.numbers.venous).toBeUndefined();
    expect(found.differenceBasis).toBe('assumed');
    expect(ids(found)).toEqual(expected);
  });

  it('without its oxygen is that of the arterial sample, and a second sample is tried where the first is not used', () => {
    expect(withVenous([venous({ ...used, fio2: undefined })]).numbers.venous).toMatchObject(used);
    const found = withVenous([venous({ ...used, fio2: 0.21 }), venous({ ...used, path: 'gases[2]' })]);
    expect(found.numbers.venous).toMatchObject(used);
    expect(ids(found)).toEqual(['caution mixed-venous-other-oxygen gases[1]']);
    expect(found.findings[0].text).toContain('drawn on FiO2 0.21, the arterial one on 1.00');
  });

  it('what its half is derived from is named, with the pH used for it', () => {
    const named = (given: Partial<GasSample>): string[] =>
      withVenous([venous(given)]).assumed.filter((text) => text.startsWith('mixed-venous'));
    expect(named(used)).toEqual([]);
    expect(named({ po2MmHg: 38, ph: 7.36 })).toEqual([
      expect.stringContaining(
        `mixed-venous saturation ${fixed(100 * curve(38, 7.36), 1)} % from its PO2 (Severinghaus`,
      ),
    ]);
    expect(named({ so2Fraction: 0.68, ph: 7.36 })).toEqual([
      expect.stringMatching(/^mixed-venous PO2 3\d\.\d mmHg from its saturation \(Ellis/),
    ]);
    expect(named({ so2Fraction: 0.68 })).toHaveLength(2);
    expect(named({ so2Fraction: 0.68 })[1]).toBe('mixed-venous pH 7.40 (not given)');
  });

  it.each<[number, string[], boolean]>([
    // arterial content by hand 1.34 · 15 · 0.9 + 0.0031 · 60 = 18.276 mL/dL; the venous one is this much lower
    [-0.2, ['caution mixed-venous-arterial gases[1]'], false],
    [1.49, ['caution mixed-venous-arterial gases[1]'], false],
    [1.51, [], true],
    [2.49, [], true],
    [2.51, [], false],
  ])('with %d mL/dL less oxygen: %s, doubtful %s', (lessMlDl, expected, isDoubtful) => {
    // its PO2 at 50 mmHg, which dissolves 0.155 mL/dL
    const so2Fraction = (18.276 - lessMlDl - 0.155) / (1.34 * HB);
    const found = withVenous([venous({ po2MmHg: 50, so2Fraction })]);
    expect(ids(found)).toEqual(expected);
    expect(found.doubtfulVenous?.differenceMlDl ?? 0).toBeCloseTo(isDoubtful ? lessMlDl : 0, 9);
    expect(found.doubtfulVenous?.sample.name).toBe(isDoubtful ? 'pa' : undefined);
    if (expected.length > 0)
      expect(found.findings[0].text).toContain(
        lessMlDl < 0
          ? 'holds more oxygen than the arterial sample on-oxygen'
          : 'holds only 1.49 mL/dL less oxygen than',
      );
  });

  it('is compared with the arterial content by the curve where no saturation was measured', () => {
    // by a second curve: content at PO2 60 mmHg; the venous sample 1.4 or 1.6 mL/dL less
    const content = contentMlDl(HB, curve(60), 60);
    const at = (lessMlDl: number): string[] =>
      ids(
        resolved(
          { po2MmHg: 60 },
          { samples: [venous({ po2MmHg: 50, so2Fraction: (content - lessMlDl - 0.155) / (1.34 * HB) })] },
        ),
      );
    expect(at(1.45)).toEqual(['caution mixed-venous-arterial gases[1]']);
    expect(at(1.55)).toEqual([]);
  });

  it('has the temperature of the arterial sample where its own is not given', () => {
    const at = (own: number | undefined, arterialC: number): number =>
      resolved(
        { ...arterial, temperatureC: arterialC },
        { samples: [venous({ po2MmHg: 30, temperatureC: own })] },
      ).numbers.venous!.so2Fraction;
    expect(at(undefined, 40)).toBe(at(40, 37));
    expect(at(undefined, 40)).toBeLessThan(at(37, 40));
  });
});
