import { describe, expect, it } from 'vitest';
import { student99 } from '../../src/foundation/student-t.js';
import { agreement, readingsNeeded, repeatabilityMm, withinDeviation } from '../../src/print/agreement.js';
import { averageAndRange, repeatabilityOf } from '../../src/print/repeatability.js';

// Bland and Altman, Lancet 1986;327:307: 17 people, peak flow in L/min, two readings with a large meter and two with a mini
// meter.
const PEAK_FLOW = [
  [494, 490, 512, 525],
  [395, 397, 430, 415],
  [516, 512, 520, 508],
  [434, 401, 428, 444],
  [476, 470, 500, 500],
  [557, 611, 600, 625],
  [413, 415, 364, 460],
  [442, 431, 380, 390],
  [650, 638, 658, 642],
  [433, 429, 445, 432],
  [417, 420, 432, 420],
  [656, 633, 626, 605],
  [267, 275, 260, 227],
  [478, 492, 477, 467],
  [178, 165, 259, 268],
  [423, 372, 350, 370],
  [427, 421, 451, 443],
];
const UNKNOWN = { sigmaMm: 0, leastMm: 0, readingsEach: 1 };

describe('agreement (Bland and Altman 1986, peak flow)', () => {
  const found = agreement(
    PEAK_FLOW.map(([large, , mini]) => large - mini),
    UNKNOWN,
  );

  it('bias, standard deviation and limits of the first readings as in the paper', () => {
    expect(found.biasMm).toBeCloseTo(-2.118, 3);
    expect(found.sdMm).toBeCloseTo(38.765, 3);
    // -2.118 minus and plus 1.96 times 38.765
    expect(found.limitsMm[0]).toBeCloseTo(-78.1, 1);
    expect(found.limitsMm[1]).toBeCloseTo(73.9, 1);
    // Printed with two standard deviations, from rounded steps: -79.7 and 75.5.
    expect(Math.abs(found.biasMm - 2 * found.sdMm - -79.7)).toBeLessThan(0.15);
    expect(Math.abs(found.biasMm + 2 * found.sdMm - 75.5)).toBeLessThan(0.15);
  });

  it('intervals of bias and limits', () => {
    expect(found.interval95Mm[0]).toBeCloseTo(-22.0, 1);
    expect(found.interval95Mm[1]).toBeCloseTo(17.8, 1);
    // Standard errors 9.40 of the bias and 16.28 of a limit, and t(16) 2.120.
    expect((found.interval95Mm[1] - found.biasMm) / 2.12).toBeCloseTo(9.4, 2);
    const [[low, high]] = found.limitIntervalsMm!;
    expect((high - low) / 2 / 2.12).toBeCloseTo(16.28, 2);
    const around = agreement(
      PEAK_FLOW.map(([large, , mini]) => large - mini),
      UNKNOWN,
    ).limitIntervalsMm!;
    // Printed for limits of two standard deviations, 0.04 of them (1.55) farther out: -114.2 to -45.1 and 40.9 to 109.9.
    const shift = 0.04 * found.sdMm;
    expect(Math.abs(around[0][0] - shift - -114.2)).toBeLessThan(0.1);
    expect(Math.abs(around[0][1] - shift - -45.1)).toBeLessThan(0.1);
    expect(Math.abs(around[1][0] + shift - 40.9)).toBeLessThan(0.1);
    expect(Math.abs(around[1][1] + shift - 109.9)).toBeLessThan(0.1);
  });

  it('repeatability of each meter', () => {
    const large = withinDeviation(PEAK_FLOW.map(([a, b]) => [a, b]))!;
    const mini = withinDeviation(PEAK_FLOW.map(([, , c, d]) => [c, d]))!;
    expect(large).toBeCloseTo(15.31, 2);
    expect(mini).toBeCloseTo(19.91, 2);
    expect(repeatabilityMm(large)).toBeCloseTo(42.4, 1);
    expect(repeatabilityMm(mini)).toBeCloseTo(55.2, 1);
  });

  it('means of two readings, converted back to single ones', () => {
    const means = PEAK_FLOW.map(([a, b, c, d]) => (a + b - c - d) / 2);
    const plain = agreement(means, UNKNOWN);
    expect(plain.biasMm).toBeCloseTo(-6.03, 2);
    expect(plain.sdMm).toBeCloseTo(33.2, 1);
    // Both meters were read twice: 37.65 = sqrt(33.2² + 15.31²/2 + 19.91²/2).
    const within = Math.hypot(15.31, 19.91);
    const single = agreement(means, { ...UNKNOWN, readingsEach: 2, withinMm: within });
    expect(single.sdMm).toBeCloseTo(37.65, 1);
  });

  it.each([
    [10, 1.07],
    [20, 0.76],
    [30, 0.62],
    [50, 0.48],
    [100, 0.34],
    [200, 0.24],
  ])(
    'the interval of a limit from %i differences is ± %d standard deviations (1.96·sqrt(3/n))',
    (n, half) => {
      const alternating = Array.from(
        { length: n },
        (_, i) => (i % 2 === 0 ? 1 : -1) * Math.sqrt((n - 1) / n),
      );
      const { sdMm, limitIntervalsMm } = agreement(alternating, UNKNOWN);
      expect(sdMm).toBeCloseTo(1, 6);
      const found = (limitIntervalsMm![0][1] - limitIntervalsMm![0][0]) / 2;
      // With t instead of 1.96 it is wider at small n.
      const t = { 10: 2.262, 20: 2.093, 30: 2.045, 50: 2.01, 100: 1.984 }[n] ?? 1.972;
      expect(Math.abs((found * 1.96) / t - half)).toBeLessThan(0.006);
    },
  );
});

// The example from a page on the method by one of its authors: 231 differences with a standard deviation of 3.
it('231 differences with a standard deviation of 3: a limit is known to ± 0.67', () => {
  const { sdMm, limitIntervalsMm } = agreement(
    Array.from({ length: 231 }, (_, i) => (i === 230 ? 0 : i % 2 === 0 ? 3 : -3)),
    UNKNOWN,
  );
  expect(sdMm).toBeCloseTo(3, 9);
  // With t(230) 1.970 instead of 1.96.
  expect(((limitIntervalsMm![0][1] - limitIntervalsMm![0][0]) / 2) * (1.96 / 1.97)).toBeCloseTo(0.67, 2);
});

describe('known error of a reading', () => {
  it('bounds the interval from above as long as the scatter is no larger, and from below where the reader is careful', () => {
    const known = { sigmaMm: 0.1, leastMm: 0.05, readingsEach: 1 };
    const half = (values: number[]): number =>
      agreement(values, known).interval99Mm[1] * Math.sqrt(values.length);
    expect(half([0, 0, 0, 0])).toBeCloseTo(2.576 * 0.05, 6);
    expect(half([0.1, -0.1, 0.1, -0.1])).toBeCloseTo(2.576 * 0.1, 6);
    expect(half([0.3, -0.3, 0.3, -0.3])).toBeCloseTo(5.841 * 0.3 * Math.sqrt(4 / 3), 6);
  });

  it('readings needed to detect a bias: the normal formula, by hand', () => {
    // (4.902·0.1/0.16)² = 9.39
    expect(readingsNeeded(0.16, 0.1)).toBe(10);
    expect(readingsNeeded(0.1, 0.1)).toBe(25);
    expect(readingsNeeded(10, 0.1)).toBe(2);
  });

  it("Student's t: the density integrates to 99.5 %", () => {
    for (const freedom of [1, 2, 5, 13, 30]) {
      // By the half-angle form: substitute t = sqrt(f)·tan(u), so that the density is cos(u)^(f-1).
      const area = (to: number): number => {
        const steps = 20_000;
        let sum = 0;
        for (let i = 0; i < steps; i++)
          sum += Math.cos(((i + 0.5) / steps) * to) ** (freedom - 1) * (to / steps);
        return sum;
      };
      const share = area(Math.atan(student99(freedom) / Math.sqrt(freedom))) / area(Math.PI / 2);
      expect(share).toBeCloseTo(0.99, 4);
    }
  });
});

describe('gauge study (average and range method)', () => {
  // The worked example in the manual of the method: 10 parts, 3 readers, 3 rounds.
  it('gives the worked example of the manual', () => {
    const found = averageAndRange({
      parts: 10,
      readers: 3,
      rounds: 3,
      meanRangeMm: 0.3417,
      readerDifferenceMm: 0.4447,
      partRangeMm: 3.511,
    })!;
    expect(found.equipmentMm).toBeCloseTo(0.2019, 4);
    expect(found.appraiserMm).toBeCloseTo(0.2297, 4);
    expect(found.gaugeMm).toBeCloseTo(0.3058, 4);
    // 3.511 times 0.3146 is 1.10456
    expect(Math.abs(found.partMm! - 1.1046)).toBeLessThan(1e-4);
    const total = Math.hypot(found.gaugeMm, found.partMm!);
    expect(total).toBeCloseTo(1.1461, 4);
    const percent = [found.equipmentMm, found.appraiserMm!, found.gaugeMm, found.partMm!].map(
      (x) => Math.round((1000 * x) / total) / 10,
    );
    expect(percent).toEqual([17.6, 20, 26.7, 96.4]);
    expect(found.categories).toBe(5);
    // As a fraction of a tolerance: six standard deviations, in older editions 5.15.
    expect(6 * found.gaugeMm).toBeCloseTo(1.835, 3);
    expect(5.15 * found.gaugeMm).toBeCloseTo(1.575, 3);
  });

  it('the constants of an older edition are ours times 5.15', () => {
    const study = { parts: 10, meanRangeMm: 1, readerDifferenceMm: 1000, partRangeMm: 1 };
    for (const [rounds, printed] of [
      [2, 4.56],
      [3, 3.05],
    ])
      expect(
        Math.abs(5.15 * averageAndRange({ ...study, readers: 2, rounds })!.equipmentMm - printed),
      ).toBeLessThan(0.01);
    // The readers differ so much that the poor repeatability does not count.
    for (const [readers, printed] of [
      [2, 3.65],
      [3, 2.7],
    ])
      expect(
        Math.abs((5.15 * averageAndRange({ ...study, readers, rounds: 2 })!.appraiserMm!) / 1000 - printed),
      ).toBeLessThan(0.01);
    expect(5.15 * averageAndRange({ ...study, readers: 2, rounds: 2 })!.partMm!).toBeCloseTo(1.62, 2);
  });

  it('two readers, two rounds from readings, computed by hand', () => {
    const rows: [string, string, number, number][] = [
      ['G1', 'A', 5.0, 5.1],
      ['G1', 'B', 5.2, 5.2],
      ['G2', 'A', 7.0, 7.0],
      ['G2', 'B', 7.1, 7.3],
    ];
    const readings = rows.flatMap(([name, reader, first, second]) =>
      [first, second].map((valueMm, i) => ({ name, valueMm, asWritten: '', reader, round: i + 1 })),
    );
    const found = repeatabilityOf(readings)!;
    // Mean range (0.1 + 0 + 0 + 0.2)/4; means of A 6.025, of B 6.2.
    expect(found.equipmentMm).toBeCloseTo(0.075 * 0.8862, 6);
    const reader = 0.175 * Math.SQRT1_2;
    expect(found.appraiserMm).toBeCloseTo(Math.sqrt(reader ** 2 - (0.075 * 0.8862) ** 2 / 4), 6);
    expect(found).toMatchObject({ parts: 2, readers: 2, rounds: 2 });
  });

  it('needs repeats of at least two points', () => {
    const one = { name: 'G1', valueMm: 5, asWritten: '' };
    expect(repeatabilityOf([one, { ...one, name: 'G2' }])).toBeUndefined();
    expect(
      repeatabilityOf([
        { ...one, round: 1 },
        { ...one, round: 2 },
      ]),
    ).toBeUndefined();
  });
});

// Studies of printed hearts and vessels mostly give only means and standard deviations, from which nothing can be recomputed:
// Valverde (20 models: 0.27 ± 0.73 mm), Olejnik (8: 0.13 ± 0.26), Olivieri (9: 0.4 ± 0.9), all as tabulated in a review in
// Micromachines 2023; printed aneurysms (5: 80 % of points within 0.21 mm); the processes compared in Front Med Technol 2023.
// For Lee's three models the chain of means and deviations can be checked (gauges.test.ts). The table below has every size.
//
// Diameters of a carotid bifurcation in mm on the workstation, of the patient and of the vessel recreated by
// stereolithography and lost wax. Table "Measurements from six regions" of an article in AJNR Am J Neuroradiol (its expansion
// 18470 on ajnr.org; by Kerber and others 2005;26, from memory). The internal carotid artery, 4.0 mm, set the scale and does
// not count.
const REPLICA = [
  { patient: 5.1, replica: 5.0, printed: -2 },
  { patient: 1.5, replica: 1.7, printed: 12 },
  { patient: 2.4, replica: 2.4, printed: 0 },
  { patient: 5.5, replica: 5.9, printed: 7 },
  { patient: 4.2, replica: 4.2, printed: 0 },
];

describe('agreement of a published vessel replica, from its table', () => {
  it('the printed differences are percentages of the replica; bias and limits of agreement computed by hand', () => {
    for (const { patient, replica, printed } of REPLICA)
      expect(Math.round((100 * (replica - patient)) / replica) + 0).toBe(printed);
    const found = agreement(
      REPLICA.map((r) => r.replica - r.patient),
      UNKNOWN,
    );
    // -0.1, 0.2, 0, 0.4, 0: mean 0.1, squares about it 0.16, over 4 degrees of freedom 0.2; t(4) 2.776 · 0.2/√5 = 0.248.
    expect(found.biasMm).toBeCloseTo(0.1, 6);
    expect(found.sdMm).toBeCloseTo(0.2, 6);
    expect(found.limitsMm[0]).toBeCloseTo(-0.292, 3);
    expect(found.limitsMm[1]).toBeCloseTo(0.492, 3);
    expect(found.interval95Mm[0]).toBeCloseTo(-0.148, 3);
    expect(found.interval95Mm[1]).toBeCloseTo(0.348, 3);
  });
});
