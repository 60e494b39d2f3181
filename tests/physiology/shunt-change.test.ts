import { describe, expect, it } from 'vitest';
import { shuntChange, trendRefusal } from '../../src/physiology/shunt-change.js';
import type { Shunt } from '../../src/result/result.generated.js';

const shunt = (fraction: number, interval: [number, number], more: Partial<Shunt> = {}): Shunt => ({
  fraction,
  interval,
  method: 'content',
  assumed: [],
  ...more,
});

describe('the change of the shunt', () => {
  it('each side of the interval in quadrature, by hand', () => {
    // down: 0.03 after and 0.04 before give 0.05; up: 0.06 after and 0.08 before give 0.10
    const change = shuntChange(shunt(0.3, [0.22, 0.34]), shunt(0.1, [0.07, 0.16]))!;
    expect(change.change).toBeCloseTo(-0.2, 12);
    expect(change.interval[0]).toBeCloseTo(-0.25, 12);
    expect(change.interval[1]).toBeCloseTo(-0.1, 12);
    expect(change.isClear).toBe(true);
  });

  it('a rise is clear too, and one whose interval starts at zero is not', () => {
    expect(shuntChange(shunt(0.1, [0.07, 0.14]), shunt(0.3, [0.22, 0.34]))!.isClear).toBe(true);
    expect(shuntChange(shunt(0.25, [0.25, 0.25]), shunt(0.5, [0.25, 0.5]))!.interval[0]).toBe(0);
    expect(shuntChange(shunt(0.25, [0.25, 0.25]), shunt(0.5, [0.25, 0.5]))!.isClear).toBe(false);
    expect(shuntChange(shunt(0.5, [0.25, 0.5]), shunt(0.25, [0.25, 0.25]))!.isClear).toBe(false);
  });

  it('is absent without both, and between methods or bases', () => {
    const before = shunt(0.3, [0.2, 0.4], { av_difference_basis: 'assumed' });
    const after = shunt(0.1, [0.05, 0.2], { av_difference_basis: 'assumed' });
    expect(shuntChange(before, after)).toBeDefined();
    expect(shuntChange(undefined, after)).toBeUndefined();
    expect(shuntChange(before, undefined)).toBeUndefined();
    expect(shuntChange({ ...before, interval: undefined }, after)).toBeUndefined();
    expect(shuntChange(before, { ...after, interval: undefined })).toBeUndefined();
    expect(shuntChange(before, { ...after, av_difference_basis: 'fick' })).toBeUndefined();
    expect(shuntChange(before, { ...after, method: 'room-air' })).toBeUndefined();
  });

  it('says what was found by what', () => {
    const [before, after] = [shunt(0.3, [0.2, 0.4]), shunt(0.1, [0, 0.2], { method: 'room-air' })];
    expect(trendRefusal(before, after)).toContain('oxygen contents on 100 % oxygen');
    expect(trendRefusal(before, after)).toContain('an estimate on less than 100 % oxygen');
    expect(trendRefusal(before, before)).toBeUndefined();
    expect(trendRefusal({ ...before, fraction: undefined }, after)).toBeUndefined();
    expect(trendRefusal(before, { ...after, fraction: undefined })).toBeUndefined();
  });
});

it('an answer without an interval has no trend', () => {
  const whole = shunt(0.2, [0.1, 0.3]);
  const { interval: _, ...bare } = whole;
  expect(shuntChange(whole, whole)).toBeDefined();
  expect(shuntChange(whole, bare)).toBeUndefined();
  expect(shuntChange(bare, whole)).toBeUndefined();
});
