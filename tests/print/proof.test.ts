import { describe, expect, it } from 'vitest';
import { randomStream } from '../../src/phantoms/random.js';
import { printRules } from '../../src/print/process.js';
import { compareReadings, type Expectation } from '../../src/print/proof.js';
import { rules } from './make.js';

const limits = printRules(rules);
const SIZES = [5.6, 5.6, 7, 7, 4.2, 18.3, 16.3, 17.5, 37.9, 73.6, 67, 34, 27];
const expectations: Expectation[] = SIZES.map((expectedMm, i) => ({
  name: `G${i + 1}`,
  expectedMm,
  toleranceMm: expectedMm < 5 ? 0.5 : 1,
}));
const readingsOf = (value: (size: number, i: number) => number) =>
  SIZES.map((size, i) => ({ name: `G${i + 1}`, valueMm: value(size, i), asWritten: '' }));
const proof = (value: (size: number, i: number) => number, scale = 1) =>
  compareReadings(expectations, readingsOf(value), limits, scale);

/** Caliper noise of 0.05 mm, roughly normal, from a seed. */
function noise(seed: number): () => number {
  const random = randomStream(seed);
  return () => 0.05 * (random.next() + random.next() + random.next() + random.next() - 2) * Math.sqrt(3);
}

describe('limits of agreement', () => {
  // Bland and Altman, Lancet 1986;327:307, table 1: 17 subjects, peak flow by large and mini meter, first readings; values from
  // memory. Printed there: mean difference -2.1 l/min, standard deviation 38.8 l/min, limits -79.7 and 75.5 with 2 sd.
  it('as the worked example prints them', () => {
    const large = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427];
    const mini = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451];
    const found = compareReadings(
      mini.map((expectedMm, i) => ({ name: String(i), expectedMm, toleranceMm: 1000 })),
      large.map((valueMm, i) => ({ name: String(i), valueMm, asWritten: '' })),
      limits,
      1,
    );
    expect(found.biasMm).toBeCloseTo(-2.1, 1);
    const sd = (found.limitsOfAgreementMm![1] - found.limitsOfAgreementMm![0]) / (2 * 1.96);
    expect(sd).toBeCloseTo(38.8, 1);
  });
});

describe('a true print', () => {
  it.each([1, 2, 3, 4, 5, 6, 7, 8])('with caliper noise of 0.05 mm passes (seed %i)', (seed) => {
    const n = noise(seed);
    const found = proof((size) => size + n());
    expect([found.verdict, found.outlier, found.slip]).toEqual(['pass', undefined, undefined]);
    expect(found.scale!.isError).toBe(false);
    expect(Math.abs(found.biasMm!)).toBeLessThan(0.05);
  });

  it('read exactly passes with nothing to say but that', () => {
    const found = proof((size) => size);
    expect(found).toMatchObject({ verdict: 'pass', biasMm: 0, limitsOfAgreementMm: [0, 0], notRead: [] });
    expect(found.scale!.factor).toBe(1);
    expect(found.because).toHaveLength(1);
  });
});

describe('a scale error', () => {
  it.each([
    [1.02, 'large'],
    [0.98, 'small'],
    [1.015, 'large'],
  ])('of factor %d is found, named and fails, also inside every tolerance', (factor, word) => {
    const n = noise(11);
    const found = proof((size) => size * factor + n());
    expect(found.verdict).toBe('fail');
    expect(found.scale!.isError).toBe(true);
    expect(found.scale!.factor).toBeCloseTo(factor, 2);
    expect(found.scale!.interval[0]).toBeLessThan(factor);
    expect(found.scale!.interval[1]).toBeGreaterThan(factor);
    expect(found.because[0]).toMatch(new RegExp(`Scale error: the print is \\d\\.\\d\\d % too ${word}`));
  });

  it('of 2 % on small sizes only, none out of tolerance, still fails', () => {
    const some = expectations.filter((e) => e.expectedMm > 10 && e.expectedMm < 40);
    const found = compareReadings(
      some,
      some.map((e) => ({ name: e.name, valueMm: e.expectedMm * 1.02, asWritten: '' })),
      limits,
      1,
    );
    expect(found.rows.every((r) => r.isWithin)).toBe(true);
    expect(found.scale!.isError).toBe(true);
    expect(found.verdict).toBe('fail');
  });

  it('just under and at the smallest that is named', () => {
    expect(proof((size) => size * 1.0099).scale!.isError).toBe(false);
    expect(proof((size) => size * 1.0101).scale!.isError).toBe(true);
  });
});

describe('mix-ups', () => {
  it('readings in inches written as mm are named', () => {
    const found = proof((size) => size / 25.4);
    expect(found.verdict).toBe('fail');
    expect(found.because[0]).toContain(
      'inches and millimetres were mixed up: everything reads 25.4 times too small',
    );
  });
  it('a file in mm printed as inches is named', () => {
    expect(proof((size) => size * 25.4).slip).toContain('25.4 times too large');
  });
  it('centimetres are named', () => {
    expect(proof((size) => size / 10).slip).toContain('centimetres');
  });
  it('a scale that was forgotten or applied twice is named', () => {
    expect(proof((size) => size / 2, 2).slip).toContain('was not applied');
    expect(proof((size) => size * 2, 2).slip).toContain('applied twice');
    expect(proof((size) => size, 2).slip).toBeUndefined();
  });
});

describe('one point that disagrees', () => {
  it('is named alone, without a scale error, and fails', () => {
    const n = noise(5);
    const found = proof((size, i) => size + n() + (i === 9 ? 2.4 : 0));
    expect(found).toMatchObject({ verdict: 'fail', outlier: 'G10' });
    expect(found.worst!.name).toBe('G10');
    expect(found.scale!.isError).toBe(false);
    expect(found.because[0]).toContain('G10 alone disagrees');
  });

  it('on both sides of its tolerance', () => {
    expect(proof((size, i) => size + (i === 5 ? 1 : 0)).verdict).toBe('pass');
    expect(proof((size, i) => size + (i === 5 ? 1.001 : 0)).verdict).toBe('fail');
    expect(proof((size, i) => size - (i === 4 ? 0.501 : 0)).verdict).toBe('fail');
    expect(proof((size, i) => size - (i === 4 ? 0.5 : 0)).verdict).toBe('pass');
  });
});

describe('few readings', () => {
  it('are not enough to prove a print, yet enough to fail it', () => {
    const four = readingsOf((size) => size).slice(0, 4);
    const found = compareReadings(expectations, four, limits, 1);
    expect([found.verdict, found.biasMm, found.scale]).toEqual(['too-few', undefined, undefined]);
    expect(found.notRead).toHaveLength(9);
    expect(compareReadings(expectations, readingsOf((size) => size).slice(0, 5), limits, 1).verdict).toBe(
      'pass',
    );
    expect(
      compareReadings(expectations, [{ name: 'G1', valueMm: 9, asWritten: '' }], limits, 1).verdict,
    ).toBe('fail');
    expect(compareReadings(expectations, [], limits, 1).worst).toBeUndefined();
  });
});
