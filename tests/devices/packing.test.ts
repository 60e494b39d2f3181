import { describe, expect, it } from 'vitest';
import { coilsForDensity, packingDensityPercent, stretchVolumeMm3 } from '../../src/devices/packing.js';

describe('packing density', () => {
  // By hand: ellipsoid sac 12 x 10 x 9 mm, pi/6 abc = 565.5 mm3; coil of 0.457 mm wire, 200 mm: 32.8 mm3. 24 % (Sluzewski,
  // Radiology 2004, brain aneurysms, from memory) needs 4.13, so 5 coils, which give 29.0 %.
  const volume = (Math.PI / 6) * 12 * 10 * 9;
  it('worked example', () => {
    expect(volume).toBeCloseTo(565.5, 1);
    expect(coilsForDensity(24, 0.457, 200, volume)).toBe(5);
    expect(packingDensityPercent(5, 0.457, 200, volume)).toBeCloseTo(29.0, 1);
    expect(packingDensityPercent(1, 0.457, 200, volume)).toBeCloseTo((100 * 32.81) / 565.5, 2);
  });
  it('an exact fit needs no further coil, and one is the minimum', () => {
    const one = packingDensityPercent(3, 0.457, 200, volume);
    expect(coilsForDensity(one, 0.457, 200, volume)).toBe(3);
    expect(coilsForDensity(0.001, 0.457, 200, volume)).toBe(1);
  });
  it('volume of a stretch of vessel', () => {
    expect(stretchVolumeMm3(2, 10)).toBeCloseTo(31.416, 3);
  });
});
