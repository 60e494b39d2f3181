import type { Mm, Percent } from '../foundation/unit-types.js';
/**
 * Packing density of coils.
 *
 * Formula   PD% = 100 · N · (π/4) · Dp² · L / V
 * Units     wire diameter Dp and coil length L mm; volume V mm3; result percent
 * Source    geometry (wire volume over packed volume); thresholds are in the rules
 * Checked   tests/devices/packing.test.ts
 */
export function packingDensityPercent(count: number, wireMm: Mm, lengthMm: Mm, volumeMm3: number): number {
  return (100 * count * coilVolumeMm3(wireMm, lengthMm)) / volumeMm3;
}

/** Smallest number of coils that reaches a packing density, percent; at least 1. */
export function coilsForDensity(
  densityPercent: Percent,
  wireMm: Mm,
  lengthMm: Mm,
  volumeMm3: number,
): number {
  const exact = ((densityPercent / 100) * volumeMm3) / coilVolumeMm3(wireMm, lengthMm);
  return Math.max(1, Math.ceil(exact - 1e-9));
}

function coilVolumeMm3(wireMm: Mm, lengthMm: Mm): number {
  return (Math.PI / 4) * wireMm ** 2 * lengthMm;
}

/** Volume of a round stretch of vessel, mm3. */
export function stretchVolumeMm3(calibreMm: Mm, lengthMm: Mm): number {
  return (Math.PI / 4) * calibreMm ** 2 * lengthMm;
}
