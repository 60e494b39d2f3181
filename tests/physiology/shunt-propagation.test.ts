import { describe, expect, it } from 'vitest';
import {
  drawnInterval,
  type ShuntDraw,
  type ShuntSpread,
  shuntDraws,
  shuntInterval,
} from '../../src/physiology/shunt-interval.js';
import type { ShuntNumbers } from '../../src/physiology/shunt-model.js';
import {
  alveolarMmHg,
  central95Of,
  contentMlDl,
  curve,
  meanOf,
  sdOf,
  seededRandom,
  slopeOf,
} from './independent-formulas.js';
import { sampleOf, shuntBy } from './make.js';

/** PaO2 70 mmHg on oxygen: far from every end of a scale, so that linear error propagation holds. */
const NUMBERS: ShuntNumbers = {
  fio2: 1,
  barometricMmHg: 720,
  pco2MmHg: 36,
  po2MmHg: 70,
  ph: 7.4,
  temperatureC: 37,
  respiratoryQuotient: 0.8,
  haemoglobinGDl: 16,
  avDifferenceMlDl: 5,
};
const SPREAD: ShuntSpread = { pressure: 'measured', pco2: 'measured', avDifferenceSdMlDl: 0.7 };

/** The sources of error of a shunt, each under a name. `art` and `end`: error of the curve on either side. */
const SOURCES = { pb: 720, pco2: 36, po2: 70, hb: 16, d: 5, rq: 0.8, art: 0, end: 0 };
/** Errors as in the program's documents, one standard deviation; all but PCO2 (CLIA) and curve common practice, no source. */
const ERRORS = {
  pb: 1,
  pco2: 2.5,
  po2: 0.03 * 70,
  hb: 0.02 * 16,
  d: 0.7,
  rq: 0.05,
  art: 0.0026,
  end: 0.0026,
};
type Name = keyof typeof SOURCES;
const NAMES = Object.keys(SOURCES) as Name[];

const shuntAt =
  (fio2: number) =>
  ({ pb, pco2, po2, hb, d, rq, art, end }: typeof SOURCES): number => {
    const alveolar = alveolarMmHg(fio2, pb, pco2, rq);
    const full = fio2 === 1 ? 1 : Math.min(1, curve(alveolar) + end);
    const lost = contentMlDl(hb, full, alveolar) - contentMlDl(hb, Math.min(1, curve(po2) + art), po2);
    return lost / (lost + d);
  };

const drawnOf: Record<Name, (draw: ShuntDraw) => number> = {
  pb: ({ numbers }) => numbers.barometricMmHg,
  pco2: ({ numbers }) => numbers.pco2MmHg,
  po2: ({ numbers }) => numbers.po2MmHg,
  hb: ({ numbers }) => numbers.haemoglobinGDl ?? Number.NaN,
  d: ({ numbers }) => numbers.avDifferenceMlDl,
  rq: ({ numbers }) => numbers.respiratoryQuotient,
  art: ({ numbers }) => numbers.curveError?.arterial ?? Number.NaN,
  end: ({ numbers }) => numbers.curveError?.endCapillary ?? Number.NaN,
};

/** Slope of the drawn shunt against one source alone: its errors are independent of all others. */
function slopeInDraws(draws: readonly ShuntDraw[], name: Name): number {
  const values = draws.map(drawnOf[name]);
  const fractions = draws.map(({ fraction }) => fraction);
  const [middle, level] = [meanOf(values), meanOf(fractions)];
  return meanOf(values.map((value, i) => (value - middle) * (fractions[i] - level))) / sdOf(values) ** 2;
}

describe.each([1, 0.3])('the interval of a shunt at FiO2 %d', (fio2) => {
  const at = fio2 === 1 ? SOURCES : { ...SOURCES, po2: 50 };
  const errors = { ...ERRORS, po2: 0.03 * at.po2 };
  // inside the tests, not outside them: a mutation tester changes only what a test runs
  const drawn = (): ShuntDraw[] => shuntDraws({ ...NUMBERS, fio2, po2MmHg: at.po2 }, SPREAD);
  const of = shuntAt(fio2);
  const whole = Math.hypot(...NAMES.map((name) => slopeOf(of, at, name) * errors[name]));

  it('each source is drawn about its value with its error, and moves the shunt as its derivative says', () => {
    const draws = drawn();
    for (const name of NAMES) {
      const values = draws.map(drawnOf[name]);
      // the mean of 2000 draws is within 4 errors / sqrt(2000), their spread within 4 / sqrt(4000)
      expect(Math.abs(meanOf(values) - at[name]), `mean of ${name}`).toBeLessThan(0.09 * errors[name]);
      expect(Math.abs(sdOf(values) / errors[name] - 1), `spread of ${name}`).toBeLessThan(0.064);
      const expected = slopeOf(of, at, name);
      const noise = (4 * whole) / errors[name] / Math.sqrt(draws.length);
      expect(Math.abs(slopeInDraws(draws, name) - expected), `slope by ${name}`).toBeLessThan(
        noise + 0.03 * Math.abs(expected),
      );
    }
    for (const draw of draws.slice(0, 50)) {
      const numbers = Object.fromEntries(NAMES.map((name) => [name, drawnOf[name](draw)]));
      expect(draw.fraction).toBeCloseTo(of(numbers as typeof SOURCES), 10);
    }
  });

  it('is 1.96 times the linear sum of all errors either way', () => {
    const [low, high] = drawnInterval(drawn());
    expect((high - low) / 2 / (1.96 * whole)).toBeGreaterThan(0.94);
    expect((high - low) / 2 / (1.96 * whole)).toBeLessThan(1.06);
    // the shunt is nonlinear in the difference: its middle is shifted by up to a fraction of one error
    expect(Math.abs((high + low) / 2 - of(at))).toBeLessThan(0.45 * whole);
    // and against an independent Monte Carlo simulation
    const { normal } = seededRandom(77);
    const fractions = Array.from({ length: 10_000 }, () => {
      const moved = Object.fromEntries(NAMES.map((name) => [name, at[name] + errors[name] * normal()]));
      return of(moved as typeof SOURCES);
    });
    const independent = central95Of(fractions);
    expect(Math.abs(low - independent[0])).toBeLessThan(0.25 * whole);
    expect(Math.abs(high - independent[1])).toBeLessThan(0.25 * whole);
  });
});

describe('how well an input is known', () => {
  const sd = (name: Name, spread: Partial<ShuntSpread>, numbers: Partial<ShuntNumbers> = {}) =>
    sdOf(shuntDraws({ ...NUMBERS, ...numbers }, { ...SPREAD, ...spread }).map(drawnOf[name]));

  it.each([
    ['measured', 1],
    ['altitude', 10],
    ['assumed', 20],
  ] as const)('pressure %s: %d mmHg', (pressure, mmHg) => {
    expect(Math.abs(sd('pb', { pressure }) / mmHg - 1)).toBeLessThan(0.064);
  });

  it.each([
    ['measured', 2.5],
    ['assumed', 5],
  ] as const)('PCO2 %s: %d mmHg', (pco2, mmHg) => {
    expect(Math.abs(sd('pco2', { pco2 }) / mmHg - 1)).toBeLessThan(0.064);
  });

  it('the difference with its given error', () => {
    expect(Math.abs(sd('d', { avDifferenceSdMlDl: 0.2 }) / 0.2 - 1)).toBeLessThan(0.064);
  });

  it('a measured saturation by 0.5 points, and never above 100 %', () => {
    const saturations = (arterialSaturation: number) =>
      shuntDraws({ ...NUMBERS, arterialSaturation }, SPREAD).map(
        ({ numbers }) => numbers.arterialSaturation!,
      );
    expect(Math.abs(sdOf(saturations(0.9)) / 0.005 - 1)).toBeLessThan(0.064);
    expect(Math.max(...saturations(0.999))).toBe(1);
    expect(Math.min(...saturations(0.001))).toBe(0);
  });

  it('no impossible value is drawn', () => {
    for (const { numbers } of shuntDraws(
      { ...NUMBERS, pco2MmHg: 1, barometricMmHg: 1, avDifferenceMlDl: 0.6, respiratoryQuotient: 0.51 },
      { pressure: 'assumed', pco2: 'assumed', avDifferenceSdMlDl: 2 },
    )) {
      expect(numbers.pco2MmHg).toBeGreaterThanOrEqual(0);
      expect(numbers.barometricMmHg).toBeGreaterThanOrEqual(0);
      expect(numbers.avDifferenceMlDl).toBeGreaterThanOrEqual(0.5);
      expect(numbers.respiratoryQuotient).toBeGreaterThanOrEqual(0.5);
    }
  });

  it('without haemoglobin none is drawn, and the dissolved form is computed', () => {
    const draws = shuntDraws({ ...NUMBERS, po2MmHg: 400, haemoglobinGDl: undefined }, SPREAD);
    for (const { numbers, fraction } of draws.slice(0, 50)) {
      expect(numbers.haemoglobinGDl).toBeUndefined();
      const dissolved = 0.0031 * (numbers.barometricMmHg - 47 - numbers.pco2MmHg - numbers.po2MmHg);
      expect(fraction).toBeCloseTo(dissolved / (dissolved + numbers.avDifferenceMlDl), 10);
    }
  });

  describe('mixed-venous blood', () => {
    const venousOf = (derived?: 'po2' | 'so2', so2Fraction = curve(38)) =>
      shuntDraws({ ...NUMBERS, venous: { so2Fraction, po2MmHg: 38, derived } }, SPREAD).map(
        ({ numbers }) => numbers.venous!,
      );

    it.each([undefined, 'po2'] as const)(
      'with a measured saturation: both vary independently (derived: %s)',
      (derived) => {
        const drawn = venousOf(derived);
        const saturations = drawn.map((one) => one.so2Fraction);
        const pressures = drawn.map((one) => one.po2MmHg);
        expect(Math.abs(sdOf(pressures) / (0.03 * 38) - 1)).toBeLessThan(0.064);
        expect(Math.abs(sdOf(saturations) / 0.005 - 1)).toBeLessThan(0.064);
        const together = meanOf(saturations.map((s, i) => (s - meanOf(saturations)) * (pressures[i] - 38)));
        expect(Math.abs(together / (0.005 * 0.03 * 38))).toBeLessThan(0.09);
      },
    );

    it('with a saturation from the curve: it moves along the curve', () => {
      for (const { so2Fraction, po2MmHg } of venousOf('so2').slice(0, 100))
        expect(so2Fraction).toBeCloseTo(curve(po2MmHg), 10);
      expect(Math.max(...venousOf('so2', 0.999).map((one) => one.so2Fraction))).toBe(1);
      expect(Math.min(...venousOf('so2', 0.001).map((one) => one.so2Fraction))).toBe(0);
    });
  });
});

describe('a shunt and its interval in a result', () => {
  it.each([
    [{ po2MmHg: 70 }, 15],
    [{ po2MmHg: 300, pco2MmHg: 33, barometricMmHg: 700 }, 19],
    [{ po2MmHg: 55, so2Fraction: 0.88, fio2: 0.21 }, 12],
  ])('%j: the middle 95 %% of its draws, rounded', (sample, haemoglobinGDl) => {
    const { shunt, draws } = shuntBy({ samples: [sampleOf(sample)], when: 'before', haemoglobinGDl });
    const [low, high] = central95Of(draws!.map(({ fraction }) => fraction));
    // by rank instead of by interpolation: neighbours of 2000 draws
    expect(Math.abs(shunt!.interval![0] - low)).toBeLessThan(0.003);
    expect(Math.abs(shunt!.interval![1] - high)).toBeLessThan(0.003);
    expect(shunt!.interval![0]).toBeLessThan(shunt!.fraction!);
    expect(shunt!.interval![1]).toBeGreaterThan(shunt!.fraction!);
  });

  it('is clipped to 0..1 and contains the fraction itself', () => {
    expect(shuntInterval(0.3, [-0.1, 1.2])).toEqual([0, 1]);
    expect(shuntInterval(0.3, [0.2, 0.4])).toEqual([0.2, 0.4]);
    expect(shuntInterval(0.3, [0.31, 0.4])).toEqual([0.3, 0.4]);
    expect(shuntInterval(0.3, [0.2, 0.29])).toEqual([0.2, 0.3]);
  });
});
