import { describe, expect, it } from 'vitest';
import { type ClosureBasis, closureDraws } from '../../src/physiology/closure-draws.js';
import type { ClosureDraw } from '../../src/physiology/closure-state.js';
import { closureTable } from '../../src/physiology/closure-table.js';
import type { ShuntDraw } from '../../src/physiology/shunt-interval.js';
import type { Closure } from '../../src/result/result.generated.js';
import {
  type Blood,
  central95Of,
  meanOf,
  saturationLeft,
  sdOf,
  seededRandom,
} from './independent-formulas.js';
import { closureCaseOf, feedersOf, RULES, sampleOf, vesselOf } from './make.js';

/** The spread of 2000 draws is within 4 / sqrt(4000) of the true one, their mean within 4 / sqrt(2000) of one error. */
function expectSpread(values: readonly number[], mean: number, sd: number): void {
  expect(Math.abs(sdOf(values) / sd - 1)).toBeLessThan(0.064);
  expect(Math.abs(meanOf(values) - mean)).toBeLessThan(0.09 * sd);
}

const expectEven = (values: readonly number[], low: number, high: number): void => {
  expect(Math.min(...values)).toBeGreaterThanOrEqual(low);
  expect(Math.max(...values)).toBeLessThanOrEqual(high);
  expectSpread(values, (low + high) / 2, (high - low) / Math.sqrt(12));
};

const share = (name: string, poiseuille: number, murray: number, calibreError: number) => ({
  name,
  calibre: { poiseuilleIntegral: 1, meanCalibreMm: 5, lengthMm: 50 },
  poiseuille,
  murray,
  calibreError,
});

const SATURATION = {
  haemoglobinGDl: 15,
  avDifferenceMlDl: 5,
  barometricMmHg: 740,
  paCO2MmHg: 36,
  alveolarOnAirMmHg: 0,
  alveolarOnOxygenMmHg: 0,
};

/** Two equal feeders at exact pressures, output and shunt: every source is compared with this. */
const basisOf = (more: Partial<ClosureBasis> = {}): ClosureBasis => ({
  feeders: { shares: [share('A1', 0.5, 0.5, 0), share('A2', 0.5, 0.5, 0)], seriesToFeeders: 0, unusable: [] },
  shunt: { fraction: 0.3, interval: [0.3, 0.3] },
  circulation: {
    fitted: { cardiacOutputLMin: 6, meanPaMmHg: 30, wedgeMmHg: 10 },
    spread: { meanPaSdMmHg: 0, wedgeSdMmHg: 0, outputSdFraction: 0 },
  },
  ...more,
});
const drawsOf = (more: Partial<ClosureBasis>, read: (draw: ClosureDraw) => number) =>
  closureDraws(basisOf(more)).map(read);

describe('uncertainty of a closure, one source at a time', () => {
  it('nothing uncertain: every draw is the central answer', () => {
    for (const draw of closureDraws(basisOf()).slice(0, 20))
      expect(draw).toMatchObject({
        shuntFraction: 0.3,
        shares: [0.5, 0.5],
        seriesToFeeders: 0,
        wedgeMmHg: 10,
        meanPaMmHg: 30,
        cardiacOutputLMin: 6,
        saturation: undefined,
      });
  });

  it.each(['wedge', 'mean PA', 'output'])('%s with its own error, about its value', (name) => {
    const circulation = (spread: object): Partial<ClosureBasis> => ({
      circulation: {
        fitted: basisOf().circulation.fitted,
        spread: { ...basisOf().circulation.spread, ...spread },
      },
    });
    if (name === 'wedge')
      expectSpread(
        drawsOf(circulation({ wedgeSdMmHg: 2 }), (d) => d.wedgeMmHg),
        10,
        2,
      );
    if (name === 'mean PA')
      expectSpread(
        drawsOf(circulation({ meanPaSdMmHg: 3 }), (d) => d.meanPaMmHg),
        30,
        3,
      );
    if (name === 'output')
      expectSpread(
        drawsOf(circulation({ outputSdFraction: 0.1 }), (d) => d.cardiacOutputLMin),
        6,
        0.6,
      );
  });

  it('no pressure below zero, no mean PA pressure below the wedge, no output below a tenth', () => {
    const draws = closureDraws(
      basisOf({
        circulation: {
          fitted: { cardiacOutputLMin: 6, meanPaMmHg: 3, wedgeMmHg: 2 },
          spread: { meanPaSdMmHg: 4, wedgeSdMmHg: 4, outputSdFraction: 0.6 },
        },
      }),
    );
    for (const { wedgeMmHg, meanPaMmHg, cardiacOutputLMin } of draws) {
      expect(wedgeMmHg).toBeGreaterThanOrEqual(0);
      expect(meanPaMmHg).toBeGreaterThanOrEqual(wedgeMmHg);
      expect(cardiacOutputLMin).toBeGreaterThanOrEqual(0.6 - 1e-12);
    }
    expect(draws.some(({ meanPaMmHg, wedgeMmHg }) => meanPaMmHg === wedgeMmHg)).toBe(true);
    expect(Math.min(...draws.map(({ cardiacOutputLMin }) => cardiacOutputLMin))).toBeCloseTo(0.6, 9);
  });

  it('the law of flow anywhere between the two, on a logarithmic scale', () => {
    const shares = [share('A1', 0.8, 0.6, 0), share('A2', 0.2, 0.4, 0)];
    const odds = drawsOf({ feeders: { ...basisOf().feeders, shares } }, (d) =>
      Math.log(d.shares[0] / d.shares[1]),
    );
    expectEven(odds, Math.log(0.6 / 0.4), Math.log(0.8 / 0.2));
  });

  it('each calibre by its error: fourth power by Poiseuille, third by Murray', () => {
    const e = 0.02;
    const shares = [share('A1', 0.5, 0.5, e), share('A2', 0.5, 0.5, e)];
    const odds = drawsOf({ feeders: { ...basisOf().feeders, shares } }, (d) =>
      Math.log(d.shares[0] / d.shares[1]),
    );
    // exponent uniform from 3 to 4: mean of its square 37/3
    expectSpread(odds, 0, Math.SQRT2 * e * Math.sqrt(37 / 3));
    const alone = [share('A1', 0.5, 0.5, e), share('A2', 0.5, 0.5, 0)];
    const half = drawsOf({ feeders: { ...basisOf().feeders, shares: alone } }, (d) =>
      Math.log(d.shares[0] / d.shares[1]),
    );
    expectSpread(half, 0, e * Math.sqrt(37 / 3));
    for (const { shares: both } of closureDraws(basisOf({ feeders: { ...basisOf().feeders, shares } })).slice(
      0,
      50,
    ))
      expect(both[0] + both[1]).toBeCloseTo(1, 12);
  });

  it('a calibre with a large error never goes to zero', () => {
    const shares = [share('A1', 0.5, 0.5, 2), share('A2', 0.5, 0.5, 0)];
    for (const value of drawsOf({ feeders: { ...basisOf().feeders, shares } }, (d) => d.shares[0]))
      expect(value).toBeGreaterThan(0.1 ** 4 / 2 - 1e-9);
  });

  it('sac and drains from no resistance to all of it', () => {
    const feeders = { ...basisOf().feeders, seriesToFeeders: 0.4 };
    expectEven(
      drawsOf({ feeders }, (d) => d.seriesToFeeders),
      0,
      0.4,
    );
  });

  // Whyte et al., Thorax 1992;47:790: normal subjects at rest 2.7 %, one standard deviation 1.2 %.
  it('the physiological shunt as in normal subjects, in parallel with the lesion from none to all', () => {
    expectSpread(
      drawsOf({}, (d) => d.physiological),
      0.027,
      0.012,
    );
    expectEven(
      drawsOf({}, (d) => d.besideLesion),
      0,
      1,
    );
  });

  it('sources are drawn independently', () => {
    const draws = closureDraws(
      basisOf({
        shunt: { fraction: 0.3, interval: [0.2, 0.4] },
        saturation: SATURATION,
        feeders: {
          shares: [share('A1', 0.5, 0.5, 0.05), share('A2', 0.5, 0.5, 0.05)],
          seriesToFeeders: 0.5,
          unusable: [],
        },
        circulation: {
          fitted: basisOf().circulation.fitted,
          spread: { meanPaSdMmHg: 2, wedgeSdMmHg: 2, outputSdFraction: 0.1 },
        },
      }),
    );
    const columns = [
      (d: ClosureDraw) => d.shuntFraction,
      (d: ClosureDraw) => d.shares[0],
      (d: ClosureDraw) => d.seriesToFeeders,
      (d: ClosureDraw) => d.physiological,
      (d: ClosureDraw) => d.besideLesion,
      (d: ClosureDraw) => d.wedgeMmHg,
      (d: ClosureDraw) => d.meanPaMmHg,
      (d: ClosureDraw) => d.cardiacOutputLMin,
      (d: ClosureDraw) => d.saturation!.haemoglobinGDl,
      (d: ClosureDraw) => d.saturation!.paCO2MmHg,
      (d: ClosureDraw) => d.saturation!.avDifferenceMlDl,
    ].map((read) => draws.map(read));
    for (const [i, a] of columns.entries())
      for (const b of columns.slice(i + 1)) {
        const [ma, mb] = [meanOf(a), meanOf(b)];
        const together = meanOf(a.map((value, k) => (value - ma) * (b[k] - mb))) / (sdOf(a) * sdOf(b));
        expect(Math.abs(together)).toBeLessThan(0.1);
      }
  });
});

describe('the shunt and its blood', () => {
  it('without draws: within its interval, each half separately', () => {
    const values = drawsOf(
      { shunt: { fraction: 0.3, interval: [0.3 - 0.0196, 0.3 + 0.0392] } },
      (d) => d.shuntFraction,
    );
    const below = values.filter((value) => value < 0.3).map((value) => 0.3 - value);
    const above = values.filter((value) => value > 0.3).map((value) => value - 0.3);
    expect(Math.abs(below.length - 1000)).toBeLessThan(90);
    // the root mean square of half a normal distribution is its standard deviation
    expect(Math.abs(Math.hypot(...below) / Math.sqrt(below.length) / 0.01 - 1)).toBeLessThan(0.09);
    expect(Math.abs(Math.hypot(...above) / Math.sqrt(above.length) / 0.02 - 1)).toBeLessThan(0.09);
    expectSpread(
      drawsOf({ shunt: { fraction: 0.98, interval: [0.9, 1] } }, (d) => Math.min(d.shuntFraction, 0.98)),
      0.9637,
      0.0238,
    );
    expect(
      Math.max(...drawsOf({ shunt: { fraction: 0.98, interval: [0.9, 1] } }, (d) => d.shuntFraction)),
    ).toBe(0.99);
    expect(
      Math.min(...drawsOf({ shunt: { fraction: 0.02, interval: [0, 0.1] } }, (d) => d.shuntFraction)),
    ).toBe(0);
    expect(
      drawsOf({ shunt: { fraction: 0.2 } }, (d) => d.shuntFraction).every((value) => value === 0.2),
    ).toBe(true);
  });

  it('without draws: haemoglobin by 2 %, PaCO2 by 2.5 mmHg, difference by 0.7 mL/dL', () => {
    const of = (read: (model: NonNullable<ClosureDraw['saturation']>) => number) =>
      drawsOf({ saturation: SATURATION }, (d) => read(d.saturation!));
    expectSpread(
      of((m) => m.haemoglobinGDl),
      15,
      0.3,
    );
    expectSpread(
      of((m) => m.paCO2MmHg),
      36,
      2.5,
    );
    expectSpread(
      of((m) => m.avDifferenceMlDl),
      5,
      0.7,
    );
    // 0.21 (740 - 47) - PaCO2 (0.21 + 0.79 / 0.8); on oxygen 740 - 47 - PaCO2
    expectSpread(
      of((m) => m.alveolarOnAirMmHg),
      145.53 - 36 * 1.1975,
      2.5 * 1.1975,
    );
    expectSpread(
      of((m) => m.alveolarOnOxygenMmHg),
      693 - 36,
      2.5,
    );
    const least = drawsOf(
      { saturation: { ...SATURATION, avDifferenceMlDl: 1 } },
      (d) => d.saturation!.avDifferenceMlDl,
    );
    expect(Math.min(...least)).toBe(0.5);
  });

  it('with draws: shunt, haemoglobin, PaCO2, pressure and difference stay together, in turn', () => {
    const shuntDraws = [0.2, 0.3].map(
      (fraction, i): ShuntDraw => ({
        fraction,
        avDifferenceMlDl: 4 + i,
        numbers: {
          fio2: 1,
          barometricMmHg: 700 + i,
          pco2MmHg: 30 + i,
          po2MmHg: 300,
          ph: 7.4,
          temperatureC: 37,
          respiratoryQuotient: 0.8,
          haemoglobinGDl: 12 + i,
          avDifferenceMlDl: 9,
        },
      }),
    );
    const draws = closureDraws(basisOf({ shuntDraws, saturation: SATURATION }));
    for (const [k, draw] of draws.slice(0, 20).entries()) {
      const i = k % 2;
      expect(draw.shuntFraction).toBe([0.2, 0.3][i]);
      expect(draw.saturation).toMatchObject({
        haemoglobinGDl: 12 + i,
        paCO2MmHg: 30 + i,
        barometricMmHg: 700 + i,
        avDifferenceMlDl: 4 + i,
      });
      expect(draw.saturation!.alveolarOnOxygenMmHg).toBeCloseTo(653 + i - 30 - i, 9);
    }
    const lifted = closureDraws(basisOf({ shuntDraws, shunt: { fraction: 0, equation_fraction: -0.05 } }));
    expect(lifted[0].shuntFraction).toBeCloseTo(0.25, 12);
    const kept = closureDraws(basisOf({ shuntDraws, shunt: { fraction: 0, equation_fraction: 0.05 } }));
    expect(kept[0].shuntFraction).toBe(0.2);
    const bare = shuntDraws.map((one) => ({
      ...one,
      numbers: { ...one.numbers, haemoglobinGDl: undefined },
    }));
    expect(
      closureDraws(basisOf({ shuntDraws: bare, saturation: SATURATION }))[0].saturation!.haemoglobinGDl,
    ).toBe(15);
  });
});

/** A closure row computed by hand: the patient's values in, all four columns out. */
interface Patient extends Blood {
  f: number;
  output: number;
  meanPa: number;
  wedge: number;
  /** Share of the flow that is closed. */
  closed: number;
}
type Column =
  | 'shunt_fraction'
  | 'so2_room_air_percent'
  | 'so2_on_oxygen_percent'
  | 'mean_pa_pressure_mmhg'
  | 'cardiac_output_l_min';
const COLUMNS: Column[] = [
  'shunt_fraction',
  'so2_room_air_percent',
  'so2_on_oxygen_percent',
  'mean_pa_pressure_mmhg',
  'cardiac_output_l_min',
];
function rowByHand(p: Patient): Record<Column, number> {
  const after = Math.max(0.027, (p.f * (1 - p.closed)) / (1 - p.f * p.closed));
  const rise = (1 - after) / (1 - p.f);
  return {
    shunt_fraction: after,
    so2_room_air_percent: 100 * saturationLeft(after, 0.21, p),
    so2_on_oxygen_percent: 100 * saturationLeft(after, 1, p),
    mean_pa_pressure_mmhg: p.wedge + (p.meanPa - p.wedge) * rise,
    cardiac_output_l_min: p.output / rise,
  };
}

const USUAL: Patient = {
  f: 0.4,
  hb: 15,
  pb: 760,
  pco2: 40,
  ph: 7.4,
  difference: 5,
  output: 6,
  meanPa: 16,
  wedge: 8,
  closed: 0.5,
};

/** The program's row for the first of two equal feeders. */
function rowOf(
  p: Patient,
  vessels = feedersOf('6x60 6x60'),
  interval: [number, number] = [0.36, 0.44],
): Closure {
  return closureTable({
    vessels,
    shunt: {
      fraction: p.f,
      interval,
      method: 'content',
      sample: 'on-oxygen',
      assumed: [],
      av_difference_ml_dl: p.difference,
      barometric_mmhg: p.pb,
    },
    case: closureCaseOf({
      blood: { haemoglobinGDl: p.hb, haematocritFraction: 0.45 },
      circulation: {
        cardiacOutputLMin: p.output,
        cardiacOutputMethod: 'thermodilution',
        meanPaPressureMmHg: p.meanPa,
        wedgePressureMmHg: p.wedge,
      },
      gases: [sampleOf({ po2MmHg: 80, pco2MmHg: p.pco2, ph: p.ph })],
    }),
    rules: RULES,
    sets: [['A1']],
  }).rows[0];
}

describe('a patient who differs from the usual one in one value', () => {
  it.each([
    ['nothing', {}],
    ['barometric pressure', { pb: 640 }],
    ['PaCO2', { pco2: 28 }],
    ['pH', { ph: 7.25 }],
    ['haemoglobin', { hb: 21 }],
    ['output', { output: 9 }],
    ['mean PA pressure', { meanPa: 30 }],
    ['wedge pressure', { wedge: 3 }],
    ['arterio-venous difference', { difference: 3.5 }],
    ['shunt', { f: 0.37 }],
  ] as [string, Partial<Patient>][])('%s', (_, different) => {
    const patient = { ...USUAL, ...different };
    const [row, hand, usual] = [rowOf(patient), rowByHand(patient), rowByHand(USUAL)];
    for (const key of COLUMNS) expect(Math.abs(row[key]! - hand[key])).toBeLessThan(0.006);
    // each value changes some column by more than the tolerance above
    if (Object.keys(different).length > 0)
      expect(COLUMNS.some((key) => Math.abs(hand[key] - usual[key]) > 0.05)).toBe(true);
    for (const key of COLUMNS) {
      const [low, high] = row.intervals![key]!;
      expect(low).toBeLessThanOrEqual(row[key]!);
      expect(high).toBeGreaterThanOrEqual(row[key]!);
      expect(high - low).toBeGreaterThan(0);
    }
  });
});

describe('the intervals of a closure against an independent Monte Carlo simulation', () => {
  it.each([
    ['a typical patient', USUAL, 0.02],
    [
      'a cyanosed, polycythaemic patient at altitude',
      { ...USUAL, pb: 620, pco2: 30, ph: 7.46, hb: 20, output: 8 },
      0.02,
    ],
  ] as [string, Patient, number][])('%s', (_, p, sd) => {
    const { normal, even } = seededRandom(4711);
    const drawn: Record<Column, number[]> = {
      shunt_fraction: [],
      so2_room_air_percent: [],
      so2_on_oxygen_percent: [],
      mean_pa_pressure_mmhg: [],
      cardiac_output_l_min: [],
    };
    // calibre 6 mm known to 0.2 mm: see `vesselOf`
    for (let i = 0; i < 8000; i++) {
      const power = 3 + even();
      const odds = ((1 + (0.2 / 6) * normal()) / (1 + (0.2 / 6) * normal())) ** power;
      const closed = odds / (1 + odds);
      const f = p.f + sd * normal();
      const floor = Math.min(f, Math.max(0, 0.027 + 0.012 * normal()));
      const beside = floor * even();
      const left = (f - beside) * (1 - closed) + beside;
      const after = Math.max(floor, left / (left + 1 - f));
      const rise = (1 - after) / (1 - f);
      const blood = {
        ...p,
        hb: p.hb * (1 + 0.02 * normal()),
        pco2: p.pco2 + 2.5 * normal(),
        difference: p.difference + 0.7 * normal(),
      };
      const wedge = p.wedge + 1.5 * normal();
      const meanPa = Math.max(wedge, p.meanPa + 1.5 * normal());
      drawn.shunt_fraction.push(after);
      drawn.mean_pa_pressure_mmhg.push(wedge + (meanPa - wedge) * rise);
      drawn.cardiac_output_l_min.push((p.output * (1 + 0.1 * normal())) / rise);
      if (i % 4 > 0) continue;
      drawn.so2_room_air_percent.push(100 * saturationLeft(after, 0.21, blood));
      drawn.so2_on_oxygen_percent.push(100 * saturationLeft(after, 1, blood));
    }
    const row = rowOf(p, undefined, [p.f - 1.96 * sd, p.f + 1.96 * sd]);
    for (const key of COLUMNS) {
      const [low, high] = central95Of(drawn[key]);
      const [ourLow, ourHigh] = row.intervals![key]!;
      // 500 draws of a saturation, 2000 of the rest: an end is known to 0.12 and 0.06 errors; a quarter of an error is allowed, and rounding
      const allowed = (key.startsWith('so2') ? 0.1 : 0.06) * (high - low) + 0.005;
      expect([key, Math.abs(ourLow - low) < allowed, ourLow, low]).toEqual([key, true, ourLow, low]);
      expect([key, Math.abs(ourHigh - high) < allowed, ourHigh, high]).toEqual([key, true, ourHigh, high]);
    }
  });
});

describe('two networks solved by hand', () => {
  // Output 6, shunt 0.4: 2.4 L/min through the lesion, 3.6 through the normal bed at 16 - 8 = 8 mmHg.
  it('two equal feeders, one closed', () => {
    const row = rowOf(USUAL);
    // The bed conducts 0.45, each feeder 0.15 L/min/mmHg: 6 L/min through 0.6 need 10 mmHg; 1.5 L/min run through A2.
    expect(row).toMatchObject({ shunt_fraction: 0.25, mean_pa_pressure_mmhg: 18, cardiac_output_l_min: 4.8 });
    expect(row.remaining).toEqual({ A2: { flow_l_min: 1.5, share: 0.5, share_range: [0.5, 0.5] } });
  });

  // 6 and 3 mm over 60 mm: by Poiseuille 16 : 1, by Murray 8 : 1. Shunt 0.34 of 6 L/min: 1.92 and 0.12 L/min at 8 mmHg.
  it('feeders of 6 and 3 mm, the larger half closed, with the flow and velocity that are printed', () => {
    const table = (occlusion: number) =>
      closureTable({
        vessels: feedersOf('6x60 3x60'),
        shunt: {
          fraction: 0.34,
          interval: [0.3, 0.38],
          method: 'content',
          assumed: [],
          av_difference_ml_dl: 5,
        },
        case: closureCaseOf(),
        rules: RULES,
        occlusion,
        sets: [['A1'], ['A2']],
      });
    const half = table(0.5);
    // Conductances 0.24 / 2, 0.015 and 0.495: 6 / 0.63 = 9.5238 mmHg; A1 1.1429, A2 0.1429 L/min; shunt 1.2857 / 6.
    expect(half.rows[0].shunt_fraction).toBeCloseTo(1.285714 / 6, 5);
    expect(half.rows[0].mean_pa_pressure_mmhg).toBeCloseTo(17.52, 2);
    expect(half.rows[0].cardiac_output_l_min).toBeCloseTo(5.04, 3);
    expect(half.rows[0].remaining).toEqual({
      A1: { flow_l_min: 1.1429, share: 0.9412, share_range: [0.8889, 0.9412] },
      A2: { flow_l_min: 0.1429, share: 0.0588, share_range: [0.0588, 0.1111] },
    });
    // The smaller one closed completely: 6 / 0.735 = 8.1633 mmHg, A1 1.9592 L/min.
    const whole = table(1);
    expect(whole.rows[1].remaining).toEqual({
      A1: { flow_l_min: 1.9592, share: 0.9412, share_range: [0.8889, 0.9412] },
    });
    expect(whole.order).toEqual(['A1', 'A2']);
    // 1.92 L/min in 6 mm: 32 mL/s over 28.274 mm2 = 1.132 m/s. 0.12 in 3 mm: 2 mL/s over 7.069 mm2 = 0.283 m/s.
    const notes = whole.findings.filter(({ id }) => id === 'feeder-flow').map(({ text }) => text);
    expect(notes[0]).toContain('about 1.92 L/min: 1.13 m/s at 6.0 mm');
    expect(notes[1]).toContain('about 0.12 L/min: 0.28 m/s at 3.0 mm');
    // Re = 4 rho Q / (pi mu d) at 10^(0.01138 * 45 + 0.03699) = 3.541 mPa s and 1060 kg/m3: 2033 and 254.
    expect(notes[0]).toMatch(/Reynolds number 20[23]\d \(laminar, below 2300\)/);
    expect(notes[1]).toMatch(/Reynolds number 25[3-5] \(laminar/);
    // alone: 8 mmHg over 128 mu / pi * 60 / 6^4 mm: 0.836 Wood units, 9.6 L/min; 3 mm: a sixteenth.
    expect(notes[0]).toContain('By calibre alone, not used: 9.6 L/min at 8 mmHg');
    expect(notes[1]).toContain('By calibre alone, not used: 0.6 L/min at 8 mmHg');
  });

  it('drains in parallel lie behind all feeders', () => {
    const of = (drains: ReturnType<typeof vesselOf>[]) =>
      closureTable({
        vessels: [...feedersOf('6x60 6x60'), ...drains],
        shunt: {
          fraction: 0.4,
          interval: [0.4, 0.4],
          method: 'content',
          assumed: [],
          av_difference_ml_dl: 5,
        },
        case: closureCaseOf(),
        rules: RULES,
        sets: [['A1']],
      }).shares.seriesToFeeders;
    const drain = (name: string) => vesselOf(name, 30, 6, 'drain');
    expect(of([])).toBe(0);
    // two feeders of integral K in parallel, K / 2, and one drain of half their length, K / 2
    expect(of([drain('V1')])).toBeCloseTo(1, 9);
    expect(of([drain('V1'), drain('V2')])).toBeCloseTo(0.5, 9);
  });
});
