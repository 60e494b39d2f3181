import { describe, expect, it } from 'vitest';
import { convert } from '../../src/foundation/units.js';
import { alveolarPo2 } from '../../src/physiology/alveolar-gas.js';
import { oxygenContent } from '../../src/physiology/oxygen-content.js';
import { standardAtmosphere } from '../../src/physiology/standard-atmosphere.js';
import { buckVapourPressure, waterVapourPressure } from '../../src/physiology/water-vapour.js';
import { type CheckValue, readCheckValues } from '../check-values/read-check-values.js';

function check(table: string, value: (row: CheckValue) => number): void {
  describe(`${table} against its table`, () => {
    for (const row of readCheckValues(table)) {
      it(`${row.id}: ${row.source}`, () => {
        expect(Math.abs(value(row) - row.expected)).toBeLessThanOrEqual(row.tolerance);
      });
    }
  });
}

check('alveolar-gas', (row) =>
  alveolarPo2({
    fio2: row.need('fio2'),
    barometricMmHg: row.need('barometric_mmHg'),
    paCO2MmHg: row.need('paco2_mmHg'),
    waterVapourMmHg: 47,
    respiratoryQuotient: row.need('respiratory_quotient'),
  }),
);
check('atmosphere', (row) => convert(standardAtmosphere(row.need('altitude_m')), 'pressure', 'mmHg', 'hPa'));
check('water-vapour', (row) => {
  const of = row.word('quantity') === 'buck' ? buckVapourPressure : waterVapourPressure;
  return convert(of(row.need('temperature_degC')), 'pressure', 'mmHg', 'kPa');
});
check('content', (row) =>
  oxygenContent(row.need('haemoglobin_g_dL'), row.need('so2_fraction'), row.need('po2_mmHg')),
);

describe('alveolar gas', () => {
  it('does not depend on the respiratory quotient on 100 % oxygen', () => {
    const at = (respiratoryQuotient: number) =>
      alveolarPo2({ fio2: 1, barometricMmHg: 712, waterVapourMmHg: 47, paCO2MmHg: 34, respiratoryQuotient });
    expect(at(0.7)).toBeCloseTo(631, 9);
    expect(at(1)).toBeCloseTo(631, 9);
  });

  it('treats 98.6 degF as 37 degC', () => {
    expect(waterVapourPressure(convert(98.6, 'temperature', 'degF', 'degC'))).toBe(47);
  });

  it('refuses an altitude outside the troposphere', () => {
    expect(() => standardAtmosphere(11001)).toThrow(RangeError);
    expect(() => standardAtmosphere(Number.NaN)).toThrow(RangeError);
  });
});
