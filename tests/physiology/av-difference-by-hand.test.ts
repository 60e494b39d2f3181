import { describe, expect, it } from 'vitest';
import { avDifference, impliedUptakeDoubt, otherDifferences } from '../../src/physiology/av-difference.js';
import { gasLimits } from '../../src/physiology/gas-limits.js';
import type { ShuntInput } from '../../src/physiology/shunt-input.js';
import { RULES } from './make.js';

const input = (more: Partial<ShuntInput>): ShuntInput => ({ samples: [], when: 'before', ...more });
const used = (more: Partial<ShuntInput>) => avDifference(input(more), gasLimits(RULES));
const ids = (more: Partial<ShuntInput>): string[] =>
  used(more).findings.map(({ level, id, where }) => `${level} ${id} ${where}`);

const MEASURED = { oxygenUptakeMlMin: 240, cardiacOutputLMin: 6.4, oxygenUptakeMethod: 'measured' } as const;
/** Du Bois: 0.007184 · 178^0.725 · 75^0.425 m². */
const SURFACE = 0.007184 * 178 ** 0.725 * 75 ** 0.425;
const MAN = { ageYears: 40, sex: 'male', weightKg: 75, heightCm: 178, pregnant: 'no' } as const;
/** Bergstra: 157.3 mL/min per m², plus 10 for a man, less 10.5 times the logarithm of the age, plus 4.8. */
const UPTAKE = 157.3 * SURFACE + 10 - 10.5 * Math.log(40) + 4.8;
const BOY = { ageYears: 10, sex: 'male', weightKg: 30, heightCm: 138, pregnant: 'no' } as const;

describe('the difference used', () => {
  it('a given one takes precedence over everything', () => {
    expect(used({ ...MEASURED, avDifferenceMlDl: 4 })).toEqual({
      mlDl: 4,
      sdMlDl: 0.7,
      basis: 'assumed',
      origin: 'stated',
      assumed: 'arterio-venous difference 4.00 mL/dL as given',
      findings: [],
    });
  });

  it.each([
    // 10 % of the uptake, and of the output 10 %, 20 % (echocardiography, or not stated) or 25 %
    ['thermodilution', 0.1],
    ['fick-measured', 0.1],
    ['mri', 0.1],
    ['echo', 0.2],
    [undefined, 0.2],
  ] as const)('by Fick, output by %s: 240 over 64, its error by both', (cardiacOutputMethod, part) => {
    const found = used({ ...MEASURED, cardiacOutputMethod });
    expect(found).toMatchObject({ mlDl: 3.75, basis: 'fick', origin: 'derived', findings: [] });
    expect(found.assumed).toBeUndefined();
    expect(found.sdMlDl).toBeCloseTo(3.75 * Math.sqrt(0.1 ** 2 + part ** 2), 12);
  });

  it.each<[string, Partial<ShuntInput>, string[]]>([
    ['nothing', {}, []],
    ['only an uptake', { oxygenUptakeMlMin: 240, oxygenUptakeMethod: 'measured' }, []],
    ['only an output', { cardiacOutputLMin: 6.4 }, []],
    ['an uptake of 0', { ...MEASURED, oxygenUptakeMlMin: 0 }, []],
    ['an output of 0', { ...MEASURED, cardiacOutputLMin: 0 }, []],
    [
      'an assumed uptake',
      { ...MEASURED, oxygenUptakeMethod: 'assumed' },
      ['note fick-beside circulation.oxygen_uptake'],
    ],
    [
      'an uptake by an unknown method',
      { ...MEASURED, oxygenUptakeMethod: undefined },
      ['note fick-beside circulation.oxygen_uptake'],
    ],
    [
      'an output from an assumed uptake',
      { ...MEASURED, cardiacOutputMethod: 'fick-assumed' },
      ['note fick-beside circulation.oxygen_uptake'],
    ],
    // 149 over 100 is 1.49 mL/dL
    [
      '1.49 mL/dL by Fick',
      { ...MEASURED, oxygenUptakeMlMin: 149, cardiacOutputLMin: 10 },
      ['caution fick-impossible circulation'],
    ],
  ])('with %s: the conventional 5 mL/dL', (_, more, expected) => {
    expect(used(more)).toMatchObject({ mlDl: 5, sdMlDl: 0.7, basis: 'assumed', origin: 'assumed' });
    expect(used(more).assumed).toMatch(/^arterio-venous difference 5 mL\/dL \(Chiang/);
    expect(ids(more)).toEqual(expected);
  });

  it('1.5 mL/dL by Fick is used', () => {
    expect(used({ ...MEASURED, oxygenUptakeMlMin: 150, cardiacOutputLMin: 10 }).basis).toBe('fick');
  });

  it('says which numbers were refused, and why', () => {
    const text = (more: Partial<ShuntInput>): string => used({ ...MEASURED, ...more }).findings[0].text;
    expect(text({ oxygenUptakeMethod: 'assumed' })).toBe(
      'The arterio-venous difference by Fick, 3.75 mL/dL, is given beside the shunt and is not used for it: the uptake was assumed.',
    );
    expect(text({ oxygenUptakeMethod: undefined })).toContain(
      'whether the uptake was measured is not stated',
    );
    // the circularity of an output from an assumed uptake is checked before the kind of the uptake
    expect(text({ oxygenUptakeMethod: 'assumed', cardiacOutputMethod: 'fick-assumed' })).toContain(
      'the output was computed from an assumed uptake',
    );
    expect(text({ oxygenUptakeMlMin: 149, cardiacOutputLMin: 10 })).toContain(
      'oxygen uptake 149 mL/min over output 10.0 L/min (Fick) gives an arterio-venous difference of 1.49 mL/dL, below 1.5 mL/dL',
    );
  });
});

describe('for a child', () => {
  const surface = 0.007184 * 138 ** 0.725 * 30 ** 0.425;
  const uptake = 157.3 * surface + 10 - 10.5 * Math.log(10) + 4.8;

  it.each([
    // 3.4 L/min per m² where no output was measured
    [undefined, 3.4 * surface, 'an assumed output of 3.69 L/min'],
    [4, 4, 'an output of 4.00 L/min'],
  ])(
    'with an output of %d L/min: predicted uptake divided by it, 30 % either way',
    (cardiacOutputLMin, output, words) => {
      const found = used({ patient: BOY, cardiacOutputLMin });
      expect(found.mlDl).toBeCloseTo(uptake / (10 * output), 9);
      expect(found.sdMlDl).toBeCloseTo((0.3 * uptake) / (10 * output) / 1.96, 9);
      expect(found).toMatchObject({ basis: 'assumed', origin: 'assumed', findings: [] });
      expect(found.assumed).toContain(`a child's predicted uptake of 161 mL/min (Bergstra`);
      expect(found.assumed).toContain(words);
    },
  );

  it('without size: the convention, with a caution that says what is missing', () => {
    const found = used({ patient: { ...BOY, heightCm: undefined } });
    expect(found).toMatchObject({ mlDl: 5, sdMlDl: 0.7 });
    expect(found.findings).toEqual([
      expect.objectContaining({ level: 'caution', id: 'child-difference-conventional', where: 'patient' }),
    ]);
    expect(found.findings[0].text).toContain('height and weight are not both given');
    expect(ids({ patient: MAN })).toEqual([]);
  });
});

describe('the differences listed besides the one used', () => {
  const rows = (more: Partial<ShuntInput>) => otherDifferences(input(more));

  it('always include the convention and that of HHT', () => {
    expect(rows({}).map(({ mlDl }) => mlDl)).toEqual([5, 4.4]);
    expect(rows({}).map(({ source }) => source)).toEqual([
      expect.stringMatching(/^convention, Chiang/),
      expect.stringMatching(/^measured in HHT, Clin Sci/),
    ]);
  });

  it('Fick’s, with the reason where it is not a measurement', () => {
    expect(rows(MEASURED)[2]).toEqual({
      mlDl: 3.75,
      source: "this patient's oxygen uptake over cardiac output (Fick)",
    });
    expect(rows({ ...MEASURED, oxygenUptakeMethod: 'assumed' })[2].source).toMatch(
      /\(Fick\); the uptake was assumed$/,
    );
  });

  it.each<[string, Partial<ShuntInput>, boolean]>([
    ['an output', { cardiacOutputLMin: 6.4 }, true],
    ['no output', {}, false],
    ['an output of 0', { cardiacOutputLMin: 0 }, false],
    ['a measured uptake', MEASURED, false],
    ['an assumed uptake', { ...MEASURED, oxygenUptakeMethod: 'assumed' }, true],
    ['an uptake method but no uptake', { cardiacOutputLMin: 6.4, oxygenUptakeMethod: 'measured' }, true],
    ['a pregnancy', { cardiacOutputLMin: 6.4, patient: { ...MAN, pregnant: 'yes' } }, false],
    ['no patient', { cardiacOutputLMin: 6.4, patient: undefined }, false],
  ])('with %s, whether the difference from the predicted uptake is listed: %s', (_, more, isGiven) => {
    const found = rows({ patient: MAN, ...more }).filter(({ source }) => source.startsWith('predicted'));
    expect(found).toHaveLength(isGiven ? 1 : 0);
    if (!isGiven) return;
    expect(found[0].mlDl).toBeCloseTo(UPTAKE / 64, 9);
    expect(found[0].intervalMlDl?.[0]).toBeCloseTo((0.7 * UPTAKE) / 64, 9);
    expect(found[0].intervalMlDl?.[1]).toBeCloseTo((1.3 * UPTAKE) / 64, 9);
    expect(found[0].source).toContain('of 279 mL/min, plus and minus 30 %, over the output; Bergstra');
  });
});

describe('an assumed difference that implies an implausible oxygen uptake', () => {
  const doubt = (
    patient: ShuntInput['patient'],
    cardiacOutputLMin?: number,
    more: Partial<ShuntInput> = {},
  ) => {
    const given = input({ patient, cardiacOutputLMin, ...more });
    return impliedUptakeDoubt(given, avDifference(given, gasLimits(RULES)), gasLimits(RULES));
  };
  const large = { ...MAN, weightKg: 100 };
  // at 5 mL/dL the uptake is 50 mL/min for each L/min: 1.8 and 4.5 mL/min per kg at 75 kg are 2.7 and 6.75 L/min
  it.each<[string, ShuntInput['patient'], number | undefined, Partial<ShuntInput>, string | undefined]>([
    ['at the lower limit', MAN, 2.7, {}, undefined],
    ['below the lower limit', MAN, 2.6, {}, 'too high'],
    ['at the upper limit', MAN, 6.75, {}, undefined],
    ['above the upper limit', MAN, 6.8, {}, 'too low'],
    ['a difference that was given', MAN, 9, { avDifferenceMlDl: 5 }, undefined],
    ['a measured uptake', MAN, 9, { oxygenUptakeMlMin: 500, oxygenUptakeMethod: 'measured' }, undefined],
    ['without an output', MAN, undefined, {}, undefined],
    ['without a weight', { ...MAN, weightKg: undefined }, 9, {}, undefined],
    ['without a patient', undefined, 9, {}, undefined],
    ['a child of 17', { ...MAN, ageYears: 17 }, 9, {}, undefined],
    ['a child of 17 without a height', { ageYears: 17, weightKg: 75 }, 9, {}, undefined],
    ['an adult of 18', { ...MAN, ageYears: 18 }, 9, {}, 'too low'],
    ['without an age', { ...MAN, ageYears: undefined }, 9, {}, 'too low'],
    // 100 kg at 178 cm: body mass index 31.6, so the ideal weight, 50 + 0.906 · 25.6 = 73.2 kg, up to 6.59 L/min
    ['a heavy man, below the limit of his ideal weight', large, 6.5, {}, undefined],
    ['a heavy man, above the limit of his ideal weight', large, 6.6, {}, 'too low'],
    [
      'a heavy man without a height, by his own weight',
      { ...large, heightCm: undefined },
      8.9,
      {},
      undefined,
    ],
    // a woman 4.5 kg less: 68.7 kg, 6.18 L/min; of unknown sex halfway between: 70.9 kg, 6.38 L/min
    ['a heavy woman, below the limit of her ideal weight', { ...large, sex: 'female' }, 6.17, {}, undefined],
    ['a heavy woman, above the limit of her ideal weight', { ...large, sex: 'female' }, 6.19, {}, 'too low'],
    [
      'unknown sex, below the limit of the mean ideal weight',
      { ...large, sex: 'unknown' },
      6.37,
      {},
      undefined,
    ],
    [
      'unknown sex, above the limit of the mean ideal weight',
      { ...large, sex: 'unknown' },
      6.4,
      {},
      'too low',
    ],
    // nobody is lighter than 50 kg by that formula: 150 cm and 70 kg, body mass index 31.1, 4.5 L/min
    ['a short man, below the limit of 50 kg', { ...MAN, heightCm: 150, weightKg: 70 }, 4.49, {}, undefined],
    ['a short man, above the limit of 50 kg', { ...MAN, heightCm: 150, weightKg: 70 }, 4.51, {}, 'too low'],
    // body mass index 30 at 178 cm: 95.05 kg, 8.55 L/min
    ['just below a body mass index of 30', { ...MAN, weightKg: 95 }, 8.5, {}, undefined],
    ['just above a body mass index of 30', { ...MAN, weightKg: 95.1 }, 8.5, {}, 'too low'],
  ])('%s', (_, patient, output, more, expected) => {
    const found = doubt(patient, output, more);
    expect(found.map(({ level, id, where }) => `${level} ${id} ${where}`)).toEqual(
      expected === undefined ? [] : ['caution assumed-difference-implausible circulation.cardiac_output'],
    );
    if (expected !== undefined) expect(found[0].text).toContain(`the shunt reads ${expected}.`);
  });

  it('states the implied uptake, by weight, and the predicted one', () => {
    expect(doubt(MAN, 9)[0].text).toContain(
      // 279.0 / 90
      'of 5.0 mL/dL at 9.0 L/min means an oxygen uptake of 450 mL/min, 6.0 mL/min per kg (at rest 1.8 to 4.5): the shunt reads too low. With the uptake predicted for age, sex and size it would be 3.1 mL/dL. Measure',
    );
    expect(doubt({ weightKg: 75 }, 9)[0].text).toContain('too low. Measure');
    expect(doubt(large, 9)[0].text).toContain('6.1 mL/min per kg of ideal weight (at rest');
  });
});
