import { describe, expect, it } from 'vitest';
import type { GasSample } from '../../src/case/case.js';
import { oxygenContent } from '../../src/physiology/oxygen-content.js';
import { po2FromSaturation } from '../../src/physiology/oxygen-pressure.js';
import { sampleOf, shuntBy } from './make.js';

const HB = 15;
const ARTERIAL = { po2MmHg: 60, so2Fraction: 0.9 };

/** Mixed-venous blood with this much less oxygen than `ARTERIAL`; its PO2 by the curve. */
function venousBy(differenceMlDl: number): GasSample {
  const wanted = oxygenContent(HB, ARTERIAL.so2Fraction, ARTERIAL.po2MmHg) - differenceMlDl;
  let [low, high] = [0.01, 0.96];
  for (let i = 0; i < 80; i++) {
    const middle = (low + high) / 2;
    if (oxygenContent(HB, middle, po2FromSaturation(middle, {})) < wanted) low = middle;
    else high = middle;
  }
  const so2Fraction = (low + high) / 2;
  return {
    name: 'pa',
    when: 'before',
    site: 'mixed-venous',
    path: 'gases[1]',
    so2Fraction,
    po2MmHg: po2FromSaturation(so2Fraction, {}),
  };
}

const withVenous = (differenceMlDl: number) =>
  shuntBy({ samples: [sampleOf(ARTERIAL), venousBy(differenceMlDl)], when: 'before', haemoglobinGDl: HB });

describe('mixed-venous blood with almost as much oxygen as arterial blood', () => {
  it.each([
    [0.4, 'assumed', 5, 'mixed-venous-arterial'],
    [1.499, 'assumed', 5, 'mixed-venous-arterial'],
    [1.501, 'mixed-venous', 1.501, 'mixed-venous-small-difference'],
    [2.499, 'mixed-venous', 2.499, 'mixed-venous-small-difference'],
    [2.501, 'mixed-venous', 2.501, undefined],
    [5, 'mixed-venous', 5, undefined],
  ] as const)('a difference of %d mL/dL: %s, %d mL/dL, %s', (difference, basis, used, id) => {
    const { shunt, findings } = withVenous(difference);
    expect(shunt?.av_difference_basis).toBe(basis);
    expect(shunt?.av_difference_ml_dl).toBeCloseTo(used, 2);
    const found = findings.filter((f) => f.id.startsWith('mixed-venous'));
    expect(found.map((f) => f.id)).toEqual(id === undefined ? [] : [id]);
    if (id !== undefined) {
      expect(found[0].level).toBe('caution');
      expect(found[0].where).toBe('gases[1]');
      expect(found[0].text).toContain('pa');
    }
  });

  it('an arterial sample labelled mixed-venous no longer gives a shunt near 100 %', () => {
    // With that label, used as mixed-venous blood, it would give (Cc' - Ca) / (Cc' - Cv) = 3.9 / 4.3, about 90 %.
    const { shunt } = withVenous(0.4);
    expect(shunt?.fraction).toBeCloseTo(0.438, 2);
  });

  it('where the difference is small both answers are reported', () => {
    const { shunt, findings } = withVenous(2);
    const text = findings.find((f) => f.id === 'mixed-venous-small-difference')?.text ?? '';
    const assumed = shunt?.sensitivity?.find((row) => row.av_difference_ml_dl === 5);
    expect(shunt?.fraction).toBeGreaterThan(assumed?.fraction as number);
    expect(text).toContain(`${(100 * (shunt?.fraction as number)).toFixed(1)} %`);
    expect(text).toContain(`${(100 * (assumed?.fraction as number)).toFixed(1)} %`);
  });
});

describe('an arterial sample that looks venous', () => {
  const of = (given: Partial<GasSample>) =>
    shuntBy({ samples: [sampleOf(given)], when: 'before', haemoglobinGDl: 19 }).findings.filter(
      (f) => f.id === 'venous-sample-suspect',
    );

  it.each([
    [{ po2MmHg: 45, pco2MmHg: 32, fio2: 0.21 }, 1],
    [{ po2MmHg: 45.1, pco2MmHg: 32, fio2: 0.21 }, 0],
    [{ po2MmHg: 45, pco2MmHg: 48, fio2: 0.21 }, 1],
    [{ po2MmHg: 52, so2Fraction: 0.8, pco2MmHg: 33 }, 1],
    [{ po2MmHg: 52, so2Fraction: 0.801, pco2MmHg: 33 }, 0],
  ])('%o: %i caution', (given, count) => {
    expect(of(given)).toHaveLength(count);
  });

  it('is still used, and both answers are reported', () => {
    const outcome = shuntBy({
      samples: [sampleOf({ po2MmHg: 44, so2Fraction: 0.77, pco2MmHg: 33 })],
      when: 'before',
      haemoglobinGDl: 19,
    });
    expect(outcome.shunt?.fraction).toBeGreaterThan(0.4);
    expect(outcome.findings.find((f) => f.id === 'venous-sample-suspect')?.text).toMatch(
      /if it was arterial, the shunt is .* %; if it was venous, it gives none/i,
    );
  });
});

describe('samples of one visit', () => {
  const two = (po2MmHg: number) =>
    shuntBy({
      samples: [
        sampleOf({ name: 'first', po2MmHg: 300 }),
        sampleOf({ name: 'second', po2MmHg, path: 'gases[1]', pco2MmHg: 40 }),
      ],
      when: 'before',
      haemoglobinGDl: HB,
    });

  it('that agree within their intervals are not doubted, those outside are', () => {
    const ids = (po2MmHg: number) => two(po2MmHg).findings.map((f) => f.id);
    expect(ids(290)).not.toContain('shunt-samples-disagree');
    expect(ids(430)).toContain('shunt-samples-disagree');
    expect(ids(150)).toContain('shunt-samples-disagree');
    const text = two(430).findings.find((f) => f.id === 'shunt-samples-disagree');
    expect(text?.where).toBe('gases[1]');
    expect(text?.text).toMatch(/second gives .* first .*The latter is reported/);
  });
});

describe('a saturation on air next to a shunt on oxygen', () => {
  // PO2 300 of PAO2 673 on oxygen: shunt 19.0 %. On air it leaves 92.6 % (PAO2 101.8, haemoglobin 15, balance of oxygen).
  const withAir = (so2Fraction: number) =>
    shuntBy({
      samples: [
        sampleOf({ po2MmHg: 300 }),
        sampleOf({
          name: 'air',
          fio2: 0.21,
          po2MmHg: po2FromSaturation(so2Fraction, {}),
          so2Fraction,
          path: 'gases[1]',
        }),
      ],
      when: 'before',
      haemoglobinGDl: HB,
    }).findings.filter((f) => f.id === 'room-air-saturation-unexplained');

  it('is what the oxygen balance predicts', () => {
    expect(withAir(0.85)[0].text).toContain('leaves 92.6 %');
  });

  it.each([
    [0.94, 0],
    [0.88, 0],
    [0.874, 1],
    [0.8, 1],
  ])('%d: %i caution', (saturation, count) => {
    expect(withAir(saturation)).toHaveLength(count);
    if (count > 0) expect(withAir(saturation)[0].text).toContain('lower than this shunt explains');
  });

  it('that is too high for the shunt is doubted as well', () => {
    const found = shuntBy({
      samples: [
        sampleOf({ po2MmHg: 70, so2Fraction: 0.92 }),
        sampleOf({ name: 'air', fio2: 0.21, po2MmHg: 90, so2Fraction: 0.97, path: 'gases[1]' }),
      ],
      when: 'before',
      haemoglobinGDl: HB,
    }).findings.find((f) => f.id === 'room-air-saturation-unexplained');
    expect(found?.text).toContain('higher than this shunt allows');
  });
});
