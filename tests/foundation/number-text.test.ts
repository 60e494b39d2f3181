import { describe, expect, it } from 'vitest';
import { besideLimits } from '../../src/foundation/number-text.js';

describe('a number close to its limits', () => {
  it.each([
    [5.03, 1, [5], '5.03'],
    [4.99, 1, [2, 5], '4.99'],
    [5.0004, 1, [5], '5.0004'],
    [5, 1, [5], '5.0'],
    [5.2, 1, [5], '5.2'],
    [1.98, 1, [2, 5], '1.98'],
    [12.04, 1, [], '12.0'],
    [5 + 1e-9, 1, [5], '5.000000'],
  ] as const)('%d with %i places next to %j reads %s', (value, digits, limits, text) => {
    expect(besideLimits(value, digits, limits)).toBe(text);
  });
});
