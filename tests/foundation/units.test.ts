import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { canonicalUnit, convert, KINDS, kindOf, type QuantityKind } from '../../src/foundation/units.js';

const rows = readFileSync(new URL('../check-values/units.csv', import.meta.url), 'utf8')
  .split('\n')
  .filter((line) => line !== '' && !line.startsWith('#'))
  .slice(1)
  .map((line) => line.split(','));

const anyConvert = convert as (value: number, kind: QuantityKind, from: string, into: string) => number;

describe('conversions against published and derived values', () => {
  it.each(rows)('%s: %s %s %s in %s', (_id, kind, value, from, into, expected, tolerance) => {
    const result = anyConvert(Number(value), kind as QuantityKind, from, into);
    expect(Math.abs(result - Number(expected))).toBeLessThanOrEqual(Number(tolerance));
  });

  it('has a check value for every kind', () => {
    expect([...new Set(rows.map(([, kind]) => kind))].sort()).toEqual(Object.keys(KINDS).sort());
  });
});

describe('every unit', () => {
  const all = Object.keys(KINDS).flatMap((kind) =>
    Object.keys(kindOf(kind as QuantityKind).units).map((unit) => [kind as QuantityKind, unit] as const),
  );

  it.each(all)('%s %s converts to the base unit and back', (kind, unit) => {
    const { base } = kindOf(kind);
    for (const value of [0.37, 1, 36.6, 712.25]) {
      const back = anyConvert(anyConvert(value, kind, unit, base), kind, base, unit);
      expect(Math.abs(back - value)).toBeLessThan(1e-9);
    }
  });

  it.each(all)('%s %s names its source and keeps its spelling', (kind, unit) => {
    expect(kindOf(kind).units[unit].source.length).toBeGreaterThan(3);
    expect(canonicalUnit(unit, kind)).toBe(unit);
    for (const spelling of kindOf(kind).units[unit].also ?? [])
      expect(canonicalUnit(spelling, kind)).toBe(unit);
  });

  it('returns exactly the same number for the same unit', () => {
    expect(convert(0.1 + 0.2, 'length', 'mm', 'mm')).toBe(0.1 + 0.2);
  });

  it('throws on a unit of another kind', () => {
    expect(() => anyConvert(1, 'length', 'kPa', 'mm')).toThrow('length knows no unit kPa');
  });
});

describe('spelling of units', () => {
  it.each([
    ['MMHG', 'pressure', undefined],
    ['mmhg', 'pressure', 'mmHg'],
    ['KPA', 'pressure', 'kPa'],
    ['ml', 'volume', 'mL'],
    ['ML', 'volume', undefined],
    ['G/L', 'haemoglobin', 'g/L'],
    ['Mm', 'length', undefined],
    ['MM', 'length', undefined],
    ['µm', 'length', 'um'],
    ['toString', 'length', undefined],
  ] as const)('%s as %s is %s', (written, kind, unit) => {
    expect(canonicalUnit(written, kind)).toBe(unit);
  });
});
