import { describe, expect, it } from 'vitest';
import type { Case } from '../../src/case/case.js';
import { closureSaturations, saturationModel } from '../../src/physiology/closure-saturation.js';
import {
  allClosedShunt,
  closedShunt,
  fittedNetwork,
  leastShunt,
  pressureRise,
  shuntAfterDraw,
} from '../../src/physiology/closure-state.js';
import { closureTable } from '../../src/physiology/closure-table.js';
import { closureOrder, feederShares } from '../../src/physiology/feeder-shares.js';
import { shuntAfterClosing, solveFlowNetwork } from '../../src/physiology/flow-network.js';
import { saturationFromShunt } from '../../src/physiology/saturation-from-shunt.js';
import { middle95, seededRandom } from '../../src/physiology/seeded-random.js';
import { completedSample, workShunt } from '../../src/physiology/shunt-model.js';
import { integrateProfile } from '../../src/physiology/vessel-resistance.js';
import type { Closure, Shunt } from '../../src/result/result.generated.js';
import { closureCaseOf, RULES, sampleOf, vesselOf } from './make.js';
import { alveolarMmHg, contentMlDl, curve, meanOf, saturationLeft, sdOf } from './independent-formulas.js';

describe('the draws themselves', () => {
  it('normal: mean 0, standard deviation 1, a tenth beyond 1.645, neighbours independent; uniform: 0 to 1', () => {
    const random = seededRandom(5);
    const values = Array.from({ length: 20_000 }, () => random.normal());
    expect(Math.abs(meanOf(values))).toBeLessThan(0.03);
    expect(Math.abs(sdOf(values) - 1)).toBeLessThan(0.02);
    expect(Math.abs(values.filter((v) => Math.abs(v) > 1.645).length / 20_000 - 0.1)).toBeLessThan(0.01);
    expect(Math.abs(meanOf(values.slice(1).map((v, i) => v * values[i])))).toBeLessThan(0.03);
    const evens = Array.from({ length: 20_000 }, () => random.uniform());
    expect(Math.abs(meanOf(evens) - 0.5)).toBeLessThan(0.01);
    expect(Math.abs(sdOf(evens) - 1 / Math.sqrt(12))).toBeLessThan(0.01);
  });

  it('the middle 95 % between two draws: a tenth of the way from the first of five to the second', () => {
    expect(middle95(Float64Array.from([50, 10, 40, 20, 30]))).toEqual([11, 49]);
    const [low, high] = middle95(Float64Array.from({ length: 101 }, (_, i) => 100 - i));
    expect(low).toBeCloseTo(2.5, 12);
    expect(high).toBeCloseTo(97.5, 12);
    expect(middle95(Float64Array.from([7]))).toEqual([7, 7]);
  });
});

describe('what a profile gives', () => {
  it('a tube and a cone in closed form', () => {
    const tube = integrateProfile(vesselOf('A1', 60, 6))!;
    expect(tube.poiseuilleIntegral).toBeCloseTo(60 / 6 ** 4, 12);
    expect(tube).toMatchObject({ meanCalibreMm: 6, lengthMm: 60 });
    // from 4 to 6 mm over 40: (4^-3 - 6^-3) / (3 x 0.05); trapezoids of 1 mm
    const cone = integrateProfile(vesselOf('A1', 40, (s) => 4 + 0.05 * s))!;
    const exact = (4 ** -3 - 6 ** -3) / 0.15;
    expect(Math.abs(cone.poiseuilleIntegral / exact - 1)).toBeLessThan(0.0004);
    expect(cone.meanCalibreMm).toBeCloseTo(5, 9);
  });

  it('the first and last calibre are extended to the ends; what lies outside or is not a calibre is left out', () => {
    const whole = vesselOf('A1', 60, 6);
    const sample = (atMm: number, equivalentMm: number) => ({ ...whole.profile[0], atMm, equivalentMm });
    const of = (profile: typeof whole.profile, more = {}) => integrateProfile({ ...whole, profile, ...more });
    const two = of([
      sample(-1, 90),
      sample(10, 4),
      sample(30, Number.NaN),
      sample(40, 0),
      sample(50, 8),
      sample(61, 90),
    ])!;
    // 10 mm at 4, 40 mm as one trapezoid, 10 mm at 8
    expect(two.poiseuilleIntegral).toBeCloseTo(
      10 / 4 ** 4 + (40 * (4 ** -4 + 8 ** -4)) / 2 + 10 / 8 ** 4,
      12,
    );
    expect(two.meanCalibreMm).toBeCloseTo((40 + 240 + 80) / 60, 12);
    expect(of([sample(0, 5), sample(60, 5)], { neck: undefined, lengthMm: 70 })!.lengthMm).toBe(70);
    expect(of([sample(0, 5), sample(60, 5)])!.poiseuilleIntegral).toBeCloseTo(60 / 625, 12);
    expect(of([sample(0, 0)])).toBeUndefined();
    expect(of([])).toBeUndefined();
    expect(of([sample(0, 5)], { neck: undefined, lengthMm: 0 })).toBeUndefined();
  });

  it('shares, their errors and order; none where one feeder has no profile', () => {
    const found = feederShares([
      vesselOf('A1', 60, 3),
      vesselOf('A2', 60, 6),
      vesselOf('B1', 60, 9, 'branch'),
    ]);
    expect(found.shares.map(({ name }) => name)).toEqual(['A1', 'A2']);
    expect(found.shares[0].poiseuille).toBeCloseTo(1 / 17, 9);
    expect(found.shares[0].murray).toBeCloseTo(1 / 9, 9);
    expect(found.shares[0].calibreError).toBeCloseTo(0.2 / 3, 12);
    expect(closureOrder(found.shares)).toEqual(['A2', 'A1']);
    expect(found.shares.map(({ name }) => name)).toEqual(['A1', 'A2']);
    expect(feederShares([vesselOf('A1', 60, 3), { ...vesselOf('A2', 60, 6), profile: [] }])).toEqual({
      shares: [],
      seriesToFeeders: 0,
      unusable: ['A2'],
    });
    expect(feederShares([])).toEqual({ shares: [], seriesToFeeders: 0, unusable: [] });
    const dry = { ...vesselOf('V1', 30, 6, 'drain'), profile: [] };
    expect(feederShares([vesselOf('A1', 60, 6), dry]).seriesToFeeders).toBe(0);
    expect(
      feederShares([vesselOf('A1', 60, 6), dry, vesselOf('V2', 30, 6, 'drain')]).seriesToFeeders,
    ).toBeCloseTo(0.5, 9);
  });
});

describe('what remains of a shunt', () => {
  const draw = {
    shuntFraction: 0.4,
    shares: [0.5, 0.5],
    seriesToFeeders: 0,
    physiological: 0.027,
    besideLesion: 0,
  };

  it('by parallel and series conductances', () => {
    expect(shuntAfterDraw(draw, [true, false], 1)).toBeCloseTo(0.25, 12);
    expect(shuntAfterDraw(draw, [false, false], 1)).toBeCloseTo(0.4, 12);
    // half closed: three quarters conduct: 0.3 / 0.9
    expect(shuntAfterDraw(draw, [true, false], 0.5)).toBeCloseTo(1 / 3, 12);
    // a sac as resistant as the feeders: (1 + 1) / (2 + 1) of the shunt flow remains, 0.2667 / 0.8667
    expect(shuntAfterDraw({ ...draw, seriesToFeeders: 1 }, [true, false], 1)).toBeCloseTo(4 / 13, 12);
    // all of the physiological 0.027 in parallel with the lesion: 0.373 / 2 + 0.027 = 0.2135, of 0.8135
    expect(shuntAfterDraw({ ...draw, besideLesion: 1 }, [true, false], 1)).toBeCloseTo(0.2135 / 0.8135, 12);
    expect(shuntAfterDraw(draw, [true, true], 1)).toBe(0.027);
    expect(shuntAfterDraw({ ...draw, besideLesion: 1 }, [true, true], 1)).toBeCloseTo(0.027 / 0.627, 12);
    expect(shuntAfterDraw({ ...draw, shuntFraction: 1 }, [true, true], 1)).toBe(1);
  });

  it('never below the physiological shunt, nor above the measured one', () => {
    expect([leastShunt(0.3), leastShunt(0.01), leastShunt(0.3, 0.05), leastShunt(0.3, -0.1)]).toEqual([
      0.027, 0.01, 0.05, 0,
    ]);
    expect(allClosedShunt(0.4, 1)).toBe(0.027);
    // half of 0.4: 0.2 of 0.8
    expect(allClosedShunt(0.4, 0.5)).toBeCloseTo(0.25, 12);
    expect(shuntAfterClosing(0.4, 0.5)).toBeCloseTo(0.25, 12);
    expect(shuntAfterClosing(1, 1)).toBe(0);
    const circulation = { cardiacOutputLMin: 6, meanPaMmHg: 16, wedgeMmHg: 8 };
    const network = fittedNetwork([{ name: 'A1', share: 1 }], 0.4, circulation);
    expect(closedShunt(network, ['A1'], 1, 0.4, circulation)).toEqual({
      shuntFraction: 0.027,
      feederFlows: { A1: 0 },
    });
    expect(closedShunt(network, [], 1, 0.4, circulation).shuntFraction).toBeCloseTo(0.4, 12);
  });

  it('the pressure rises by what the bed loses', () => {
    expect(pressureRise(0.4, 0.25)).toBeCloseTo(1.25, 12);
    expect(pressureRise(0.4, 0.25, 0.5)).toBeCloseTo(2.5, 12);
  });

  // A1 and A2 conduct 2 and 1, the sac behind them resists 1/3, the bed conducts 1.5: the lesion 1 / (1/3 + 1/3) = 1.5.
  it('a network with a sac in series, by hand', () => {
    const network = {
      feeders: [
        { name: 'A1', conductance: 2 },
        { name: 'A2', conductance: 1 },
      ],
      seriesResistance: 1 / 3,
      normalBedConductance: 1.5,
    };
    const flows = solveFlowNetwork(network, { totalFlow: 6 });
    expect(flows.drivingPressure).toBeCloseTo(2, 12);
    expect(flows.sacPressure).toBeCloseTo(1, 12);
    expect(flows.feederFlows.A1).toBeCloseTo(2, 12);
    expect(flows.feederFlows.A2).toBeCloseTo(1, 12);
    expect(flows.normalFlow).toBeCloseTo(3, 12);
    expect(flows.shuntFraction).toBeCloseTo(0.5, 12);
    for (const value of [Number.NaN, Number.POSITIVE_INFINITY, -1])
      expect(() => solveFlowNetwork({ ...network, seriesResistance: value }, { totalFlow: 6 })).toThrow(
        RangeError,
      );
    const pressed = solveFlowNetwork(network, { drivingPressure: 4 });
    expect(pressed.totalFlow).toBeCloseTo(12, 12);
    expect(pressed.shuntFlow).toBeCloseTo(6, 12);
    const closed = solveFlowNetwork(
      { ...network, feeders: [{ name: 'A1', conductance: 0 }] },
      { totalFlow: 6 },
    );
    expect(closed).toMatchObject({ shuntFlow: 0, shuntFraction: 0, normalFlow: 6, drivingPressure: 4 });
  });
});

describe('the blood that a saturation is predicted for', () => {
  const shunt: Shunt = { fraction: 0.3, interval: [0.3, 0.3], method: 'content', sample: 'a', assumed: [] };
  const gases = [
    sampleOf({ name: 'b', pco2MmHg: 50, ph: 7.2 }),
    sampleOf({ name: 'a', site: 'mixed-venous', pco2MmHg: 46, ph: 7.35 }),
    sampleOf({ name: 'a', pco2MmHg: 30, ph: 7.45 }),
  ];

  it('comes from the arterial sample of the shunt', () => {
    const { model, assumed, findings } = saturationModel(
      { ...shunt, barometric_mmhg: 700, av_difference_ml_dl: 4 },
      { blood: { haemoglobinGDl: 17 }, gases },
    );
    expect(model).toMatchObject({
      haemoglobinGDl: 17,
      avDifferenceMlDl: 4,
      ph: 7.45,
      barometricMmHg: 700,
      paCO2MmHg: 30,
    });
    expect(model!.alveolarOnAirMmHg).toBeCloseTo(alveolarMmHg(0.21, 700, 30), 9);
    expect(model!.alveolarOnOxygenMmHg).toBeCloseTo(alveolarMmHg(1, 700, 30), 9);
    expect(findings).toEqual([]);
    expect(assumed).toEqual([
      'saturations at unchanged haemoglobin 17.0 g/dL, PaCO2 30 mmHg, barometric pressure 700 mmHg, arterio-venous difference 4.0 mL/dL',
    ]);
  });

  it('is normal where nothing is stated, and absent without haemoglobin', () => {
    const { model } = saturationModel(shunt, { blood: { haemoglobinGDl: 15 }, gases: [] });
    expect(model).toMatchObject({ avDifferenceMlDl: 5, barometricMmHg: 760, paCO2MmHg: 40, ph: undefined });
    const none = saturationModel(shunt, { blood: {}, gases });
    expect([none.model, none.assumed]).toEqual([undefined, []]);
    expect(none.findings.map(({ id }) => id)).toEqual(['closure-saturation-absent']);
  });

  it('an impossible saturation is left out with the reason, and the other remains', () => {
    const model = saturationModel(
      { ...shunt, av_difference_ml_dl: 5 },
      { blood: { haemoglobinGDl: 5 }, gases: [] },
    ).model!;
    const rowOf = (shuntFraction: number): [Closure, string[]] => {
      const row: Closure = { closed: ['A1'] };
      return [row, closureSaturations(row, { shuntFraction, model }, [])];
    };
    const [row, told] = rowOf(0.3);
    expect(told).toEqual([]);
    expect(row.so2_room_air_percent).toBeCloseTo(
      100 * saturationLeft(0.3, 0.21, { hb: 5, pb: 760, pco2: 40, difference: 5, ph: 7.4 }),
      2,
    );
    // without draws the interval is the value
    expect(row.intervals!.so2_room_air_percent).toEqual([row.so2_room_air_percent, row.so2_room_air_percent]);
    // contents of 6.7 + 2.1 on oxygen and 6.6 + 0.3 on air against 5 x 0.6 / 0.4 = 7.5
    const [half, because] = rowOf(0.6);
    expect(half.so2_room_air_percent).toBeUndefined();
    expect(half.so2_on_oxygen_percent).toBeGreaterThan(0);
    expect(because).toHaveLength(1);
    expect(because[0]).toContain('no saturation on air');
    expect(rowOf(0.8)[1].map((text) => text.slice(0, 26))).toEqual([
      'no saturation on air: this',
      'no saturation on oxygen: t',
    ]);
  });
});

describe('from a shunt and back', () => {
  const blood = { haemoglobinGDl: 15, alveolarPo2MmHg: 100, avDifferenceMlDl: 5 };

  it('no shunt leaves the end-capillary blood; impossible inputs give undefined', () => {
    expect(saturationFromShunt(0, blood)).toEqual({
      so2Fraction: expect.closeTo(curve(100), 12),
      po2MmHg: 100,
    });
    expect(saturationFromShunt(1, blood)).toBeUndefined();
    expect(saturationFromShunt(-0.01, blood)).toBeUndefined();
    expect(saturationFromShunt(0.2, { ...blood, alveolarPo2MmHg: 0 })).toBeUndefined();
    expect(saturationFromShunt(0.9, blood)).toBeUndefined();
    expect(saturationFromShunt(1.5, blood)).toBeUndefined();
    expect(saturationFromShunt(0, { ...blood, alveolarPo2MmHg: 0 })).toBeUndefined();
    expect(saturationFromShunt(0.2, { ...blood, alveolarPo2MmHg: -5 })).toBeUndefined();
  });

  it('the PO2 it gives corresponds to the remaining content', () => {
    for (const ph of [7.2, 7.4, 7.5]) {
      const { so2Fraction, po2MmHg } = saturationFromShunt(0.3, { ...blood, ph })!;
      expect(so2Fraction).toBeCloseTo(curve(po2MmHg, ph), 9);
      const wanted = contentMlDl(15, curve(100, ph), 100) - (5 * 0.3) / 0.7;
      expect(contentMlDl(15, so2Fraction, po2MmHg)).toBeCloseTo(wanted, 9);
    }
    const rough = saturationFromShunt(0.3, blood, 5)!.po2MmHg;
    expect(Math.abs(rough - saturationFromShunt(0.3, blood)!.po2MmHg)).toBeLessThan(100 / 2 ** 6 + 1e-9);
    expect((rough / 100) * 2 ** 6).toBeCloseTo(Math.round((rough / 100) * 2 ** 6), 9);
  });

  it('each step of a computed shunt, by hand', () => {
    const numbers = {
      fio2: 0.4,
      barometricMmHg: 700,
      pco2MmHg: 35,
      po2MmHg: 60,
      ph: 7.3,
      temperatureC: 37,
      respiratoryQuotient: 0.8,
      haemoglobinGDl: 14,
      avDifferenceMlDl: 5,
    };
    const alveolar = 0.4 * 653 - 35 * (0.4 + 0.6 / 0.8);
    const [end, art] = [contentMlDl(14, curve(alveolar, 7.3), alveolar), contentMlDl(14, curve(60, 7.3), 60)];
    const worked = workShunt(numbers);
    expect(worked.waterVapourMmHg).toBe(47);
    expect(worked.alveolarPo2MmHg).toBeCloseTo(alveolar, 9);
    expect(worked.endCapillaryContentMlDl).toBeCloseTo(end, 9);
    expect(worked.arterialContentMlDl).toBeCloseTo(art, 9);
    expect(worked.venousContentMlDl).toBeCloseTo(art - 5, 9);
    expect(worked.avDifferenceMlDl).toBeCloseTo(5, 9);
    expect(worked.fraction).toBeCloseTo((end - art) / (end - art + 5), 9);
    const venous = { so2Fraction: 0.6, po2MmHg: 34 };
    const mixed = workShunt({ ...numbers, venous });
    expect(mixed.avDifferenceMlDl).toBeCloseTo(art - contentMlDl(14, 0.6, 34), 9);
    expect(mixed.fraction).toBeCloseTo((end - art) / (end - contentMlDl(14, 0.6, 34)), 9);
    expect(workShunt({ ...numbers, arterialSaturation: 0.85 }).arterialSaturation).toBe(0.85);
    const off = workShunt({ ...numbers, curveError: { arterial: 2, endCapillary: -2 } });
    expect([off.arterialSaturation, off.endCapillarySaturation]).toEqual([1, 0]);
    // an alveolar PO2 below zero is treated as zero
    expect(workShunt({ ...numbers, barometricMmHg: 60 }).endCapillarySaturation).toBe(0);
  });

  it('the missing half of a sample comes from the curve', () => {
    expect(completedSample(60, 0.9, {})).toEqual({ so2Fraction: 0.9, po2MmHg: 60 });
    expect(completedSample(60, undefined, { ph: 7.3 })).toEqual({
      so2Fraction: expect.closeTo(curve(60, 7.3), 12),
      po2MmHg: 60,
      derived: 'so2',
    });
    const back = completedSample(undefined, 0.9, { ph: 7.3 })!;
    expect(back.derived).toBe('po2');
    expect(curve(back.po2MmHg, 7.3)).toBeCloseTo(0.9, 9);
    expect(completedSample(undefined, 0.97, {})).toBeDefined();
    expect(completedSample(undefined, 0.9701, {})).toBeUndefined();
    expect(completedSample(undefined, undefined, {})).toBeUndefined();
  });
});

describe('the note on flow', () => {
  const notesOf = (circulation: Case['circulation'], patient?: object, fraction = 0.4): string[] =>
    closureTable({
      vessels: [vesselOf('A1', 60, 6)],
      shunt: { fraction, interval: [fraction, fraction], method: 'content', assumed: [] },
      case: closureCaseOf({ circulation, ...(patient && { patient: patient as Case['patient'] }) }),
      rules: RULES,
      sets: [['A1']],
    })
      .findings.filter(({ id }) => id === 'feeder-flow')
      .map(({ text }) => text);
  const pressures = { meanPaPressureMmHg: 16, wedgePressureMmHg: 8 };

  it('is absent where the pressures contradict each other, or no output is known', () => {
    expect(notesOf({ ...pressures, cardiacOutputLMin: 6 })).toHaveLength(1);
    expect(notesOf({ meanPaPressureMmHg: 8, wedgePressureMmHg: 8, cardiacOutputLMin: 6 })).toEqual([]);
    expect(notesOf(pressures, { history: [], hht: {}, spirometry: {}, ageYears: 5 })).toEqual([]);
  });

  it('laminar below a Reynolds number of 2300, not from there on', () => {
    // 2.4 L/min in 6 mm: 2541; 1.92 L/min: 2033
    expect(notesOf({ ...pressures, cardiacOutputLMin: 6 })[0]).toContain('not laminar, above');
    expect(notesOf({ ...pressures, cardiacOutputLMin: 4.8 })[0]).toContain('(laminar, below');
  });
});
