import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { checkResult } from '../../src/report/result-check.js';
import { resultJson } from '../../src/report/result-json.js';
import type { Result } from '../../src/result/result.generated.js';
import { nearlyEmpty, oneFeeder, twoFeeders } from './fixtures.js';

/** A copy with all keys of every object in reverse order. */
function reversed<T>(value: T): T {
  if (Array.isArray(value)) return value.map(reversed) as T;
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(
    Object.entries(value)
      .reverse()
      .map(([key, entry]) => [key, reversed(entry)]),
  ) as T;
}

describe('checkResult', () => {
  test.each([oneFeeder, twoFeeders, nearlyEmpty])('%o is valid, before and after writing', async (make) => {
    expect(await checkResult(make())).toEqual([]);
    expect(await checkResult(JSON.parse(resultJson(make())))).toEqual([]);
  });

  test('reports an unknown key, a wrong word and a missing key with their place', async () => {
    const result = oneFeeder() as unknown as Record<string, unknown>;
    result.extra = 1;
    result.purpose = 'fun';
    delete result.closure;
    expect(await checkResult(result)).toEqual([
      "result: must have required property 'closure'",
      'result: must NOT have additional properties (extra)',
      'result.purpose: must be equal to one of the allowed values',
    ]);
  });

  test.each([Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY])(
    'finds %d at any depth',
    async (bad) => {
      const result = twoFeeders();
      result.vessels.A1!.profile[3]!.area_mm2 = bad;
      expect((await checkResult(result))[0]).toBe(
        `result.vessels.A1.profile[3].area_mm2: ${bad} is not a finite number; a value that is not known must be left out`,
      );
    },
  );
});

describe('resultJson', () => {
  test('keys are in the order of the schema and names in natural order, whatever came in', () => {
    const result = twoFeeders();
    result.vessels.A10 = result.vessels.A2!;
    const text = resultJson(result);
    expect(resultJson(reversed(result))).toBe(text);
    const parsed = JSON.parse(text) as Result;
    expect(Object.keys(parsed).slice(0, 6)).toEqual([
      'format',
      'case',
      'title',
      'purpose',
      'scan_date',
      'tool',
    ]);
    expect(Object.keys(parsed.vessels)).toEqual(['A1', 'A2', 'A10', 'B1', 'V1']);
    expect(Object.keys(parsed.vessels.A1!.landing!).slice(0, 4)).toEqual([
      'from_mm',
      'to_mm',
      'length_mm',
      'calibre_mm',
    ]);
  });

  test('two spaces, one newline at the end, no missing values', () => {
    const result = oneFeeder();
    result.resection!.predicted_dlco_percent = undefined;
    const text = resultJson(result);
    expect(text).toMatch(/^\{\n {2}"format": "pavm-result\/1",\n/);
    expect(text).toMatch(/[^\n]\n$/);
    expect(text).not.toMatch(/null|undefined/);
  });

  test('numbers are rounded by their unit: mm to 0.001, fractions to 0.0001, percent to 0.01', () => {
    const result = oneFeeder();
    const third = 1 / 3;
    result.shunt!.fraction = third;
    result.shunt!.interval = [third, 2 * third];
    result.devices.A1!.oversize_percent = 100 * third;
    result.vessels.A1!.landing!.calibre_mm = 6 + third;
    result.vessels.A1!.calibre_mm.min = 5 + third;
    result.vessels.A1!.neck!.point_mm = [third, -third / 1e6, 2];
    result.sac!.volume_ml = third;
    const parsed = JSON.parse(resultJson(result)) as Result;
    expect(parsed.shunt).toMatchObject({ fraction: 0.3333, interval: [0.3333, 0.6667] });
    expect(parsed.devices.A1!.oversize_percent).toBe(33.33);
    expect(parsed.vessels.A1!.landing!.calibre_mm).toBe(6.333);
    expect(parsed.vessels.A1!.calibre_mm.min).toBe(5.333);
    expect(parsed.vessels.A1!.neck!.point_mm).toEqual([0.333, 0, 2]);
    expect(parsed.sac!.volume_ml).toBe(0.3333);
  });

  test('writing what was read changes nothing', () => {
    fc.assert(
      fc.property(fc.double({ noNaN: true, min: -1e4, max: 1e4 }), (value) => {
        const result = oneFeeder();
        result.sac!.longest_mm = value;
        const text = resultJson(result);
        expect(resultJson(JSON.parse(text) as Result)).toBe(text);
      }),
      { seed: 7, numRuns: 50 },
    );
  });

  test('refuses a non-finite number', () => {
    const result = oneFeeder();
    result.sac!.volume_ml = Number.NaN;
    expect(() => resultJson(result)).toThrow(RangeError);
  });

  test('a vessel may be called __proto__ or constructor', () => {
    const result = oneFeeder();
    result.vessels = JSON.parse(
      `{"constructor": ${JSON.stringify(result.vessels.A1)}, "__proto__": ${JSON.stringify(result.vessels.A1)}}`,
    ) as Result['vessels'];
    const parsed = JSON.parse(resultJson(result)) as Result;
    expect(Object.keys(parsed.vessels).sort()).toEqual(['__proto__', 'constructor']);
  });
});
