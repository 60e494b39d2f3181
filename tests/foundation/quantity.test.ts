import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { InputFailure } from '../../src/foundation/failure.js';
import { numberFlag, parseNumber, parseQuantity, quantityFlag } from '../../src/foundation/quantity.js';
import { KINDS, kindOf, type QuantityKind } from '../../src/foundation/units.js';

const parse = parseQuantity as (
  text: string,
  kind: QuantityKind,
  into: string,
  options?: { bareUnit?: string },
) => ReturnType<typeof parseQuantity>;

describe('quantities of every kind', () => {
  it.each([
    ['8.5 mm', 'length', 'mm', 8.5],
    ['1.2 cm', 'length', 'mm', 12],
    ['0.027 inch', 'length', 'mm', 0.6858],
    ['8.5mm', 'length', 'mm', 8.5],
    ['  8.5\u00a0mm ', 'length', 'mm', 8.5],
    ['1.68 m', 'length', 'cm', 168],
    ['210 mmHg', 'pressure', 'mmHg', 210],
    ['210mmHg', 'pressure', 'mmHg', 210],
    ['28 kPa', 'pressure', 'mmHg', 210.01724],
    ['949 hPa', 'pressure', 'mmHg', 711.80844],
    ['30 cmH2O', 'pressure', 'cmH2O', 30],
    ['540 m', 'altitude', 'm', 540],
    ['-430m', 'altitude', 'm', -430],
    ['19.8 g/dL', 'haemoglobin', 'g/dL', 19.8],
    ['198 g/L', 'haemoglobin', 'g/dL', 19.8],
    ['12.29 mmol/L', 'haemoglobin', 'g/dL', 19.80341],
    ['98.5 %', 'fraction', 'fraction', 0.985],
    ['98.5%', 'fraction', 'fraction', 0.985],
    ['88 %', 'fraction', '%', 88],
    ['0.58 L/L', 'fraction', 'fraction', 0.58],
    ['2.9 L', 'volume', 'L', 2.9],
    ['6.4 L/min', 'flow', 'L/min', 6.4],
    ['240 mL/min', 'flow', 'mL/min', 240],
    ['5 mL/dL', 'content', 'mL/dL', 5],
    ['37 °C', 'temperature', 'degC', 37],
    ['98.6 degF', 'temperature', 'degC', 37],
    ['46 y', 'age', 'y', 46],
    ['46 years', 'age', 'y', 46],
    ['18 months', 'age', 'y', 1.5],
    ['20 min', 'duration', 'min', 20],
    ['21 d', 'leadTime', 'd', 21],
    ['62 kg', 'mass', 'kg', 62],
    ['90 mL/min/1.73m2', 'egfr', 'mL/min/1.73m2', 90],
    ['90 ml/min/1.73 m²', 'egfr', 'mL/min/1.73m2', 90],
    ['1.5e1 mm', 'length', 'mm', 15],
    ['.5 mm', 'length', 'mm', 0.5],
    ['+5. mm', 'length', 'mm', 5],
  ] as const)('%j as %s in %s is %d', (text, kind, into, expected) => {
    const result = parse(text, kind, into);
    expect(result).toMatchObject({ ok: true });
    if (result.ok) expect(Math.abs(result.value - expected)).toBeLessThan(1e-5);
  });

  it('covers every kind above', () => {
    for (const kind of Object.keys(KINDS) as QuantityKind[]) {
      for (const example of kindOf(kind).examples) {
        expect(parse(example, kind, kindOf(kind).base), `${kind} ${example}`).toMatchObject({ ok: true });
      }
    }
  });

  it('accepts a bare number only where the unit goes without saying', () => {
    expect(parse('20', 'duration', 'min', { bareUnit: 'min' })).toMatchObject({ ok: true, value: 20 });
    expect(parse('20', 'duration', 'min')).toMatchObject({ ok: false });
  });
});

describe('what is not a quantity', () => {
  it.each([
    [
      '210',
      'pressure',
      'mmHg',
      '"210" has no unit. Write for example "210 mmHg" or "28 kPa". Accepted units: mmHg, kPa,',
    ],
    ['5,2 mm', 'length', 'mm', '"5,2 mm" has a decimal comma. Write "5.2 mm".'],
    ['0,75', 'fraction', '%', 'has a decimal comma. Write "0.75".'],
    ['1,200 m', 'altitude', 'm', 'may be a decimal sign or a thousands separator'],
    ['1,200,000 m', 'altitude', 'm', 'thousands separator'],
    ['1.200,5 m', 'altitude', 'm', 'thousands separator'],
    ['1 200 m', 'altitude', 'm', 'thousands separator'],
    ["1'200 m", 'altitude', 'm', 'thousands separator'],
    ['1_200 m', 'altitude', 'm', 'thousands separator'],
    ['0x1F mm', 'length', 'mm', 'not a decimal number'],
    ['NaN mm', 'length', 'mm', 'not a finite number'],
    ['.nan', 'length', 'mm', 'not a finite number'],
    ['-Infinity mm', 'length', 'mm', 'not a finite number'],
    ['inf mm', 'length', 'mm', 'not a finite number'],
    ['1e999 mm', 'length', 'mm', 'too large a number'],
    ['1e308 km', 'altitude', 'm', 'too large a number'],
    ['5 mHg', 'pressure', 'mmHg', 'Did you mean "mmHg"?'],
    ['5 ML', 'volume', 'L', 'Did you mean "mL"?'],
    [
      '5 furlong',
      'length',
      'mm',
      'has the unit "furlong", which is not known here. Write for example "8.5 mm"',
    ],
    ['28 kPa', 'length', 'mm', 'has the unit "kPa"'],
    ['4O0 mmHg', 'pressure', 'mmHg', 'has the unit "O0 mmHg"'],
    ['1.2.3 mm', 'length', 'mm', 'contains more than one number'],
    ['5 3/8 inch', 'length', 'mm', 'contains more than one number'],
    ['mm', 'length', 'mm', 'does not start with a number'],
    ['', 'length', 'mm', 'is empty'],
    ['−5 degC', 'temperature', 'degC', 'does not start with a number'],
    ['\u001b[31m5 mm', 'length', 'mm', '"\\u{1b}[31m5 mm"'],
    [`${'9'.repeat(100)} mm`, 'length', 'mm', 'too long'],
  ] as const)('%j as %s', (text, kind, into, message) => {
    const result = parse(text, kind, into);
    expect(result.ok).toBe(false);
    if (!result.ok) expect(result.problem).toContain(message);
  });

  it('never throws and never returns a non-finite number (seed 7)', () => {
    const text = fc.oneof(
      fc.string(),
      fc.string({ unit: fc.constantFrom(..."0123456789.,eE+-xX mHgkPa%/'_") }),
    );
    fc.assert(
      fc.property(text, fc.constantFrom(...(Object.keys(KINDS) as QuantityKind[])), (written, kind) => {
        const result = parse(written, kind, kindOf(kind).base);
        return result.ok ? Number.isFinite(result.value) : result.problem.length > 5;
      }),
      { seed: 7, numRuns: 5000 },
    );
  });

  it('reads back every number it is given (seed 8)', () => {
    fc.assert(
      fc.property(fc.double({ noNaN: true, noDefaultInfinity: true, min: -1e6, max: 1e6 }), (value) => {
        const result = parse(`${value} mm`, 'length', 'mm');
        return result.ok && Object.is(result.value + 0, value + 0);
      }),
      { seed: 8, numRuns: 2000 },
    );
  });
});

describe('numbers and flags', () => {
  it.each(['1.0', '-.5', '1e3', '7.42', '010'])('%s is a number', (text) => {
    expect(parseNumber(text)).toBe(Number(text));
  });

  it.each(['1,0', '100 %', '0x1', '1e999', '', 'abc', '1 000', 'NaN', '1_000', '0o17'])(
    '%j is not a number',
    (text) => {
      expect(parseNumber(text)).toBeTypeOf('string');
    },
  );

  it('names the flag', () => {
    expect(quantityFlag('--po2', '28kPa', 'pressure', 'kPa')).toBe(28);
    expect(numberFlag('--fio2', '1.0')).toBe(1);
    for (const call of [
      () => quantityFlag('--po2', '28', 'pressure', 'mmHg'),
      () => numberFlag('--po2', 'x'),
    ]) {
      try {
        call();
        expect.unreachable();
      } catch (error) {
        expect(error).toBeInstanceOf(InputFailure);
        expect((error as InputFailure).exitCode).toBe(2);
        expect((error as InputFailure).message).toMatch(/^--po2: "/);
      }
    }
  });
});
