import { describe, expect, it } from 'vitest';
import { randomStream } from '../../src/phantoms/random.js';
import { printRules } from '../../src/print/process.js';
import { compareReadings, type Expectation } from '../../src/print/proof.js';
import { diameterTolerance, spanTolerance } from '../../src/print/tolerance.js';
import { rules } from './make.js';

const limits = printRules(rules, 'material-extrusion');
const basis = { rules: limits, printScale: 1 };
/** Nine diameters of three vessels, then widths, spans and the tag. */
const DIAMETERS = [5.6, 5.6, 5.7, 7, 7, 7.1, 4.2, 4.2, 4.3];
const SIZES = [...DIAMETERS, 18.3, 16.3, 17.5, 37.9, 73.6, 67, 34, 27];
const expectations: Expectation[] = SIZES.map((expectedMm, i) => ({
  name: `G${i + 1}`,
  kind: i < DIAMETERS.length ? 'diameter' : 'span',
  ...(i < DIAMETERS.length && { vessel: ['A1', 'V1', 'A2'][Math.floor(i / 3)] }),
  expectedMm,
  toleranceMm: (i < DIAMETERS.length ? diameterTolerance : spanTolerance)(basis, expectedMm).toleranceMm,
}));
const readingsOf = (value: (size: number, i: number) => number) =>
  SIZES.map((size, i) => ({ name: `G${i + 1}`, valueMm: value(size, i), asWritten: '' }));
const proof = (value: (size: number, i: number) => number, scale = 1) =>
  compareReadings(expectations, readingsOf(value), limits, scale);
const isDiameter = (i: number): boolean => i < DIAMETERS.length;

/** Caliper noise of 0.05 mm, roughly normal, from a seed. */
function noise(seed: number): () => number {
  const random = randomStream(seed);
  return () => 0.05 * (random.next() + random.next() + random.next() + random.next() - 2) * Math.sqrt(3);
}

describe('a true print', () => {
  it.each([1, 2, 3, 4, 5, 6, 7, 8])('with caliper noise of 0.05 mm is proved (seed %i)', (seed) => {
    const n = noise(seed);
    const found = proof((size) => size + n());
    expect([found.verdict, found.outlier, found.slip]).toEqual(['proved', undefined, undefined]);
    expect(found.isScaleError).toBe(false);
    expect(Math.abs(found.diameters!.biasMm)).toBeLessThan(0.05);
  });

  it('read exactly is proved without any remark', () => {
    const found = proof((size) => size);
    expect(found).toMatchObject({ verdict: 'proved', notRead: [] });
    expect(found.diameters).toMatchObject({ biasMm: 0, limitsMm: [0, 0], count: 9, readings: 9 });
    expect(found.spans!.scale!.factor).toBe(1);
    expect(found.because).toHaveLength(1);
  });
});

describe('prints with wrong vessels', () => {
  it('all diameters 10 % too large', () => {
    const found = proof((size, i) => (isDiameter(i) ? 1.1 * size : size));
    expect(found.verdict).toBe('not-proved');
    expect(found.because[0]).toMatch(/^Bias: the diameters read 0\.56 mm too large .* tolerance ± 0\.16 mm/);
  });

  it('all 0.35 mm too thin', () => {
    const found = proof((size, i) => (isDiameter(i) ? size - 0.35 : size));
    expect(found.verdict).toBe('not-proved');
    expect(found.because[0]).toContain('the diameters read 0.35 mm too small');
  });

  it('one vessel of 4.2 mm off by 0.49 mm, and a single diameter of it', () => {
    const vessel = proof((size, i) => size + (i >= 6 && i < 9 ? 0.49 : 0));
    expect(vessel.verdict).toBe('not-proved');
    expect(vessel.because.join()).toContain('A2 reads 0.49 mm too large');
    const one = proof((size, i) => size + (i === 6 ? 0.49 : 0));
    expect(one).toMatchObject({ verdict: 'not-proved', outlier: 'G7' });
  });

  it('spans neither dilute nor hide the bias of the diameters', () => {
    const found = proof((size, i) => (isDiameter(i) ? size + 0.3 : size - 0.2));
    expect(found.diameters!.biasMm).toBeCloseTo(0.3, 6);
    expect(found.spans!.biasMm).toBeCloseTo(-0.2, 6);
    expect(found.verdict).toBe('not-proved');
  });
});

describe('within tolerance, but biased', () => {
  it('says by how much and in which direction, with both intervals', () => {
    const n = noise(3);
    const found = proof((size, i) => size + (isDiameter(i) ? 0.1 : 0) + 0.5 * n());
    expect(found.verdict).toBe('biased');
    expect(found.because).toHaveLength(1);
    expect(found.because[0]).toMatch(/^Bias: the diameters read 0\.(09|10|11) mm too large \(99 % interval/);
  });

  it('a bias no larger than the smallest one reported is not named', () => {
    expect(proof((size, i) => (isDiameter(i) ? size + 0.05 : size)).verdict).toBe('proved');
    expect(proof((size, i) => (isDiameter(i) ? size - 0.051 : size)).verdict).toBe('biased');
  });
});

describe('a device that would change', () => {
  const some = expectations.map((e) => ({ ...e, ...(e.vessel === 'A1' && { deviceChangeMm: 0.12 }) }));
  it('a vessel that could be off by half a step between devices is not proved', () => {
    const at = (mm: number) =>
      compareReadings(
        some,
        readingsOf((size, i) => size + (i < 3 ? mm : 0)),
        limits,
        1,
      );
    expect(at(0.03).verdict).toBe('proved');
    expect(at(0.06).because.join()).toContain('from 0.12 mm on another device would be chosen');
  });
});

describe('a scale error', () => {
  it.each([
    [1.02, 'large'],
    [0.98, 'small'],
    [1.015, 'large'],
  ])('of factor %d is found, named and not proved', (factor, word) => {
    const n = noise(11);
    const found = proof((size) => size * factor + n());
    expect(found.verdict).toBe('not-proved');
    expect(found.isScaleError).toBe(true);
    const { scale } = found.spans!;
    expect(scale!.factor).toBeCloseTo(factor, 2);
    expect(scale!.interval95[0]).toBeLessThan(factor);
    expect(scale!.interval95[1]).toBeGreaterThan(factor);
    expect(found.because[0]).toMatch(new RegExp(`Scale error: the print is \\d\\.\\d\\d % too ${word}`));
  });

  it('that stands out from the scatter is a bias below the limit, and none below what print shops promise', () => {
    expect(proof((size) => size * 1.0101)).toMatchObject({ isScaleError: true, verdict: 'not-proved' });
    expect(proof((size) => size * 1.004)).toMatchObject({ isScaleError: false, verdict: 'biased' });
    expect(proof((size) => size * 1.0019).verdict).toBe('proved');
  });
});

describe('a mirrored print', () => {
  it('is recognised by the order of three landmarks, never by its sizes', () => {
    const of = (read?: 'clockwise' | 'anticlockwise') =>
      compareReadings(
        expectations,
        readingsOf((size) => size),
        limits,
        1,
        { ...(read && { read }), expected: 'clockwise' },
      );
    expect(of('clockwise')).toMatchObject({ verdict: 'proved', isMirrored: false });
    const wrong = of('anticlockwise');
    expect(wrong).toMatchObject({ verdict: 'not-proved', isMirrored: true });
    expect(wrong.because[0]).toMatch(/^Mirrored: /);
    expect(of().because.join()).toContain('Not checked: a caliper does not see a mirrored print');
  });
});

describe('mix-ups', () => {
  it('readings in inches written as mm are recognised', () => {
    const found = proof((size) => size / 25.4);
    expect(found.verdict).toBe('not-proved');
    expect(found.because[0]).toContain(
      'inches and millimetres were mixed up: everything reads 25.4 times too small',
    );
  });
  it('a file in mm printed as inches is recognised', () => {
    expect(proof((size) => size * 25.4).slip).toContain('25.4 times too large');
  });
  it('centimetres are recognised', () => {
    expect(proof((size) => size / 10).slip).toContain('centimetres');
  });
  it('a scale that was forgotten or applied twice is recognised', () => {
    expect(proof((size) => size / 2, 2).slip).toContain('was not applied');
    expect(proof((size) => size * 2, 2).slip).toContain('applied twice');
    expect(proof((size) => size, 2).slip).toBeUndefined();
  });
});

describe('one point that disagrees', () => {
  it('is named alone, without a scale error', () => {
    const n = noise(5);
    const found = proof((size, i) => size + n() + (i === 13 ? 2.4 : 0));
    expect(found).toMatchObject({ verdict: 'not-proved', outlier: 'G14', isScaleError: false });
    expect(found.worst!.name).toBe('G14');
    expect(found.because[0]).toContain('G14 alone disagrees');
  });

  it('is out beyond its tolerance plus the error of the reading, 2.5 times 0.1 mm', () => {
    const at = (mm: number) => proof((size, i) => size + (i === 4 ? mm : 0)).rows[4];
    expect(at(0.16)).toMatchObject({ isWithin: true, isOut: false });
    expect(at(0.17)).toMatchObject({ isWithin: false, isOut: false });
    expect(at(0.41)).toMatchObject({ isWithin: false, isOut: false });
    expect(at(-0.411)).toMatchObject({ isWithin: false, isOut: true });
  });
});

describe('few readings', () => {
  it('prove nothing; a wrong one is still named', () => {
    const four = readingsOf((size) => size).slice(0, 4);
    const found = compareReadings(expectations, four, limits, 1);
    expect(found.verdict).toBe('not-proved');
    expect(found.because[0]).toContain('4 readings of diameters; 5 or more are needed');
    expect(found.notRead).toHaveLength(13);
    expect(compareReadings(expectations, readingsOf((size) => size).slice(0, 5), limits, 1).verdict).toBe(
      'proved',
    );
    const one = compareReadings(expectations, [{ name: 'G1', valueMm: 9, asWritten: '' }], limits, 1);
    expect(one.because.join()).toContain('G1 reads 9.00 mm for 5.60 mm');
    expect(compareReadings(expectations, [], limits, 1).worst).toBeUndefined();
  });

  it('with wide scatter, say how many more are needed', () => {
    const found = proof((size, i) => size + (isDiameter(i) ? (i % 2 === 0 ? 0.25 : -0.25) : 0));
    expect(found.verdict).toBe('not-proved');
    expect(found.because.join()).toMatch(/Too few readings, or too much scatter.*About \d+ readings/);
  });

  it('repeated readings of a point count as their mean and give their own scatter', () => {
    const rows = readingsOf((size) => size);
    const both = [1, 2].flatMap((round) =>
      rows.map((r) => ({ ...r, round, valueMm: r.valueMm + (round === 1 ? 0.04 : -0.04) })),
    );
    const found = compareReadings(expectations, both, limits, 1);
    expect(found).toMatchObject({ verdict: 'proved', diameters: { count: 9, readings: 18 } });
    expect(found.repeats!.withinMm).toBeCloseTo(0.04 * Math.SQRT2, 6);
    expect(found.gaugeStudy).toMatchObject({ parts: 9, readers: 1, rounds: 2 });
    expect(found.gaugeStudy!.equipmentMm).toBeCloseTo(0.08 * 0.8862, 6);
  });
});

describe('tolerance of a diameter', () => {
  const of = (
    process: Parameters<typeof printRules>[1],
    calibreMm: number,
    printScale = 1,
    sizes?: number[],
  ) =>
    diameterTolerance(
      {
        rules: printRules(rules, process),
        printScale,
        ...(sizes && {
          shelf: {
            devices: sizes.map((diameterMm) => ({
              code: `P${diameterMm}`,
              kind: 'vascular-plug' as const,
              diameterMm,
            })),
          },
        }),
      },
      calibreMm,
    );

  it('is the smallest of process, fraction of the calibre and half a step between devices', () => {
    expect(of('material-extrusion', 6)).toMatchObject({
      toleranceMm: 0.16,
      source: expect.stringContaining('published deviation of material-extrusion (Msallem'),
    });
    expect(of('material-extrusion', 3)).toMatchObject({
      toleranceMm: 0.15,
      source: expect.stringContaining('5 % of the calibre'),
    });
    expect(of('material-jetting', 6).source).toContain('as none is published');
    expect(of(undefined, 6)).toMatchObject({
      toleranceMm: 0.2,
      source: expect.stringContaining('no process is named'),
    });
    expect(of('material-extrusion', 6, 1, [5, 6, 6.2, 7])).toMatchObject({
      toleranceMm: 0.1,
      source: expect.stringContaining('vascular plugs of 6 and 6.2 mm'),
    });
    // At twice the size half a step is twice as large.
    expect(of('material-extrusion', 12, 2, [5, 6, 6.2, 7]).toleranceMm).toBe(0.16);
  });
});
