import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { GasSample } from '../../src/case/case.js';
import { saturationFromPo2 } from '../../src/physiology/oxygen-saturation.js';
import { saturationFromShunt } from '../../src/physiology/saturation-from-shunt.js';
import { shuntChange } from '../../src/physiology/shunt-change.js';
import type { ShuntInput } from '../../src/physiology/shunt-input.js';
import { sampleOf, shuntBy } from './make.js';

const SEED = 1942;

function shuntOf(given: Partial<GasSample>, more: Partial<ShuntInput> = {}) {
  return shuntBy({ samples: [sampleOf(given)], when: 'before', haemoglobinGDl: 15, ...more });
}

function ids(outcome: ReturnType<typeof shuntBy>): string[] {
  return outcome.findings.map((f) => f.id);
}

describe('the origin of each number', () => {
  const measured = { po2MmHg: 62, so2Fraction: 0.91, fio2: 0.21 };
  it.each([
    ['co-oximetry and pressure on air', measured, {}, ['measured', 'measured', 'assumed']],
    [
      'altitude',
      { ...measured, barometricMmHg: undefined, altitudeM: 540 },
      {},
      ['derived', 'measured', 'assumed'],
    ],
    ['no pressure', { ...measured, barometricMmHg: undefined }, {}, ['assumed', 'measured', 'assumed']],
    ['no saturation', { ...measured, so2Fraction: undefined }, {}, ['measured', 'derived', 'assumed']],
    ['a difference from the user', measured, { avDifferenceMlDl: 4.2 }, ['measured', 'measured', 'stated']],
    [
      'uptake and output measured',
      measured,
      {
        oxygenUptakeMlMin: 240,
        oxygenUptakeMethod: 'measured',
        cardiacOutputLMin: 5.5,
        cardiacOutputMethod: 'thermodilution',
      },
      ['measured', 'measured', 'derived'],
    ],
  ] as [string, Partial<GasSample>, Partial<ShuntInput>, string[]][])('%s', (_, sample, more, origins) => {
    const { shunt } = shuntOf({ barometricMmHg: 716, ...sample }, more);
    expect(shunt?.fraction).toBeGreaterThan(0);
    expect(shunt?.origins).toEqual({
      barometric_mmhg: origins[0],
      arterial_saturation_percent: origins[1],
      av_difference_ml_dl: origins[2],
    });
  });

  it('a mixed-venous sample', () => {
    const samples = [
      sampleOf({ po2MmHg: 62, so2Fraction: 0.91 }),
      sampleOf({ site: 'mixed-venous', po2MmHg: 38, so2Fraction: 0.68 }),
    ];
    expect(shuntBy({ samples, when: 'before', haemoglobinGDl: 15 }).shunt?.origins?.av_difference_ml_dl).toBe(
      'measured',
    );
  });
});

describe('a cyanosed patient on oxygen', () => {
  const outcome = shuntOf({ po2MmHg: 45, so2Fraction: 0.8 }, { haemoglobinGDl: 22 });

  it('gets a content shunt, and the dissolved-only form is refused with its reason', () => {
    expect(outcome.shunt?.method).toBe('content');
    expect(outcome.shunt?.fraction).toBeGreaterThan(0.55);
    expect(outcome.shunt?.dissolved_only?.fraction).toBeUndefined();
    expect(outcome.shunt?.dissolved_only?.refused_because).toMatch(/levels off near 28 %/);
    expect(ids(outcome)).not.toContain('po2-unit-suspect');
  });

  it('names what was assumed', () => {
    const assumed = outcome.shunt?.assumed.join('\n') ?? '';
    for (const words of [
      '1.34 mL/g',
      '0.0031 mL/dL/mmHg',
      '47 mmHg',
      'fully saturated',
      'difference 5 mL/dL',
    ]) {
      expect(assumed).toContain(words);
    }
    expect(assumed).not.toContain('respiratory quotient');
  });
});

describe('choice of the arterial saturation', () => {
  it('uses the measured one below 150 mmHg and the curve from 150 mmHg up', () => {
    expect(shuntOf({ po2MmHg: 149.9, so2Fraction: 0.985 }).shunt?.arterial_saturation_percent).toBe(98.5);
    const above = shuntOf({ po2MmHg: 150, so2Fraction: 0.985 }).shunt;
    expect(above?.arterial_saturation_percent).toBeCloseTo(100 * saturationFromPo2(150, { ph: 7.4 }), 3);
    expect(above?.other_saturation?.basis).toContain('98.5 % as measured');
    expect(above?.other_saturation?.fraction).toBeGreaterThan(above?.fraction as number);
  });

  it('keeps a measured saturation below 98 % above 150 mmHg and says that it contradicts the PO2', () => {
    const outcome = shuntOf({ po2MmHg: 300, so2Fraction: 0.979 });
    expect(outcome.shunt?.arterial_saturation_percent).toBe(97.9);
    expect(ids(outcome)).toContain('saturation-contradicts-po2');
    expect(ids(shuntOf({ po2MmHg: 300, so2Fraction: 0.98 }))).not.toContain('saturation-contradicts-po2');
  });
});

describe('the dissolved-only form', () => {
  it('applies from 150 mmHg up and is refused just below', () => {
    expect(shuntOf({ po2MmHg: 150 }).shunt?.dissolved_only?.fraction).toBeDefined();
    expect(shuntOf({ po2MmHg: 149.99 }).shunt?.dissolved_only?.refused_because).toContain('below 150 mmHg');
  });

  it('is the method without haemoglobin, and absent below 150 mmHg', () => {
    const without = shuntOf({ po2MmHg: 500 }, { haemoglobinGDl: undefined });
    expect(without.shunt?.method).toBe('dissolved');
    expect(without.shunt?.fraction).toBeCloseTo(0.0969, 4);
    const below = shuntOf({ po2MmHg: 100 }, { haemoglobinGDl: undefined });
    expect(below.shunt?.fraction).toBeUndefined();
    expect(below.shunt?.absent_because).toContain('Haemoglobin is missing');
  });
});

describe('on less than 100 % oxygen', () => {
  it('is a room-air estimate', () => {
    const outcome = shuntOf({ fio2: 0.21, po2MmHg: 58, so2Fraction: 0.9, pco2MmHg: 33 });
    expect(outcome.shunt?.method).toBe('room-air');
    expect(ids(outcome)).toContain('room-air-estimate');
    expect(outcome.shunt?.assumed.join(' ')).toContain('respiratory quotient 0.8');
    expect(ids(outcome)).not.toContain('oxygen-time-unknown');
  });

  it('gives way to a sample on oxygen, and its answer is reported as well', () => {
    const air = sampleOf({ name: 'air', fio2: 0.21, po2MmHg: 58, path: 'gases[0]' });
    const oxygen = sampleOf({ name: 'oxygen', po2MmHg: 210, path: 'gases[1]' });
    const outcome = shuntBy({ samples: [air, oxygen], when: 'before', haemoglobinGDl: 15 });
    expect(outcome.shunt?.sample).toBe('oxygen');
    expect(outcome.findings.find((f) => f.id === 'shunt-other-sample')?.text).toContain('air gives');
  });
});

describe('mixed-venous samples', () => {
  const venous = (given: Partial<GasSample>): GasSample => ({
    name: 'mixed',
    when: 'before',
    site: 'mixed-venous',
    path: 'gases[1]',
    ...given,
  });
  const withVenous = (given: Partial<GasSample>) =>
    shuntBy({
      samples: [sampleOf({ po2MmHg: 400 }), venous(given)],
      when: 'before',
      haemoglobinGDl: 15,
    });

  it('supply the missing half and replace the assumed difference', () => {
    const both = withVenous({ po2MmHg: 40.04, so2Fraction: 0.75 }).shunt;
    const fromPo2 = withVenous({ po2MmHg: 40.04 }).shunt;
    const fromSo2 = withVenous({ so2Fraction: 0.75 }).shunt;
    expect(fromPo2?.venous_content_ml_dl).toBeCloseTo(both?.venous_content_ml_dl as number, 3);
    expect(fromSo2?.venous_content_ml_dl).toBeCloseTo(both?.venous_content_ml_dl as number, 3);
    expect(both?.assumed.join(' ')).not.toContain('arterio-venous difference');
    expect(both?.sensitivity).toBeUndefined();
    expect(fromPo2?.assumed.join(' ')).toContain('mixed-venous saturation');
  });

  it('are not used where they were drawn on a different oxygen fraction', () => {
    const outcome = withVenous({ po2MmHg: 40, so2Fraction: 0.75, fio2: 0.21 });
    expect(ids(outcome)).toContain('mixed-venous-other-oxygen');
    expect(outcome.shunt?.av_difference_ml_dl).toBe(5);
  });

  it('with more oxygen than arterial blood are not used', () => {
    const outcome = shuntBy({
      samples: [sampleOf({ po2MmHg: 60, so2Fraction: 0.9 }), venous({ po2MmHg: 70, so2Fraction: 0.94 })],
      when: 'before',
      haemoglobinGDl: 15,
    });
    expect(outcome.shunt?.av_difference_basis).toBe('assumed');
    expect(outcome.findings.find((f) => f.id === 'mixed-venous-arterial')?.text).toContain(
      'more oxygen than',
    );
  });
});

describe('samples that cannot be what they claim', () => {
  it.each([
    ['po2-above-alveolar', { po2MmHg: 713.1 }, {}],
    ['po2-above-alveolar', { po2MmHg: 589, barometricMmHg: 642 }, {}],
    ['po2-unit-suspect', { po2MmHg: 4400 }, {}],
    ['po2-unit-suspect', { po2MmHg: 45, so2Fraction: 0.99 }, {}],
    ['pco2-unit-suspect', { po2MmHg: 300, pco2MmHg: 5.1 }, {}],
    ['pressure-unit-suspect', { po2MmHg: 300, barometricMmHg: 101.3 }, {}],
    ['altitude-range', { po2MmHg: 300, barometricMmHg: undefined, altitudeM: 54000 }, {}],
    ['fio2-range', { po2MmHg: 300, fio2: 21 }, {}],
    ['temperature-range', { po2MmHg: 300, temperatureC: 98.6 }, {}],
    ['haemoglobin-unit-suspect', { po2MmHg: 300 }, { haemoglobinGDl: 150 }],
  ] as const)('%s stops and gives no number (%o)', (id, gas, more) => {
    const outcome = shuntOf(gas, more);
    expect(outcome.findings.find((f) => f.id === id)?.level).toBe('stop');
    expect(outcome.shunt?.fraction).toBeUndefined();
    expect(outcome.shunt?.absent_because).toBeTruthy();
  });

  it.each([
    ['po2-unit-suspect', { po2MmHg: 45 }, {}],
    ['oxygen-too-short', { po2MmHg: 300, minutesOnOxygen: 19.9 }, {}],
    ['venous-sample-suspect', { po2MmHg: 45, pco2MmHg: 46, fio2: 0.21 }, {}],
    ['venous-sample-suspect', { po2MmHg: 42, pco2MmHg: 32, so2Fraction: 0.78 }, {}],
    ['venous-sample-suspect', { po2MmHg: 47, pco2MmHg: 32, so2Fraction: 0.8 }, {}],
    ['pressure-assumed-sea-level', { po2MmHg: 300, barometricMmHg: undefined }, {}],
    ['pco2-assumed', { po2MmHg: 300, pco2MmHg: undefined }, {}],
    ['haemoglobin-haematocrit-ratio', { po2MmHg: 300 }, { haemoglobinGDl: 15, haematocritFraction: 0.6 }],
    ['ph-pco2-impossible', { po2MmHg: 300, ph: 7.6, pco2MmHg: 90 }, {}],
    ['saturation-contradicts-po2', { po2MmHg: 60, so2Fraction: 0.8 }, {}],
  ] as const)('%s cautions and still gives a number (%o)', (id, gas, more) => {
    const outcome = shuntOf(gas, more);
    expect(outcome.findings.find((f) => f.id === id)?.level).toBe('caution');
    expect(outcome.shunt?.fraction).toBeDefined();
  });

  it('a plausible sample has no finding at all', () => {
    const outcome = shuntOf({ po2MmHg: 300, ph: 7.42 }, { haematocritFraction: 0.45 });
    expect(outcome.findings).toEqual([]);
  });

  it('20 minutes on oxygen are enough', () => {
    expect(ids(shuntOf({ po2MmHg: 300, minutesOnOxygen: 20 }))).not.toContain('oxygen-too-short');
  });

  it('says why nothing was computed', () => {
    expect(shuntBy({ samples: [], when: 'before' }).findings.map((f) => f.id)).toEqual(['gases-absent']);
    expect(shuntBy({ samples: [], when: 'after' })).toEqual({ findings: [] });
    expect(shuntOf({ po2MmHg: 300, fio2: undefined }).shunt?.absent_because).toContain('fio2');
    expect(shuntOf({}).shunt?.absent_because).toContain('po2');
    expect(shuntOf({ so2Fraction: 0.99 }).shunt?.absent_because).toContain('flat part');
    expect(shuntOf({ po2MmHg: 30, so2Fraction: 0.5 }, { haemoglobinGDl: 5 }).shunt?.absent_because).toContain(
      'mixed-venous sample is needed',
    );
  });
});

describe('the interval', () => {
  it('contains the fraction, is the same twice, and widens where pressure is guessed', () => {
    const measured = shuntOf({ po2MmHg: 300 }).shunt;
    const [low, high] = measured?.interval ?? [Number.NaN, Number.NaN];
    expect(low).toBeLessThan(measured?.fraction as number);
    expect(high).toBeGreaterThan(measured?.fraction as number);
    expect(shuntOf({ po2MmHg: 300 }).shunt).toEqual(measured);
    const guessed = shuntOf({ po2MmHg: 300, barometricMmHg: undefined }).shunt?.interval as [number, number];
    expect(guessed[1] - guessed[0]).toBeGreaterThan(high - low);
  });

  it.each([600, 400, 200])('agrees with propagation by hand at PaO2 %d, dissolved form', (po2MmHg) => {
    // f = d/(d + D), d = k(PAO2 - PaO2); PO2 3 %, PCO2 2.5, PB 1 mmHg, D 0.7 mL/dL, one standard deviation each.
    const d = 0.0031 * (673 - po2MmHg);
    const sd = Math.hypot(
      (5 / (d + 5) ** 2) * 0.0031 * Math.hypot(0.03 * po2MmHg, 2.5, 1),
      (d / (d + 5) ** 2) * 0.7,
    );
    const interval = shuntOf({ po2MmHg }, { haemoglobinGDl: undefined }).shunt?.interval ?? [0, 0];
    const ratio = (interval[1] - interval[0]) / (2 * 1.96 * sd);
    expect(ratio).toBeGreaterThan(0.9);
    expect(ratio).toBeLessThan(1.12);
  });

  it('narrows where mixed-venous blood was measured', () => {
    const arterial = sampleOf({ po2MmHg: 120, so2Fraction: 0.976 });
    const mixed: GasSample = {
      ...arterial,
      name: 'mixed',
      site: 'mixed-venous',
      po2MmHg: 38,
      so2Fraction: 0.72,
    };
    const width = (samples: GasSample[]) => {
      const { interval } = shuntBy({ samples, when: 'before', haemoglobinGDl: 15 }).shunt ?? {};
      return (interval as [number, number])[1] - (interval as [number, number])[0];
    };
    expect(width([arterial, mixed])).toBeLessThan(width([arterial]));
  });

  it('of the change from before to after is clear for a large fall and not for none', () => {
    const before = shuntOf({ po2MmHg: 118 }).shunt;
    const after = shuntOf({ po2MmHg: 520 }).shunt;
    const change = shuntChange(before, after);
    expect(change?.change).toBeCloseTo((after?.fraction as number) - (before?.fraction as number), 12);
    expect(change?.isClear).toBe(true);
    expect(shuntChange(before, before)?.isClear).toBe(false);
    expect(shuntChange(before, undefined)).toBeUndefined();
    const air = shuntOf({ fio2: 0.21, po2MmHg: 80 }).shunt;
    expect(shuntChange(before, air)).toBeUndefined();
    expect(shuntChange(before, { ...after!, method: 'dissolved' })).toBeUndefined();
  });
});

describe(`properties of the shunt (seed ${SEED})`, () => {
  const settings = { seed: SEED, numRuns: 25 };
  const po2 = fc.double({ min: 35, max: 600, noNaN: true });
  const hb = fc.double({ min: 9, max: 22, noNaN: true });

  it('stays in 0..1 and rises as PaO2 falls', () => {
    fc.assert(
      fc.property(po2, hb, fc.double({ min: 1, max: 60, noNaN: true }), (p, haemoglobinGDl, less) => {
        const high = shuntOf({ po2MmHg: p }, { haemoglobinGDl }).shunt?.fraction;
        const low = shuntOf({ po2MmHg: Math.max(30, p - less) }, { haemoglobinGDl }).shunt?.fraction;
        fc.pre(high !== undefined && low !== undefined);
        expect(high).toBeGreaterThanOrEqual(0);
        expect(low).toBeLessThanOrEqual(1);
        expect(low as number).toBeGreaterThanOrEqual(high as number);
      }),
      settings,
    );
  });

  it('and the saturation it leaves return the PO2 they came from', () => {
    fc.assert(
      fc.property(po2, hb, (p, haemoglobinGDl) => {
        const { shunt } = shuntOf({ po2MmHg: p }, { haemoglobinGDl });
        fc.pre(shunt?.fraction !== undefined);
        const back = saturationFromShunt(shunt?.fraction as number, {
          haemoglobinGDl,
          alveolarPo2MmHg: shunt?.alveolar_po2_mmhg as number,
          avDifferenceMlDl: 5,
          endCapillarySaturation: 1,
          ph: 7.4,
        });
        // The fraction is rounded to five digits.
        expect(Math.abs((back?.po2MmHg as number) / p - 1)).toBeLessThan(0.002);
      }),
      settings,
    );
  });

  it('more shunt never raises the saturation', () => {
    const fraction = fc.double({ min: 0, max: 0.7, noNaN: true });
    fc.assert(
      fc.property(fraction, fraction, hb, (a, b, haemoglobinGDl) => {
        const of = (f: number) =>
          saturationFromShunt(f, { haemoglobinGDl, alveolarPo2MmHg: 100, avDifferenceMlDl: 4.4 })
            ?.so2Fraction ?? 0;
        expect(of(Math.max(a, b))).toBeLessThanOrEqual(of(Math.min(a, b)) + 1e-12);
      }),
      { seed: SEED, numRuns: 300 },
    );
  });
});
