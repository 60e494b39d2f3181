import { expect, it } from 'vitest';
import { knownSlips, slipNear } from '../../src/print/slips.js';

it('the mix-ups of units, and how close a ratio must be', () => {
  const side = (ratio: number) => slipNear(ratio, 1)?.text.match(/too (large|small)/)?.[1];
  expect([1000, 0.001, 10, 0.1, 25.4, 1 / 25.4].map(side)).toEqual([
    'large',
    'small',
    'large',
    'small',
    'large',
    'small',
  ]);
  expect(slipNear(1000, 1)?.text).toContain('metres and millimetres');
  // e^0.04 = 1.0408 either way
  expect(slipNear(10 * 1.0407, 1)).toBeDefined();
  expect(slipNear(10 * 1.0409, 1)).toBeUndefined();
  expect(slipNear(10 / 1.0407, 1)).toBeDefined();
  expect(slipNear(10 / 1.0409, 1)).toBeUndefined();
});

it('a scale counts as a separate mix-up from e^0.08 = 1.0833 up', () => {
  expect([1, 1.083, 1.084].map((scale) => knownSlips(scale).length)).toEqual([6, 6, 8]);
  expect(slipNear(0.5, 2)?.text).toContain('was not applied');
  expect(slipNear(2, 2)?.text).toContain('applied twice');
});
