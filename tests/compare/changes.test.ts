import { describe, expect, it } from 'vitest';
import { growthAbsentBecause, growthOf, yearsBetween, yearsText } from '../../src/compare/growth.js';
import { judgeChange, type NumberChange, otherMethods } from '../../src/compare/numbers.js';
import { shuntTrendText } from '../../src/compare/shunt-trend.js';
import type { Result, Shunt } from '../../src/result/result.generated.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { numberOf } from '../../src/rules/rule.js';

const rules = loadRules();

describe('a change with both intervals', () => {
  // the halves that face each other, as the legs of a right triangle: 3, 4, 5
  it('upwards counts the upper half of the old and the lower half of the new', () => {
    const at = (now: number) => judgeChange(10, now, [1, 13], [now - 4, now + 100]);
    expect(at(14.9)).toMatchObject({ combined: 5, exceeds: false });
    expect(at(15)).toMatchObject({ change: 5, combined: 5, exceeds: false });
    expect(at(15.1).exceeds).toBe(true);
  });

  it('downwards the other two', () => {
    const at = (now: number) => judgeChange(10, now, [7, 90], [now - 100, now + 4]);
    expect(at(5.1)).toMatchObject({ combined: 5, exceeds: false });
    expect(at(4.9)).toMatchObject({ combined: 5, exceeds: true });
  });

  it('is judged only where both have an interval', () => {
    expect(judgeChange(10, 12, undefined, [11, 13])).toEqual({ change: 2 });
    expect(judgeChange(10, 12, [9, 11])).toEqual({ change: 2 });
  });

  it('a change of zero counts as upwards', () => {
    expect(judgeChange(10, 10, [1, 13], [6, 99])).toEqual({ change: 0, combined: 5, exceeds: false });
  });

  it('an interval that does not contain its value adds nothing', () => {
    expect(judgeChange(10, 12, [8, 9], [12, 13])).toEqual({ change: 2, combined: 0, exceeds: true });
  });
});

describe('growth per year', () => {
  const row = (change: number, combined?: number, path = 'vessels.A1.landing.calibre_mm'): NumberChange => ({
    path,
    what: 'landing calibre of A1',
    unit: 'mm',
    change,
    ...(combined !== undefined && { combined }),
  });

  it('is change and interval divided by the years', () => {
    const [growth] = growthOf([row(3, 1)], 2, rules);
    expect(growth).toMatchObject({ perYear: 1.5, interval: [1, 2] });
    expect(growthOf([row(3)], 2, rules)[0].text).toContain('no interval is known');
  });

  it.each([
    [1, 0.9, 'beyond both intervals'],
    [1, 1.1, 'not distinguishable from no change'],
    [-1, 0.9, 'beyond both intervals'],
    [-1, 1.1, 'not distinguishable from no change'],
  ])('of %d with an error of %d is %s', (change, combined, words) => {
    const { text } = growthOf([row(change, combined)], 1, rules)[0];
    expect(text).toContain(words);
    expect(text).toMatch(change < 0 ? /^shrank 1\.00 mm a year/ : /^grew 1\.00 mm a year/);
  });

  it('is called fast above the rule, if that is certain', () => {
    const usual = numberOf(rules, 'usual-growth');
    const text = (perYear: number, combined: number) => growthOf([row(perYear, combined)], 1, rules)[0].text;
    expect(text(usual + 0.01, 0.01)).toContain('faster than');
    expect(text(usual, 0.01)).not.toContain('faster');
    expect(text(usual + 0.01, 2 * usual)).not.toContain('faster');
  });

  it('is reported in full, with the source where it is fast', () => {
    const usual = numberOf(rules, 'usual-growth');
    const text = (change: number, combined: number, unit = 'mm') =>
      growthOf([{ ...row(change, combined), unit }], 1, rules)[0].text;
    expect(text(1, 0.5)).toBe('grew 1.00 mm a year; beyond both intervals');
    // an interval that ends at zero means no change
    expect(text(1, 1)).toBe('grew 1.00 mm a year; not distinguishable from no change');
    expect(text(-1, 1)).toBe('shrank 1.00 mm a year; not distinguishable from no change');
    expect(text(0, 1)).toBe('grew 0.00 mm a year; not distinguishable from no change');
    expect(text(usual + 1, 0.5)).toBe(
      `grew ${usual + 1}.00 mm a year; beyond both intervals; faster than the ${usual} mm a year of published series (Faughnan et al., J Med Genet 2011;48:73 (HHT guidelines) (quoted elsewhere))`,
    );
    // the published growth is one of diameters
    expect(text(usual + 1, 0.5, 'mL')).toBe(`grew ${usual + 1}.00 mL a year; beyond both intervals`);
    expect(growthOf([{ path: 'sac.longest_mm', what: 'sac', unit: 'mm', old: 5 }], 1, rules)).toEqual([]);
  });

  it('covers sizes only', () => {
    const paths = ['sac.volume_ml', 'sac.longest_mm', 'vessels.A1.calibre_mm.mean', 'vessels.A1.length_mm'];
    const told = growthOf(
      paths.map((path) => row(1, 2, path)),
      1,
      rules,
    );
    expect(told.map(({ path }) => path)).toEqual(paths.slice(0, 3));
  });

  it('needs two dates in order, another surface and no treatment in between', () => {
    // a year of 365.25 days: 1461 days are four
    expect(yearsBetween('2020-03-01', '2024-03-01')).toBe(4);
    expect(yearsBetween('2024-03-01', '2020-03-01')).toBe(-4);
    for (const [old, now] of [
      ['2024-03-01', '2024-03-01'],
      [undefined, '2024-03-01'],
      ['2024-03-01', undefined],
    ])
      expect(yearsBetween(old, now)).toBeUndefined();
    expect(growthAbsentBecause('untreated', 1, false)).toBeUndefined();
    expect(growthAbsentBecause('untreated', -1, false)).toContain('later than the new');
    expect(growthAbsentBecause('untreated', undefined, false)).toContain('two different scan dates');
    expect(growthAbsentBecause('untreated', 1, true)).toContain('same surfaces');
    expect(growthAbsentBecause('treated-between', 1, false)).toContain('was treated');
  });

  it('is given in months below a year', () => {
    expect([yearsText(0.5), yearsText(1), yearsText(-0.5)]).toEqual([
      '6.0 months',
      '1.00 years',
      '-6.0 months',
    ]);
  });
});

describe('the trend of the shunt', () => {
  const shunt = (fraction: number, half: number, method = 'content'): Shunt =>
    ({ fraction, interval: [fraction - half, fraction + half], method }) as unknown as Shunt;
  const result = (before?: Shunt, after?: Shunt): Result =>
    ({ ...(before && { shunt: before }), ...(after && { shunt_after: after }) }) as Result;
  const trend = (old: Result, now: Result): string => shuntTrendText(old, now);

  it('is the difference in points, with its weight', () => {
    const old = result(shunt(0.3, 0.03));
    expect(trend(old, result(shunt(0.2, 0.04)))).toContain('10.0 points lower, beyond both intervals');
    expect(trend(old, result(shunt(0.34, 0.04)))).toContain('4.0 points higher, inside both intervals');
    expect(trend(old, old)).toContain('no change, inside both intervals');
  });

  it('counts the shunt after a treatment where there is one', () => {
    const text = trend(result(shunt(0.3, 0.03)), result(shunt(0.3, 0.03), shunt(0.05, 0.01)));
    expect(text).toContain('30.0 % (27.0 to 33.0) before treatment in the old plan');
    expect(text).toContain('5.0 % (4.0 to 6.0) after treatment in the new one');
    expect(text).toContain('25.0 points lower');
  });

  it('is none where one plan has no shunt, or methods differ', () => {
    const known = result(shunt(0.3, 0.03));
    expect(trend(result(), result())).toBe('Neither plan has a shunt.');
    expect(trend(known, result())).toContain('the new plan has none');
    expect(trend(result(), known)).toContain('the old plan has none');
    expect(trend(known, result(shunt(0.2, 0.03, 'iso-shunt')))).toContain(
      'No trend: the shunts were found by',
    );
    expect(otherMethods(shunt(0.3, 0.1), shunt(0.2, 0.1))).toBeUndefined();
    expect(otherMethods(undefined, shunt(0.2, 0.1))).toBeUndefined();
    expect(otherMethods(shunt(0.2, 0.1), undefined)).toBeUndefined();
    const bare = result({ fraction: 0.2, method: 'content' } as Shunt);
    expect(trend(known, bare)).toMatch(/20\.0 % before treatment in the new one: 10\.0 points lower\.$/);
  });
});
