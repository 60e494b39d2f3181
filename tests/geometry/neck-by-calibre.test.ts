import { describe, expect, it } from 'vitest';
import { neckByCalibre } from '../../src/geometry/whole/neck-by-calibre.js';
import { profileOf } from './make.js';

describe('neck where the calibre stays above 1.25 times the median so far', () => {
  it('between the last section below the limit and the first above it', () => {
    // median 4, limit 5: between 5 mm (4) and 6 mm (8) the limit is met a quarter of the way
    expect(neckByCalibre(profileOf([4, 4, 4, 4, 4, 4, 8, 10, 12]), 1.25)).toBeCloseTo(5.25, 12);
  });

  it('a wide stretch that narrows again is no neck', () => {
    const profile = profileOf([4, 4, 4, 4, 4, 4, 9, 9, 4, 4, 4, 4, 8, 12]);
    expect(neckByCalibre(profile, 1.25)).toBeCloseTo(11.25, 12);
  });

  it('just above and just below the limit at the last section', () => {
    expect(neckByCalibre(profileOf([4, 4, 4, 4, 4, 5.001]), 1.25)).toBeCloseTo(4 + 1 / 1.001, 9);
    expect(neckByCalibre(profileOf([4, 4, 4, 4, 4, 4.999]), 1.25)).toBeUndefined();
    expect(neckByCalibre(profileOf([4, 4, 4, 4, 4, 5]), 1.25)).toBeUndefined();
  });

  it('the median follows the vessel: a feeder that narrows first', () => {
    // 8 8 8 6 6 6 6: median so far 6 at 6 mm, limit 7.5; from 6 (6) to 7 mm (9) it is met half way
    expect(neckByCalibre(profileOf([8, 8, 8, 6, 6, 6, 6, 9, 14]), 1.25)).toBeCloseTo(6.5, 12);
  });

  it('none in an even vessel, a tapering one or an empty profile', () => {
    expect(neckByCalibre(profileOf([5, 5, 5, 5]), 1.25)).toBeUndefined();
    expect(neckByCalibre(profileOf([8, 7, 6, 5, 4]), 1.25)).toBeUndefined();
    expect(neckByCalibre([], 1.25)).toBeUndefined();
  });

  it('does not change as calibres scale, and scales with positions', () => {
    const calibres = [3, 3.2, 3.1, 3.3, 3, 3.2, 5, 7, 9];
    const at = neckByCalibre(profileOf(calibres), 1.25)!;
    expect(neckByCalibre(profileOf(calibres.map((d) => 2.5 * d)), 1.25)).toBeCloseTo(at, 9);
    expect(neckByCalibre(profileOf(calibres, 0.5), 1.25)).toBeCloseTo(at / 2, 9);
  });
});
