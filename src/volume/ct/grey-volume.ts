import { createHash } from 'node:crypto';
import { length, type Vec3 } from '../../foundation/vector.js';
import type { SliceStack } from './slice-stack.js';

/** A CT volume: one integer Hounsfield value per voxel, column fastest, then row, then slice. */
export interface GreyVolume {
  stack: SliceStack;
  /** length columns·rows·slices */
  values: Int16Array;
}

/**
 * Hounsfield value at a point (mm LPS), interpolated between the eight surrounding voxels; NaN outside the volume and where slices are
 * missing. Each of the two adjacent slices is interpolated at its own position.
 */
export function valueAt({ stack, values }: GreyVolume, x: number, y: number, z: number): number {
  const { normal, heights, slices, columns, rows } = stack;
  const h = x * normal[0] + y * normal[1] + z * normal[2];
  if (!(h >= heights[0] && h <= heights[slices - 1])) return Number.NaN;
  // the step is nearly even, so the first guess is right or off by one
  let k = Math.floor(((h - heights[0]) / (heights[slices - 1] - heights[0])) * (slices - 1));
  if (k > slices - 2) k = slices - 2;
  while (k > 0 && heights[k] > h) k--;
  while (k < slices - 2 && heights[k + 1] < h) k++;
  if (stack.isGap[k] === 1) return Number.NaN;
  const t = (h - heights[k]) / (heights[k + 1] - heights[k]);
  const low = inSlice(stack, values, k, x, y, z, columns, rows);
  if (t === 0) return low;
  const high = inSlice(stack, values, k + 1, x, y, z, columns, rows);
  return low + t * (high - low);
}

function inSlice(
  { columnStep: a, rowStep: b, origins }: SliceStack,
  values: Int16Array,
  k: number,
  x: number,
  y: number,
  z: number,
  columns: number,
  rows: number,
): number {
  const dx = x - origins[3 * k];
  const dy = y - origins[3 * k + 1];
  const dz = z - origins[3 * k + 2];
  // rows and columns are perpendicular
  const i = (dx * a[0] + dy * a[1] + dz * a[2]) / (a[0] * a[0] + a[1] * a[1] + a[2] * a[2]);
  const j = (dx * b[0] + dy * b[1] + dz * b[2]) / (b[0] * b[0] + b[1] * b[1] + b[2] * b[2]);
  if (!(i >= 0 && i <= columns - 1 && j >= 0 && j <= rows - 1)) return Number.NaN;
  const i0 = Math.min(Math.floor(i), columns - 2);
  const j0 = Math.min(Math.floor(j), rows - 2);
  const at = (k * rows + j0) * columns + i0;
  const u = i - i0;
  const v = j - j0;
  const upper = values[at] + u * (values[at + 1] - values[at]);
  const lower = values[at + columns] + u * (values[at + columns + 1] - values[at + columns]);
  return upper + v * (lower - upper);
}

/**
 * One SHA-256 over the content of a series and its position: sizes, places and Hounsfield values. Files, their order and names, and the
 * encoding of pixels do not matter.
 */
export function volumeHash({ stack, values }: GreyVolume): string {
  const number = (x: number): string => (Math.round(x * 1e4) / 1e4 + 0).toFixed(4);
  const { columns, rows, slices, columnStep, rowStep, origins } = stack;
  const hash = createHash('sha256');
  const places = [...columnStep, ...rowStep, ...origins].map(number).join(' ');
  hash.update(`pavm-series/1\n${columns} ${rows} ${slices}\n${places}\n`);
  const slice = columns * rows;
  for (let k = 0; k < slices; k++) hash.update(littleEndian(values.subarray(k * slice, (k + 1) * slice)));
  return hash.digest('hex');
}

const IS_LITTLE = new Uint8Array(Uint16Array.of(1).buffer)[0] === 1;

function littleEndian(values: Int16Array): Uint8Array {
  const bytes = Buffer.from(values.buffer, values.byteOffset, values.byteLength);
  return IS_LITTLE ? bytes : Buffer.from(bytes).swap16();
}

/** Mean distances between voxels along columns, rows and slices, mm. */
export const meanSpacing = ({ stack: { columnStep, rowStep, heights, slices } }: GreyVolume): Vec3 => [
  length(columnStep),
  length(rowStep),
  (heights[slices - 1] - heights[0]) / (slices - 1),
];

/** Cube root of the volume of a voxel, mm. */
export const voxelMm = (volume: GreyVolume): number => Math.cbrt(meanSpacing(volume).reduce((a, b) => a * b));
