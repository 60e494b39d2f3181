import { describe, expect, it } from 'vitest';
import { assumedAvDifference } from '../../src/physiology/assumed-av-difference.js';
import { assumedOutput } from '../../src/physiology/assumed-output.js';
import { bloodViscosity, meanVelocity } from '../../src/physiology/blood-flow.js';
import { gasLimits } from '../../src/physiology/gas-limits.js';
import { predictedUptake } from '../../src/physiology/predicted-uptake.js';
import { standardAtmosphere } from '../../src/physiology/standard-atmosphere.js';
import { RULES } from './make.js';

describe('what is derived from body size', () => {
  it('the adult text says whether the age is known', () => {
    const of = (ageYears: number | undefined) => {
      const found = assumedOutput({ ageYears });
      return 'output' in found ? found.output : undefined;
    };
    expect(of(40)?.words).toContain('cardiac output 5 L/min, a normal value (');
    expect(of(undefined)?.words).toContain(
      'cardiac output 5 L/min, a normal value of adults, the age is not given (',
    );
    expect(of(40)).toMatchObject({ lMin: 5, intervalLMin: [4, 6] });
    expect(assumedOutput({ ageYears: 0.99, heightCm: 75, weightKg: 9 })).toHaveProperty('absentBecause');
    expect(assumedOutput({ ageYears: 1, heightCm: 75, weightKg: 9 })).toHaveProperty('output');
  });

  it('the uptake from 157.3 m² with its 30 % either way, from one year on', () => {
    const size = { heightCm: 180, weightKg: 72 };
    const surface = 0.007184 * 180 ** 0.725 * 72 ** 0.425;
    const of = (patient: Parameters<typeof predictedUptake>[0]) => {
      const found = predictedUptake(patient);
      return 'uptake' in found ? found.uptake : found.absentBecause;
    };
    const byHand = (man: number, age: number): number => 157.3 * surface + man - 10.5 * Math.log(age) + 4.8;
    for (const [sex, man] of [
      ['male', 10],
      ['female', 0],
      ['unknown', 5],
    ] as const) {
      const found = of({ ...size, ageYears: 40, sex });
      if (typeof found === 'string') throw new Error(found);
      expect(found.mlMin).toBeCloseTo(byHand(man, 40), 9);
      expect(found.intervalMlMin[0]).toBeCloseTo(0.7 * byHand(man, 40), 9);
      expect(found.intervalMlMin[1]).toBeCloseTo(1.3 * byHand(man, 40), 9);
    }
    expect(of({ ...size, sex: 'male' })).toBe('the age is not given');
    expect(of({ ...size, ageYears: 0.99 })).toContain('under one year');
    expect(of({ ...size, ageYears: 1 })).toHaveProperty('mlMin');
    expect(of({ ageYears: 40, weightKg: 72 })).toBe('height and weight are not both given');
  });

  it('the difference of a child: predicted uptake divided by its own output, or by the assumed one', () => {
    const child = { ageYears: 10, sex: 'male', weightKg: 30, heightCm: 138 } as const;
    const surface = 0.007184 * 138 ** 0.725 * 30 ** 0.425;
    const uptake = 157.3 * surface + 10 - 10.5 * Math.log(10) + 4.8;
    const of = (patient: Parameters<typeof assumedAvDifference>[0], output?: number) => {
      const found = assumedAvDifference(patient, output);
      return 'difference' in found ? found.difference : found.absentBecause;
    };
    expect(of(child)).toMatchObject({ impliedBy: { outputLMin: expect.closeTo(3.4 * surface, 12) } });
    expect(of(child, 4)).toMatchObject({
      mlDl: expect.closeTo(uptake / 40, 12),
      impliedBy: { uptakeMlMin: expect.closeTo(uptake, 9), outputLMin: 4 },
    });
    expect(of({ ...child, ageYears: 18 })).toEqual({ mlDl: 5 });
    expect(of({ ...child, ageYears: undefined })).toEqual({ mlDl: 5 });
    expect(of({ ...child, ageYears: 17.9 })).toHaveProperty('impliedBy');
    // an output without a size: no uptake; an infant without an output: no output
    expect(of({ ...child, heightCm: undefined }, 4)).toBe('height and weight are not both given');
    expect(of({ ...child, ageYears: 0.5 })).toContain('no cardiac output is assumed');
  });
});

describe('single formulas', () => {
  it('the velocity of 3 L/min in 8 mm: 50 mL/s over 0.5027 cm² is 0.995 m/s', () => {
    expect(meanVelocity(3, 8)).toBeCloseTo(50 / (Math.PI * 0.4 ** 2) / 100, 12);
  });

  it('the viscosity is the nominal one outside a haematocrit of 0.2 to 0.75', () => {
    for (const outside of [0.199, 0.751]) expect(bloodViscosity(outside)).toBe(3.5);
    expect(bloodViscosity(0.2)).toBeCloseTo(10 ** (0.01138 * 20 + 0.03699), 12);
    expect(bloodViscosity(0.75)).toBeCloseTo(10 ** (0.01138 * 75 + 0.03699), 12);
  });

  it('the standard atmosphere is valid from -2000 to 11 000 m', () => {
    for (const outside of [-2001, 11_001, Number.NaN])
      expect(() => standardAtmosphere(outside)).toThrow(RangeError);
    for (const at of [-2000, 11_000]) expect(standardAtmosphere(at)).toBeGreaterThan(100);
  });

  it('percentages in the rules are fractions here', () => {
    expect(gasLimits(RULES)).toEqual({
      po2AboveAlveolarMmHg: 40,
      po2AboveAlveolarFraction: 0.06,
      saturationAboveEndCapillary: 0.03,
      venousDifferenceUnusedMlDl: 1.5,
      venousDifferenceDoubtfulMlDl: 2.5,
      venousLikePo2MmHg: 45,
      venousLikeSaturation: 0.8,
      roomAirSaturationMargin: 0.05,
      normalShuntFraction: 0.05,
      lowestRestUptakeMlKgMin: 1.8,
      highestRestUptakeMlKgMin: 4.5,
      obeseBmi: 30,
    });
  });
});
