import { describe, expect, it } from 'vitest';
import { nearZero } from '../../src/physiology/near-zero.js';
import { sampleOf, shuntBy } from './make.js';

const shuntAt = (po2MmHg: number, more: Parameters<typeof sampleOf>[0] = {}) =>
  shuntBy({ samples: [sampleOf({ po2MmHg, ...more })], when: 'before', haemoglobinGDl: 15 });

describe('a shunt indistinguishable from none', () => {
  it('PaO2 690 mmHg at an alveolar PO2 of 673: none, and at most a few percent', () => {
    const { shunt, findings } = shuntAt(690);
    // By hand: 0.0031 x (673 - 690) / (0.0031 x (673 - 690) + 5) = -1.06 %.
    expect(shunt?.equation_fraction).toBeCloseTo(-0.0106, 3);
    expect(shunt?.fraction).toBe(0);
    expect(shunt?.interval).toEqual([0, shunt?.upper_limit]);
    expect(shunt?.upper_limit).toBeGreaterThan(0.02);
    expect(shunt?.upper_limit).toBeLessThan(0.05);
    expect(findings).toEqual([]);
  });

  it('a lower negative answer of the equation does not promise less', () => {
    const [little, much] = [shuntAt(680).shunt, shuntAt(712).shunt];
    expect(much?.upper_limit).toBeGreaterThan((little?.upper_limit as number) - 0.003);
  });

  it.each([
    // PO2 above the alveolar 673 mmHg by 40 mmHg (6 % would be 40.4), at 1400 m by 6 % (33 mmHg).
    [713, 760, true],
    [713.1, 760, false],
    [(642 - 47.1 - 40) * 1.059, 642, true],
    [(642 - 47.1 - 40) * 1.061, 642, false],
  ])('PaO2 %d mmHg at %d mmHg: answered %s', (po2MmHg, barometricMmHg, isAnswered) => {
    const { shunt, findings } = shuntAt(po2MmHg, { barometricMmHg });
    expect(shunt?.fraction === 0).toBe(isAnswered);
    expect(findings.some((f) => f.id === 'po2-above-alveolar' && f.level === 'stop')).toBe(!isAnswered);
    if (!isAnswered) expect(shunt?.absent_because).toContain('faulty');
  });

  it('a shunt distinguishable from none has no upper limit and keeps its value', () => {
    const { shunt } = shuntAt(500);
    expect(shunt?.fraction).toBeCloseTo(0.0975, 3);
    expect(shunt).not.toHaveProperty('upper_limit');
    expect(shunt).not.toHaveProperty('equation_fraction');
  });

  it.each([
    [-0.01, [-0.03, 0.02], 0.03],
    [0, [-0.02, 0.02], 0.02],
    [0.05, [0, 0.1], 0.1],
    [0.0501, [0, 0.1], undefined],
    [0.02, [0.001, 0.04], undefined],
  ] as const)('the equation gives %d, drawn %o: upper limit %s', (fraction, drawn, limit) => {
    const none = nearZero(fraction, drawn, { normalShuntFraction: 0.05 });
    if (limit === undefined) expect(none).toBeUndefined();
    else expect(none?.upperLimit).toBeCloseTo(limit, 10);
  });

  it('on air a saturation well above the end-capillary one is a contradiction, not a small shunt', () => {
    const air = (so2Fraction: number) =>
      shuntAt(62, { fio2: 0.21, barometricMmHg: 560, pco2MmHg: 40, so2Fraction });
    // PAO2 at 560 mmHg is 59.7 mmHg, its saturation 90.5 %.
    expect(air(0.93).shunt?.fraction).toBe(0);
    expect(air(0.945).shunt?.fraction).toBeUndefined();
    expect(air(0.945).findings.map((f) => f.id)).toContain('shunt-out-of-range');
  });
});
