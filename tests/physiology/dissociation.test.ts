import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { standardPo2, temperatureCoefficient } from '../../src/physiology/blood-conditions.js';
import { po2FromSaturation } from '../../src/physiology/oxygen-pressure.js';
import { saturationFromPo2 } from '../../src/physiology/oxygen-saturation.js';
import { readCheckValues, worked } from '../check-values/read-check-values.js';
import { secondCurve } from './second-curve.js';

const rows = readCheckValues('dissociation');
const SEED = 1979;

describe('dissociation curve against its table', () => {
  for (const row of rows) {
    it(`${row.id}: ${row.source}`, () => {
      const conditions = { ph: row.input('ph'), temperatureC: row.input('temperature_degC') };
      const value = worked(row, {
        saturation: () => 100 * saturationFromPo2(row.need('po2_mmHg'), conditions),
        'second-curve': () => 100 * secondCurve(row.need('po2_mmHg')),
        pressure: () => po2FromSaturation(row.need('so2_fraction'), conditions),
        'temperature-coefficient': () => temperatureCoefficient(row.need('po2_mmHg')),
      });
      expect(Math.abs(value - row.expected)).toBeLessThanOrEqual(row.tolerance);
    });
  }

  it('deviates from the 51 published rows by at most 0.546 points, at 150 mmHg (published: 0.55)', () => {
    const table = rows.filter((row) => row.id.startsWith('table-'));
    expect(table).toHaveLength(51);
    const off = table.map((row) => ({
      po2: row.need('po2_mmHg'),
      by: Math.abs(100 * saturationFromPo2(row.need('po2_mmHg')) - row.expected),
    }));
    const worst = off.reduce((a, b) => (b.by > a.by ? b : a));
    expect(worst.po2).toBe(150);
    expect(worst.by).toBeCloseTo(0.546, 3);
  });

  it('the second curve deviates from the published rows by at most 0.42 points', () => {
    const table = rows.filter((row) => row.id.startsWith('table-'));
    const worst = Math.max(
      ...table.map((row) => Math.abs(100 * secondCurve(row.need('po2_mmHg')) - row.expected)),
    );
    expect(worst).toBeLessThan(0.42);
  });
});

describe(`properties of the curve (seed ${SEED})`, () => {
  const settings = { seed: SEED, numRuns: 300 };
  const po2 = fc.double({ min: 0.1, max: 700, noNaN: true });

  it('closes the round trip to 1e-6 mmHg, at any pH and temperature', () => {
    const ph = fc.double({ min: 6.9, max: 7.7, noNaN: true });
    const temperatureC = fc.double({ min: 33, max: 41, noNaN: true });
    fc.assert(
      fc.property(fc.double({ min: 0.1, max: 250, noNaN: true }), ph, temperatureC, (p, phValue, t) => {
        const conditions = { ph: phValue, temperatureC: t };
        const back = po2FromSaturation(saturationFromPo2(p, conditions), conditions);
        expect(Math.abs(back - p)).toBeLessThan(1e-6);
      }),
      settings,
    );
  });

  it('rises with PO2', () => {
    fc.assert(
      fc.property(po2, po2, (a, b) => {
        fc.pre(Math.abs(a - b) > 1e-6);
        const [low, high] = a < b ? [a, b] : [b, a];
        expect(saturationFromPo2(low)).toBeLessThan(saturationFromPo2(high));
      }),
      settings,
    );
  });

  it('falls with fever and acid blood', () => {
    fc.assert(
      fc.property(po2, (p) => {
        expect(saturationFromPo2(p, { temperatureC: 39 })).toBeLessThan(saturationFromPo2(p));
        expect(saturationFromPo2(p, { ph: 7.3 })).toBeLessThan(saturationFromPo2(p));
      }),
      settings,
    );
  });

  it('agrees with the second curve within the published fit of 0.55 points from 1 to 700 mmHg', () => {
    fc.assert(
      fc.property(fc.double({ min: 1, max: 700, noNaN: true }), (p) => {
        expect(Math.abs(saturationFromPo2(p) - secondCurve(p))).toBeLessThan(0.0055);
      }),
      settings,
    );
  });

  it('agrees with the second curve on pH within 0.5 points', () => {
    for (const ph of [7.3, 7.5]) expect(saturationFromPo2(60, { ph })).toBeCloseTo(secondCurve(60, ph), 2);
  });

  it('refuses a saturation of 1 and a negative PO2', () => {
    expect(() => po2FromSaturation(1)).toThrow(RangeError);
    expect(() => po2FromSaturation(-0.01)).toThrow(RangeError);
    expect(() => saturationFromPo2(-1)).toThrow(RangeError);
    expect(saturationFromPo2(0)).toBe(0);
    expect(po2FromSaturation(0)).toBe(0);
    expect(standardPo2(0, { temperatureC: 39 })).toBe(0);
  });
});
