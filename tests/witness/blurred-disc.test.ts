import { describe, expect, it } from 'vitest';
import { normalBelow } from '../../src/foundation/normal-distribution.js';
import { blurredDisc } from '../../src/witness/blurred-disc.js';

it.each([
  // Standard normal table, from memory
  [0, 0.5],
  [1, 0.841345],
  [1.96, 0.975002],
  [-1.644854, 0.05],
  [3, 0.99865],
])('the normal distribution function at %f', (x, below) => {
  expect(normalBelow(x)).toBeCloseTo(below, 5);
});

/** Width of the profile through the centre where it passes `level`, mm. */
function widthAt(level: number, radiusMm: number, sigmaMm: number): number {
  let [low, high] = [0, radiusMm + 5 * sigmaMm];
  if (blurredDisc(0, radiusMm, sigmaMm) < level) return 0;
  for (let step = 0; step < 50; step++) {
    const middle = (low + high) / 2;
    if (blurredDisc(middle, radiusMm, sigmaMm) > level) low = middle;
    else high = middle;
  }
  return low + high;
}

describe('a round vessel under a Gaussian blur', () => {
  const FWHM = 1;
  const sigma = FWHM / (2 * Math.sqrt(2 * Math.log(2)));

  // peak: 1 - exp(-r²/2σ²), in closed form; widths computed for such a vessel independently of this code, to two digits
  it.each([
    [0.5, 0.16, 2.09, 0],
    [0.75, 0.32, 1.47, 0],
    [1.25, 0.66, 1.05, 0.68],
    [1.5, 0.79, 0.98, 0.81],
    [2, 0.94, 0.94, 0.9],
    [2.5, 0.99, 0.95, 0.94],
    [3, 1, 0.96, 0.96],
    [4, 1, 0.98, 0.98],
  ])(
    'of %f blur widths: peak, width at half of its own peak, at half of the true contrast',
    (d, peak, own, half) => {
      const top = blurredDisc(0, d / 2, sigma);
      expect(top).toBeCloseTo(1 - Math.exp(-((d / 2 / sigma) ** 2) / 2), 3);
      expect(Math.abs(top - peak)).toBeLessThan(0.0075);
      expect(Math.abs(widthAt(top / 2, d / 2, sigma) / d - own)).toBeLessThan(0.0075);
      expect(Math.abs(widthAt(0.5, d / 2, sigma) / d - half)).toBeLessThan(0.0075);
    },
  );

  it.each([
    [1.2, 0.4],
    [3, 0.5],
    [7, 0.45],
  ])('of radius %f mm equals the sum over a fine grid', (radius, s) => {
    const step = 0.04;
    for (const at of [0, radius - s, radius, radius + 0.7 * s]) {
      let sum = 0;
      for (let x = -radius; x <= radius; x += step)
        for (let y = -radius; y <= radius; y += step)
          if (x * x + y * y < radius * radius)
            sum += Math.exp(-((at - x) ** 2 + y * y) / (2 * s * s)) * step * step;
      expect(Math.abs(blurredDisc(at, radius, s) - sum / (2 * Math.PI * s * s))).toBeLessThan(0.01);
    }
  });

  it('is continuous where the table ends', () => {
    expect(blurredDisc(3.9, 3.999, 0.4)).toBeCloseTo(blurredDisc(3.901, 4, 0.4), 3);
  });
});
