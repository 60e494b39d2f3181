import { describe, expect, it } from 'vitest';
import type { GasSample } from '../../src/case/case.js';
import { saturationFromShunt } from '../../src/physiology/saturation-from-shunt.js';
import { shuntFromContents, shuntFromDissolved } from '../../src/physiology/shunt-equation.js';
import { type CheckValue, readCheckValues, worked } from '../check-values/read-check-values.js';
import { sampleOf, shuntBy } from './make.js';

function wholeChain(row: CheckValue): number {
  const samples: GasSample[] = [
    sampleOf({
      fio2: row.need('fio2'),
      barometricMmHg: row.need('barometric_mmHg'),
      pco2MmHg: row.need('pco2_mmHg'),
      po2MmHg: row.need('po2_mmHg'),
      so2Fraction: row.input('so2_fraction'),
      minutesOnOxygen: row.need('minutes'),
    }),
  ];
  if (row.input('venous_so2_fraction') !== undefined) {
    samples.push({
      name: 'mixed',
      when: 'before',
      site: 'mixed-venous',
      path: 'gases[1]',
      fio2: row.need('fio2'),
      so2Fraction: row.need('venous_so2_fraction'),
      po2MmHg: row.need('venous_po2_mmHg'),
    });
  }
  const { shunt } = shuntBy({
    samples,
    when: 'before',
    haemoglobinGDl: row.need('haemoglobin_g_dL'),
    avDifferenceMlDl: row.input('av_difference_mL_dL'),
  });
  return shunt?.fraction ?? Number.NaN;
}

describe('shunt against its table', () => {
  for (const row of readCheckValues('shunt')) {
    it(`${row.id}: ${row.source}`, () => {
      const value = worked(row, {
        contents: () =>
          shuntFromContents(row.need('end_capillary'), row.need('arterial'), row.need('venous')),
        dissolved: () =>
          shuntFromDissolved(
            row.need('alveolar_po2_mmHg'),
            row.need('po2_mmHg'),
            row.need('av_difference_mL_dL'),
          ),
        case: () => wholeChain(row),
        saturation: () => {
          const answer = saturationFromShunt(row.need('shunt'), {
            haemoglobinGDl: row.need('haemoglobin_g_dL'),
            alveolarPo2MmHg: row.need('alveolar_po2_mmHg'),
            avDifferenceMlDl: row.need('av_difference_mL_dL'),
          });
          return 100 * (answer?.so2Fraction ?? Number.NaN);
        },
      });
      expect(Math.abs(value - row.expected)).toBeLessThanOrEqual(row.tolerance);
    });
  }
});
