import type { PicturePlane } from '../geometry/plane-outline.js';
import { type GreyVolume, valueAt } from '../volume/ct/grey-volume.js';

/** A small picture of Hounsfield values, rows from the top; `OUTSIDE_SCAN` outside the scan. */
export interface GreyPicture {
  columns: number;
  rows: number;
  stepMm: number;
  values: Int16Array;
}

/** Below every 16-bit Hounsfield value that a reader produces. */
export const OUTSIDE_SCAN = -32768;

/** The rounded value at a point (LPS, mm), or `OUTSIDE_SCAN`. */
export function wholeValueAt(volume: GreyVolume, x: number, y: number, z: number): number {
  const value = valueAt(volume, x, y, z);
  return Number.isNaN(value) ? OUTSIDE_SCAN : Math.round(value);
}

/** The scan on a plane (LPS), a square of half side `reachMm` about its centre, interpolated linearly. */
export function greyOnPlane(
  volume: GreyVolume,
  { centre, right, down }: PicturePlane,
  reachMm: number,
  stepMm: number,
): GreyPicture {
  const size = 2 * Math.ceil(reachMm / stepMm);
  const values = new Int16Array(size * size);
  for (let j = 0; j < size; j++)
    for (let i = 0; i < size; i++) {
      const u = (i + 0.5 - size / 2) * stepMm;
      const v = (j + 0.5 - size / 2) * stepMm;
      const [x, y, z] = [0, 1, 2].map((d) => centre[d] + u * right[d] + v * down[d]);
      values[j * size + i] = wholeValueAt(volume, x, y, z);
    }
  return { columns: size, rows: size, stepMm, values };
}
