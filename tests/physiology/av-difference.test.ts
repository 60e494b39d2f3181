import { describe, expect, it } from 'vitest';
import type { ShuntInput } from '../../src/physiology/shunt-input.js';
import { sampleOf, shuntBy } from './make.js';

/** PaO2 60 mmHg at 90 % on 100 % oxygen, haemoglobin 15: Cc' 22.186, Ca 18.276, so f = 3.910 / (3.910 + D), by hand. */
const of = (more: Partial<ShuntInput>) =>
  shuntBy({
    samples: [sampleOf({ po2MmHg: 60, so2Fraction: 0.9 })],
    when: 'before',
    haemoglobinGDl: 15,
    ...more,
  });
const byHand = (difference: number): number => 3.91 / (3.91 + difference);
const ADULT = { ageYears: 40, sex: 'male', weightKg: 75, heightCm: 178, pregnant: 'no' } as const;

describe("Fick's difference", () => {
  const both = { oxygenUptakeMlMin: 240, cardiacOutputLMin: 6.4 };
  it.each([
    ['measured', 'thermodilution', 'fick'],
    ['measured', 'fick-measured', 'fick'],
    ['measured', 'echo', 'fick'],
    ['measured', 'mri', 'fick'],
    ['measured', undefined, 'fick'],
    ['measured', 'fick-assumed', 'assumed'],
    ['assumed', 'thermodilution', 'assumed'],
    ['assumed', 'fick-assumed', 'assumed'],
    [undefined, 'thermodilution', 'assumed'],
    [undefined, undefined, 'assumed'],
  ] as const)('uptake %s, output by %s: %s', (oxygenUptakeMethod, cardiacOutputMethod, basis) => {
    const { shunt, findings } = of({ ...both, oxygenUptakeMethod, cardiacOutputMethod });
    expect(shunt?.av_difference_basis).toBe(basis);
    // 240 mL/min over 6.4 L/min is 3.75 mL/dL.
    expect(shunt?.fraction).toBeCloseTo(byHand(basis === 'fick' ? 3.75 : 5), 3);
    const beside = shunt?.sensitivity?.map((row) => row.av_difference_ml_dl);
    expect(beside).toContain(basis === 'fick' ? 5 : 3.75);
    expect(findings.some((f) => f.id === 'fick-beside')).toBe(basis === 'assumed');
    const isAssumed = shunt?.assumed.some((text) => text.startsWith('arterio-venous difference'));
    expect(isAssumed).toBe(basis === 'assumed');
  });

  it('gives way to mixed-venous blood, and a given difference takes precedence over it', () => {
    const measured = { ...both, oxygenUptakeMethod: 'measured' } as const;
    const venous = {
      ...sampleOf({ po2MmHg: 38, so2Fraction: 0.68 }),
      name: 'pa',
      site: 'mixed-venous' as const,
    };
    const { shunt } = of({
      ...measured,
      samples: [sampleOf({ po2MmHg: 60, so2Fraction: 0.9 }), venous],
    });
    expect(shunt?.av_difference_basis).toBe('mixed-venous');
    expect(of({ ...measured, avDifferenceMlDl: 4 }).shunt?.av_difference_ml_dl).toBe(4);
  });

  it('below 1.5 mL/dL is not used', () => {
    const at = (oxygenUptakeMlMin: number) =>
      of({ oxygenUptakeMlMin, cardiacOutputLMin: 10, oxygenUptakeMethod: 'measured' });
    expect(at(149).shunt?.av_difference_basis).toBe('assumed');
    expect(at(149).findings.map((f) => f.id)).toContain('fick-impossible');
    expect(at(151).shunt?.av_difference_basis).toBe('fick');
  });

  it('has its own interval: wider for an output by echocardiography than by thermodilution', () => {
    const width = (cardiacOutputMethod: 'echo' | 'thermodilution') => {
      const interval = of({ ...both, oxygenUptakeMethod: 'measured', cardiacOutputMethod }).shunt?.interval;
      return (interval?.[1] ?? 0) - (interval?.[0] ?? 0);
    };
    expect(width('echo')).toBeGreaterThan(1.2 * width('thermodilution'));
  });
});

describe('an output alone', () => {
  // Bergstra: 157.3 x 1.926 m2 + 10 - 10.5 ln 40 + 4.8 = 279.0 mL/min; over 7.4 L/min 3.77 mL/dL, 30 % either way.
  it('the answer from predicted uptake is given as well, with its interval', () => {
    const { shunt } = of({ patient: ADULT, cardiacOutputLMin: 7.4 });
    expect(shunt?.av_difference_basis).toBe('assumed');
    const row = shunt?.sensitivity?.find(({ source }) => source?.startsWith('predicted oxygen uptake'));
    expect(row?.av_difference_ml_dl).toBeCloseTo(3.77, 2);
    expect(row?.fraction).toBeCloseTo(byHand(3.77), 3);
    expect(row?.interval?.[0]).toBeCloseTo(byHand(3.77 * 1.3), 3);
    expect(row?.interval?.[1]).toBeCloseTo(byHand(3.77 * 0.7), 3);
  });

  it.each([
    ['in pregnancy', { ...ADULT, sex: 'female', pregnant: 'yes' }, 7.4],
    ['without height', { ...ADULT, heightCm: undefined }, 7.4],
    ['without an output', ADULT, undefined],
  ] as const)('%s there is none', (_, patient, cardiacOutputLMin) => {
    const { shunt } = of({ patient, cardiacOutputLMin });
    expect(shunt?.sensitivity?.some(({ source }) => source?.startsWith('predicted'))).toBe(false);
  });

  it.each([
    // 10 x 5 x output / weight: 1.8 and 4.5 mL/kg/min; from BMI 30 the ideal weight (Devine: 50 + 0.906 x (178 - 152.4) = 73.2 kg).
    [75, 6.75, 40, false],
    [75, 6.76, 40, true],
    [75, 2.7, 40, false],
    [75, 2.69, 40, true],
    [94.9, 8.5, 40, false],
    [95.1, 8.5, 40, true],
    [95.1, 6.5, 40, false],
    [30, 5, 17, false],
  ])(
    'weight %d kg, output %d L/min, age %d: caution %s',
    (weightKg, cardiacOutputLMin, ageYears, isDoubted) => {
      const { findings } = of({ patient: { ...ADULT, weightKg, ageYears }, cardiacOutputLMin });
      expect(findings.some((f) => f.id === 'assumed-difference-implausible')).toBe(isDoubted);
    },
  );
});

describe('in a child', () => {
  const CHILD = { ageYears: 10, sex: 'male', weightKg: 30, heightCm: 138, pregnant: 'no' } as const;
  it('is the predicted uptake divided by the output', () => {
    // Du Bois 1.084 m2; uptake 157.3 x 1.084 + 10 - 10.5 ln 10 + 4.8 = 161.1; output 3.4 x 1.084 = 3.686; 4.37 mL/dL.
    const { shunt } = of({ patient: CHILD });
    expect(shunt?.av_difference_ml_dl).toBeCloseTo(4.37, 2);
    expect(shunt?.av_difference_basis).toBe('assumed');
    expect(shunt?.assumed.join(' ')).toContain("a child's predicted uptake of 161 mL/min");
    expect(of({ patient: CHILD, cardiacOutputLMin: 4 }).shunt?.av_difference_ml_dl).toBeCloseTo(4.03, 2);
  });

  it('without size is the convention with a caution', () => {
    const { shunt, findings } = of({ patient: { ...CHILD, heightCm: undefined } });
    expect(shunt?.av_difference_ml_dl).toBe(5);
    expect(findings.map((f) => f.id)).toContain('child-difference-conventional');
  });
});
