import { describe, expect, it } from 'vitest';
import type { GasSample } from '../../src/case/case.js';
import { gasLimits } from '../../src/physiology/gas-limits.js';
import { checkAgainstAlveolar, checkBlood, checkWrittenGas } from '../../src/physiology/gas-plausibility.js';
import { RULES } from './make.js';
import { curve } from './independent-formulas.js';

/** Limits of the table of constants, both sides of each; kPa by 1 kPa = 7.50062 mmHg. */
const bare: GasSample = { name: 'x', when: 'before', site: 'arterial', path: 'gases[2]' };
const told = (found: ReturnType<typeof checkWrittenGas>): string[] =>
  found.map(({ level, id, where }) => `${level} ${id} ${where}`);

describe('the written values of a sample', () => {
  const stop = (id: string, field: string): string[] => [`stop ${id} gases[2].${field}`];
  const caution = (id: string, field: string): string[] => [`caution ${id} gases[2].${field}`];
  it.each<[Partial<GasSample>, string[]]>([
    [{}, []],
    [{ fio2: 0 }, stop('fio2-range', 'fio2')],
    [{ fio2: 0.01 }, []],
    [{ fio2: 1 }, []],
    [{ fio2: 1.01 }, stop('fio2-range', 'fio2')],
    [{ barometricMmHg: 249.9 }, stop('pressure-unit-suspect', 'pressure')],
    [{ barometricMmHg: 250 }, []],
    [{ barometricMmHg: 820 }, []],
    [{ barometricMmHg: 820.1 }, stop('pressure-unit-suspect', 'pressure')],
    // a given pressure takes precedence over the altitude
    [{ barometricMmHg: 760, altitudeM: 54_000 }, []],
    [{ altitudeM: -451 }, stop('altitude-range', 'altitude')],
    [{ altitudeM: -450 }, []],
    [{ altitudeM: 9000 }, []],
    [{ altitudeM: 9001 }, stop('altitude-range', 'altitude')],
    [{ pco2MmHg: 11.9 }, stop('pco2-unit-suspect', 'pco2')],
    [{ pco2MmHg: 12 }, []],
    [{ pco2MmHg: 130 }, []],
    [{ pco2MmHg: 130.1 }, stop('pco2-unit-suspect', 'pco2')],
    [{ ph: 6.69 }, caution('ph-pco2-impossible', 'ph')],
    [{ ph: 6.7 }, []],
    [{ ph: 7.9 }, []],
    [{ ph: 7.91 }, caution('ph-pco2-impossible', 'ph')],
    // HCO3 = 0.0307 PCO2 10^(pH - 6.1): 3 mmol/L at pH 7.0 and 12.30 mmHg, 60 at pH 7.5 and 77.8 mmHg
    [{ ph: 7, pco2MmHg: 12.4 }, []],
    [{ ph: 7, pco2MmHg: 12.2 }, caution('ph-pco2-impossible', 'ph')],
    [{ ph: 7.5, pco2MmHg: 77.7 }, []],
    [{ ph: 7.5, pco2MmHg: 77.9 }, caution('ph-pco2-impossible', 'ph')],
    [{ ph: 6.69, pco2MmHg: 40 }, caution('ph-pco2-impossible', 'ph')],
    [{ temperatureC: 24.9 }, stop('temperature-range', 'temperature')],
    [{ temperatureC: 25 }, ['note temperature-convention gases[2].temperature']],
    [{ temperatureC: 43 }, ['note temperature-convention gases[2].temperature']],
    [{ temperatureC: 43.1 }, stop('temperature-range', 'temperature')],
    [{ temperatureC: 37 }, []],
    [{ temperatureC: 37.009 }, []],
    [{ temperatureC: 36.98 }, ['note temperature-convention gases[2].temperature']],
  ])('%o: %s', (given, expected) => {
    expect(told(checkWrittenGas({ ...bare, ...given }))).toEqual(expected);
  });

  it('say which slip they look like', () => {
    const text = (given: Partial<GasSample>): string => checkWrittenGas({ ...bare, ...given })[0].text;
    expect(text({ pco2MmHg: 5.3 })).toContain(
      '5.3 mmHg (0.7 kPa), too low to live with; this looks like a value in kPa',
    );
    expect(text({ pco2MmHg: 300 })).toContain(
      '300.0 mmHg (40.0 kPa); this looks like a value in mmHg written as kPa',
    );
    expect(text({ ph: 6.5, pco2MmHg: 40 })).toContain('pH 6.50 is outside life (6.7 to 7.9)');
    // 0.0307 · 90 · 10^1.5 = 87.4
    expect(text({ ph: 7.6, pco2MmHg: 90 })).toContain('a bicarbonate of 87.4 mmol/L');
  });
});

describe('a PO2 compared with the alveolar one', () => {
  const limits = gasLimits(RULES);
  /** On 100 % oxygen at 760 mmHg and a PaCO2 of 40 mmHg the alveolar PO2 is 760 - 47 - 40 = 673 mmHg. */
  const at = (given: Partial<GasSample>, alveolar = 673) =>
    checkAgainstAlveolar({ ...bare, fio2: 1, ...given }, alveolar, 760, limits);
  const PO2 = 'gases[2].po2';
  const SO2 = 'gases[2].so2';
  // saturations by the curve (Severinghaus 1979, Table 1, from memory): 40 mmHg 75 %, 60 mmHg 90.7 %, 45 mmHg 80.5 %
  it.each<[Partial<GasSample>, number, string[]]>([
    [{}, 673, []],
    [{ po2MmHg: 300 }, 673, []],
    // analyser error explains the smaller of 40 mmHg and 6 %, at 673 mmHg 40 mmHg, at 100 mmHg 6 mmHg
    [{ po2MmHg: 713 }, 673, []],
    [{ po2MmHg: 713.1 }, 673, [`stop po2-above-alveolar ${PO2}`]],
    [{ po2MmHg: 106 }, 100, []],
    [{ po2MmHg: 106.1 }, 100, [`stop po2-above-alveolar ${PO2}`]],
    // 5040 mmHg is 672 kPa, 5055 mmHg 674 kPa: the number in mmHg would be below the alveolar PO2, or above it
    [{ po2MmHg: 5040 }, 673, [`stop po2-above-alveolar ${PO2}`, `stop po2-unit-suspect ${PO2}`]],
    [{ po2MmHg: 5055 }, 673, [`stop po2-above-alveolar ${PO2}`]],
    // above the alveolar PO2, below the barometric pressure: no slip of the unit
    [{ po2MmHg: 759 }, 673, [`stop po2-above-alveolar ${PO2}`]],
    [{ po2MmHg: 760 }, 673, [`stop po2-above-alveolar ${PO2}`]],
    // low on 100 % oxygen: up to 95 mmHg it may be a number of kPa, if 7.5 times that is possible
    [{ po2MmHg: 95 }, 673, [`caution po2-unit-suspect ${PO2}`]],
    [{ po2MmHg: 95 }, 660, []],
    [{ po2MmHg: 95.1 }, 673, []],
    [{ po2MmHg: 60, fio2: 0.21 }, 673, []],
    // nobody lives below 18 mmHg, on any oxygen
    [{ po2MmHg: 17.9, fio2: 0.21 }, 673, [`stop po2-unit-suspect ${PO2}`]],
    [{ po2MmHg: 18, fio2: 0.21 }, 673, []],
    [{ po2MmHg: 17.9, fio2: 0.21 }, 99, []],
    // a saturation that fits the PO2 settles it; one that fits the number of kPa settles it the other way
    [{ po2MmHg: 60, so2Fraction: 0.9 }, 673, []],
    [
      { po2MmHg: 60, so2Fraction: 0.99 },
      673,
      [`stop po2-unit-suspect ${PO2}`, `caution saturation-contradicts-po2 ${SO2}`],
    ],
    [
      { po2MmHg: 60, so2Fraction: 0.7 },
      673,
      [`caution po2-unit-suspect ${PO2}`, `caution saturation-contradicts-po2 ${SO2}`],
    ],
    [{ po2MmHg: 60, so2Fraction: 0.7 }, 400, [`caution saturation-contradicts-po2 ${SO2}`]],
    // more than 5 points off the curve, to either side; 100 mmHg gives 97.5 %
    [{ po2MmHg: 100, so2Fraction: 0.93 }, 673, []],
    [{ po2MmHg: 100, so2Fraction: 0.92 }, 673, [`caution saturation-contradicts-po2 ${SO2}`]],
    [{ po2MmHg: 40, so2Fraction: 0.79, fio2: 0.21 }, 673, []],
    [{ po2MmHg: 40, so2Fraction: 0.81, fio2: 0.21 }, 673, [`caution saturation-contradicts-po2 ${SO2}`]],
    // from 150 mmHg up anything below 98 % is unexpected
    [{ po2MmHg: 150, so2Fraction: 0.979 }, 673, [`caution saturation-contradicts-po2 ${SO2}`]],
    [{ po2MmHg: 150, so2Fraction: 0.98 }, 673, []],
    [{ po2MmHg: 149.9, so2Fraction: 0.979 }, 673, []],
  ])('%o at an alveolar PO2 of %d mmHg: %s', (given, alveolar, expected) => {
    expect(told(at(given, alveolar))).toEqual(expected);
  });

  it('are compared by the curve at the pH and temperature of the sample', () => {
    expect(told(at({ po2MmHg: 40, so2Fraction: curve(40, 7.1), ph: 7.1, fio2: 0.21 }))).toEqual([]);
    expect(told(at({ po2MmHg: 40, so2Fraction: curve(40, 7.1), fio2: 0.21 }))).toHaveLength(1);
    // 5 kPa are 37.5 mmHg, which at pH 7.1 fit the measured saturation
    const acid = { po2MmHg: 5, so2Fraction: curve(5 * 7.50062, 7.1), fio2: 0.21 };
    expect(told(at({ ...acid, ph: 7.1 }))[0]).toBe(`stop po2-unit-suspect ${PO2}`);
    expect(told(at(acid))[0]).toBe(`caution po2-unit-suspect ${PO2}`);
  });

  it('say by how much, and what the other unit would mean', () => {
    expect(at({ po2MmHg: 753 })[0].text).toContain(
      'PaO2 753.0 mmHg (100.4 kPa) is 80.0 mmHg above the alveolar PO2 of 673.0 mmHg (89.7 kPa); analyser error explains up to 40.0 mmHg',
    );
    expect(at({ po2MmHg: 4500 })[1].text).toContain('this looks like 600 mmHg written as kPa');
    // 17 · 7.50062 = 127.5
    expect(at({ po2MmHg: 17 })[0].text).toContain(
      '17.0 kPa would be 128 mmHg and could be lived with. Confirm',
    );
    expect(at({ po2MmHg: 60, so2Fraction: 0.99 })[0].text).toContain(
      '450 mmHg and would fit the measured saturation. Confirm',
    );
    expect(at({ po2MmHg: 60 })[0].text).toContain('60.0 kPa would be 450 mmHg. Confirm');
    expect(at({ po2MmHg: 60, so2Fraction: 0.7 })[1].text).toMatch(
      /^Measured saturation 70\.0 % at PaO2 60\.0 mmHg \(8\.0 kPa\); the dissociation curve gives 90\.\d %/,
    );
  });
});

describe('haemoglobin and haematocrit', () => {
  it.each<[number | undefined, number | undefined, string[]]>([
    [undefined, 0.45, []],
    [2.9, undefined, ['stop haemoglobin-unit-suspect blood.haemoglobin']],
    [3, undefined, []],
    [30, undefined, []],
    [30.1, undefined, ['stop haemoglobin-unit-suspect blood.haemoglobin']],
    [15, 0, []],
    // 26 to 40 g/dL in the cells: 15 / 0.45 = 33
    [15, 0.45, []],
    [13, 0.5, []],
    [12.9, 0.5, ['caution haemoglobin-haematocrit-ratio blood']],
    [20, 0.5, []],
    [20.1, 0.5, ['caution haemoglobin-haematocrit-ratio blood']],
  ])('%d g/dL with a haematocrit of %d: %s', (haemoglobin, haematocrit, expected) => {
    expect(told(checkBlood(haemoglobin, haematocrit))).toEqual(expected);
  });

  it('say which slip they look like', () => {
    expect(checkBlood(150, undefined)[0].text).toContain('150.0 g/dL; this looks like g/L written as g/dL.');
    expect(checkBlood(2, undefined)[0].text).toContain('mmol/L or g/dL written in another unit');
    expect(checkBlood(15, 0.6)[0].text).toContain(
      'haematocrit 60.0 % means 25.0 g/dL inside the cells; 26 to 40',
    );
  });
});
