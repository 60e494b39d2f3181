import type { GreyVolume } from '../volume/ct/grey-volume.js';

/** Denser than lung and air, HU: common practice, no source. */
const BODY_HU = -300;
/** Sampling step along each axis, voxels. */
const STRIDE = 4;

/**
 * The middle of the body along x (LPS; to the left of it x is larger): the median over voxels denser than lung. Undefined if the scan is
 * less than `leastWidthMm` wide along x, since a part of the body does not show its middle.
 */
export function bodyMiddleX({ stack, values }: GreyVolume, leastWidthMm: number): number | undefined {
  const { columns, rows, slices, columnStep, rowStep, origins } = stack;
  const xs: number[] = [];
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < slices; k += STRIDE)
    for (let j = 0; j < rows; j += STRIDE)
      for (let i = 0; i < columns; i += STRIDE) {
        const x = origins[3 * k] + i * columnStep[0] + j * rowStep[0];
        low = Math.min(low, x);
        high = Math.max(high, x);
        if (values[(k * rows + j) * columns + i] > BODY_HU) xs.push(x);
      }
  if (xs.length === 0 || high - low < leastWidthMm) return undefined;
  const sorted = Float64Array.from(xs).sort();
  return sorted[sorted.length >> 1];
}
