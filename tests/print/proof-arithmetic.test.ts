import { describe, expect, it } from 'vitest';
import type { ShelfDevice } from '../../src/case/case.js';
import { agreement, readingsNeeded, scaleFit } from '../../src/print/agreement.js';
import { printRules } from '../../src/print/process.js';
import type { Reading } from '../../src/print/readings.js';
import { averageAndRange, repeatabilityOf } from '../../src/print/repeatability.js';
import { deviceChangeMm, deviceStep, diameterTolerance, spanTolerance } from '../../src/print/tolerance.js';
import { loadRules } from '../../src/rules/load-rules.js';

const rules = loadRules();
const UNKNOWN = { sigmaMm: 0, leastMm: 0, readingsEach: 1 };

/** Four unbiased readings with this standard deviation. */
const scattered = (sdMm: number): number[] => [1, -1, 1, -1].map((sign) => sign * sdMm * Math.sqrt(3 / 4));
/** Half width of the interval of their mean, times two, the square root of four. */
const half99 = (values: number[], known: Parameters<typeof agreement>[1]): number => {
  const { interval99Mm, count } = agreement(values, known);
  return ((interval99Mm[1] - interval99Mm[0]) / 2) * Math.sqrt(count);
};

describe('a known error of the readings next to their scatter', () => {
  const known = { sigmaMm: 0.1, leastMm: 0.05, readingsEach: 1 };

  // chi² of 3 degrees of freedom exceeds 7.815 once in twenty times: the square root of a third of it is 1.614 (table; 1.610
  // by Wilson and Hilferty)
  it('bounds it up to 1.61 times itself with four readings, beyond that only the scatter counts: t(3) is 5.841', () => {
    expect(half99(scattered(0.1605), known)).toBeCloseTo(2.576 * 0.1, 6);
    expect(half99(scattered(0.1615), known)).toBeCloseTo(5.841 * 0.1615, 6);
  });

  it('is halved for means of four readings, at both ends', () => {
    const means = { ...known, readingsEach: 4 };
    expect(half99([0, 0, 0, 0], means)).toBeCloseTo((2.576 * 0.05) / 2, 6);
    expect(half99(scattered(0.08), means)).toBeCloseTo((2.576 * 0.1) / 2, 6);
    expect(half99(scattered(0.0815), means)).toBeCloseTo(5.841 * 0.0815, 6);
  });

  it('two readings have one degree of freedom: t(1) is 63.657', () => {
    // 0.2·√2 is past 1.936 times 0.1
    expect(half99([0.2, -0.2], known)).toBeCloseTo(63.657 * 0.2 * Math.SQRT2, 4);
  });

  it('one reading has no scatter and no interval of its limits', () => {
    const one = agreement([0.3], known);
    expect(one).toMatchObject({ count: 1, biasMm: 0.3, sdMm: 0, limitsMm: [0.3, 0.3] });
    expect(one.interval95Mm[1]).toBeCloseTo(0.3 + 1.96 * 0.1, 9);
    expect(one).not.toHaveProperty('limitIntervalsMm');
    expect(agreement([0.3, 0.1], known)).toHaveProperty('limitIntervalsMm');
  });

  it('requires a whole number of readings where the formula gives one', () => {
    // (4.902·5/4.902)²
    expect(readingsNeeded(4.902, 5)).toBe(25);
  });
});

describe('the scale of readings', () => {
  const pairs = (...readings: number[]) =>
    readings.map((readingMm, i) => ({ expectedMm: 10 * (i + 1), readingMm }));

  it('by regression through the origin, by hand', () => {
    // Σxy = 103 + 406 + 918 over Σx² = 1400; squares about it 0.019286 over two degrees of freedom; t(2) 4.303 and 9.925
    const { factor, interval95, interval99 } = scaleFit(pairs(10.3, 20.3, 30.6), UNKNOWN);
    expect(factor).toBeCloseTo(1427 / 1400, 12);
    const error = Math.sqrt(0.0192857 / 2 / 1400);
    expect(interval95[1] - factor).toBeCloseTo(4.303 * error, 6);
    expect(factor - interval95[0]).toBeCloseTo(4.303 * error, 6);
    expect(interval99[1] - factor).toBeCloseTo(9.925 * error, 5);
  });

  it('depends on all readings if leaving any one out keeps half of it, on the same side', () => {
    const carried = (...readings: number[]) => scaleFit(pairs(...readings), UNKNOWN).isCarriedByAll;
    expect(carried(10.2, 20.4, 30.6)).toBe(true);
    expect(carried(9.8, 19.6, 29.4)).toBe(true);
    // the first alone does not, each pair does
    expect(carried(10, 20.6, 30.9)).toBe(true);
    // the last alone is off
    expect(carried(10, 20, 33)).toBe(false);
    // without the last, the other two lie on the other side
    expect(carried(9.9, 19.8, 31)).toBe(false);
  });
});

describe('repeatability of readings', () => {
  const study = {
    parts: 10,
    readers: 2,
    rounds: 2,
    meanRangeMm: 0.1,
    readerDifferenceMm: 0.2,
    partRangeMm: 3,
  };

  it('has constants for two or three rounds and up to three readers, with at least two parts', () => {
    const known = (more: Partial<typeof study>): boolean =>
      averageAndRange({ ...study, ...more }) !== undefined;
    expect([1, 2, 3, 4].map((rounds) => known({ rounds }))).toEqual([false, true, true, false]);
    expect([1, 2, 3, 4].map((readers) => known({ readers }))).toEqual([true, true, true, false]);
    expect([1, 2].map((parts) => known({ parts }))).toEqual([false, true]);
  });

  it('one reader has no share of readers; eleven parts have none of parts; without scatter there are no categories', () => {
    const alone = averageAndRange({ ...study, readers: 1 })!;
    expect(alone).not.toHaveProperty('appraiserMm');
    expect(alone.gaugeMm).toBe(alone.equipmentMm);
    const many = averageAndRange({ ...study, parts: 11 })!;
    expect(many).not.toHaveProperty('partMm');
    expect(many).not.toHaveProperty('categories');
    const exact = averageAndRange({ ...study, readers: 1, meanRangeMm: 0 })!;
    expect(exact.partMm).toBeGreaterThan(0);
    expect(exact).not.toHaveProperty('categories');
  });

  const row = (name: string, reader: string | undefined, ...values: number[]): Reading[] =>
    values.map((valueMm) => ({ name, valueMm, asWritten: '', ...(reader && { reader }) }));

  it('counts the points that every reader read in every round, and three rounds if there are more', () => {
    const readings = [
      ...row('G1', 'A', 5, 5.2, 5.1, 9),
      ...row('G1', 'B', 5.1, 5.1, 5.1, 5.1),
      ...row('G2', 'A', 7, 7, 7.3),
      ...row('G2', 'B', 7.1, 7.2, 7.2),
      // once too few, and by one reader alone
      ...row('G3', 'A', 1, 2, 3),
      ...row('G3', 'B', 1, 9),
      ...row('G4', 'B', 1, 2, 3),
    ];
    const found = repeatabilityOf(readings)!;
    expect(found).toMatchObject({ parts: 2, readers: 2, rounds: 3 });
    // ranges 0.2, 0, 0.3 and 0.1; means of G1 5.1 and of G2 7.1333; means of A 6.1 and of B 6.1333
    expect(found.equipmentMm).toBeCloseTo(0.15 * 0.5908, 9);
    expect(found.partMm).toBeCloseTo((42.8 / 6 - 30.6 / 6) * Math.SQRT1_2, 9);
    expect(found.appraiserMm).toBeCloseTo(
      Math.sqrt(Math.max(0, ((36.8 - 36.6) / 6) ** 2 / 2 - (0.15 * 0.5908) ** 2 / 6)),
      9,
    );
  });

  it('is none without repeats, with one point, and without readings', () => {
    expect(repeatabilityOf([])).toBeUndefined();
    expect(repeatabilityOf([...row('G1', 'A', 5), ...row('G2', 'A', 6)])).toBeUndefined();
    expect(repeatabilityOf(row('G1', 'A', 5, 5.1))).toBeUndefined();
    expect(repeatabilityOf([...row('G1', undefined, 5, 5.1), ...row('G2', undefined, 6, 6)])).toMatchObject({
      readers: 1,
    });
  });
});

describe('the step between devices', () => {
  const shelf = (sizes: Partial<Record<ShelfDevice['kind'], number[]>>) => ({
    devices: Object.entries(sizes).flatMap(([kind, list]) =>
      list.map(
        (diameterMm): ShelfDevice => ({
          code: `${kind}-${diameterMm}`,
          kind: kind as ShelfDevice['kind'],
          diameterMm,
        }),
      ),
    ),
  });
  const plugs = (...sizes: number[]) => shelf({ 'vascular-plug': sizes });
  const stepOf = (devices: ReturnType<typeof shelf>, calibreMm: number) =>
    deviceStep(devices, calibreMm)?.sizesMm;

  it('is the smaller of the two next to the calibre, whatever the order of the shelf', () => {
    expect(stepOf(plugs(9, 4, 6, 6), 5)).toEqual([4, 6]);
    expect(stepOf(plugs(4, 6, 7, 12), 5)).toEqual([6, 7]);
    // exactly a size: the step below and the one above
    expect(stepOf(plugs(4, 6, 9), 6)).toEqual([4, 6]);
    expect(stepOf(plugs(4, 7, 9), 7)).toEqual([7, 9]);
  });

  it('is the first below all sizes, the last above all of them, and none with one size', () => {
    expect(stepOf(plugs(4, 6, 7), 2)).toEqual([4, 6]);
    expect(stepOf(plugs(4, 5, 7), 20)).toEqual([5, 7]);
    expect(stepOf(plugs(4, 4), 4)).toBeUndefined();
    expect(stepOf(plugs(), 4)).toBeUndefined();
  });

  it('goes by kind: sizes of two kinds are no step, the finest kind counts, and among equals the first by name', () => {
    expect(stepOf(shelf({ 'vascular-plug': [6], 'detachable-coil': [5] }), 5)).toBeUndefined();
    expect(deviceStep(shelf({ 'vascular-plug': [4, 6, 8], 'detachable-coil': [5, 5.5] }), 5.2)).toEqual({
      stepMm: 0.5,
      sizesMm: [5, 5.5],
      kind: 'detachable-coil',
    });
    const like = shelf({ 'vascular-plug': [4, 6], 'detachable-coil': [5, 7] });
    expect(deviceStep(like, 5.5)?.kind).toBe('detachable-coil');
  });

  it('a print has it at its own scale: half a step, at the true size of the vessel', () => {
    const basis = {
      rules: printRules(rules, 'material-extrusion'),
      printScale: 2,
      shelf: plugs(5, 6, 6.2, 13, 14),
    };
    // 12 mm on the print are 6 mm: the step is 0.2, half of it 0.1, on the print 0.2
    expect(deviceChangeMm(basis, 12)).toMatchObject({ sizesMm: [6, 6.2], changeMm: expect.closeTo(0.2, 12) });
    expect(deviceChangeMm({ ...basis, shelf: undefined }, 12)).toBeUndefined();
  });

  it('a tolerance is rounded down to a hundredth, never up', () => {
    const basis = { rules: printRules(rules, 'material-extrusion'), printScale: 1 };
    // 5 % of 2.79 mm is 0.1395
    expect(diameterTolerance(basis, 2.79).toleranceMm).toBe(0.13);
    const share = basis.rules.spanShare;
    const long = basis.rules.deviationMm / share;
    expect(spanTolerance(basis, 0.9 * long).source).toBe(basis.rules.deviationSource);
    const shared = spanTolerance(basis, 2 * long);
    expect(shared.toleranceMm).toBeCloseTo(2 * basis.rules.deviationMm, 2);
    expect(shared.source).toContain(`${100 * share} % of the length`);
  });
});
