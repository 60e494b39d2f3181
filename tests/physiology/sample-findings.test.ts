import { expect, it } from 'vitest';
import type { GasSample } from '../../src/case/case.js';
import { caseShunts } from '../../src/physiology/case-shunts.js';
import { RULES, sampleOf, shuntBy } from './make.js';
import { makeCase } from '../resection/make.js';

const found = (samples: readonly GasSample[], haemoglobinGDl: number | undefined = 15) =>
  shuntBy({ samples: [...samples], when: 'before', haemoglobinGDl }).findings;
const ids = (...given: Parameters<typeof found>): string[] => found(...given).map(({ id }) => id);
const ON_OXYGEN = sampleOf({ po2MmHg: 210 });

it('the pressure at an altitude is named, with the height and what the standard atmosphere gives there', () => {
  // ISO 2533: 101.325 kPa · (1 - 0.0065 · 540 / 288.15)^5.2559 = 95.01 kPa, 712.6 mmHg
  const sample = sampleOf({ po2MmHg: 210, barometricMmHg: undefined, altitudeM: 540 });
  const note = found([sample]).find(({ id }) => id === 'pressure-from-altitude');
  expect(note).toMatchObject({ level: 'note', where: 'gases[0]' });
  expect(note?.text).toMatch(/^Barometric pressure 712\.\d mmHg from the altitude of 540 m/);
  expect(ids([ON_OXYGEN])).not.toContain('pressure-from-altitude');
});

it('a PO2 derived from the saturation is named; a given one is not', () => {
  expect(ids([sampleOf({ so2Fraction: 0.9 })])).toContain('po2-derived');
  expect(ids([sampleOf({ so2Fraction: 0.9, po2MmHg: 60 })])).not.toContain('po2-derived');
});

it('gases at another temperature than 37 degC are taken as reported there, with a note', () => {
  const at = (temperatureC: number) => ids([sampleOf({ po2MmHg: 210, temperatureC })]);
  expect(at(37)).not.toContain('temperature-convention');
  expect(at(37.1)).toContain('temperature-convention');
  expect(at(36.9)).toContain('temperature-convention');
});

it('a mixed-venous sample without what its content needs is reported with what is missing', () => {
  const venous: GasSample = { name: 'pa', when: 'before', site: 'mixed-venous', path: 'gases[1]' };
  const text = (sample: Partial<GasSample>, haemoglobinGDl?: number) =>
    found([ON_OXYGEN, { ...venous, ...sample }], haemoglobinGDl)
      .filter(({ id }) => id === 'mixed-venous-unusable')
      .map(({ where, text: said }) => `${where} ${said}`);
  expect(text({}, 15)).toEqual([
    'gases[1] The mixed-venous sample was not used: it has no usable po2 or so2.',
  ]);
  expect(text({ so2Fraction: 0.7 }, 15)).toEqual([]);
  const without = shuntBy({ samples: [ON_OXYGEN, { ...venous, so2Fraction: 0.7 }], when: 'before' }).findings;
  expect(without.find(({ id }) => id === 'mixed-venous-unusable')?.text).toContain('haemoglobin is missing');
});

it('two visits measured in different ways give no change, with the reason', () => {
  const gases = (after: Partial<GasSample>) => [
    ON_OXYGEN,
    sampleOf({ name: 'later', when: 'after', path: 'gases[1]', po2MmHg: 400, ...after }),
  ];
  const told = (after: Partial<GasSample>) => {
    const shunts = caseShunts(makeCase({ blood: { haemoglobinGDl: 15 }, gases: gases(after) }), RULES);
    return [shunts.change !== undefined, shunts.findings.some(({ id }) => id === 'shunt-trend-absent')];
  };
  expect(told({})).toEqual([true, false]);
  expect(told({ fio2: 0.21, minutesOnOxygen: undefined, po2MmHg: 90 })).toEqual([false, true]);
});
