import type { Vec3 } from '../../foundation/vector.js';
import type { GreyVolume } from './grey-volume.js';

/**
 * The part of a volume that contains a box (two corners, mm LPS), as a copy, so that the whole volume can be released. Undefined if the
 * box is outside, or fewer than two voxels are left in a direction.
 */
export function croppedTo({ stack, values }: GreyVolume, low: Vec3, high: Vec3): GreyVolume | undefined {
  const { columnStep: a, rowStep: b, normal, origins, heights, isGap } = stack;
  const corners = Array.from(
    { length: 8 },
    (_, c): Vec3 => [c & 1 ? high[0] : low[0], c & 2 ? high[1] : low[1], c & 4 ? high[2] : low[2]],
  );
  const along = corners.map((p) => p[0] * normal[0] + p[1] * normal[1] + p[2] * normal[2]);
  const [bottom, top] = [Math.min(...along), Math.max(...along)];
  let [first, last] = [0, stack.slices - 1];
  while (first < last && heights[first + 1] <= bottom) first++;
  while (last > first && heights[last - 1] >= top) last--;
  const aa = a[0] ** 2 + a[1] ** 2 + a[2] ** 2;
  const bb = b[0] ** 2 + b[1] ** 2 + b[2] ** 2;
  let [left, right, upper, lower] = [stack.columns - 1, 0, stack.rows - 1, 0];
  for (let k = first; k <= last; k++)
    for (const p of corners) {
      const [dx, dy, dz] = [0, 1, 2].map((d) => p[d] - origins[3 * k + d]);
      const i = (dx * a[0] + dy * a[1] + dz * a[2]) / aa;
      const j = (dx * b[0] + dy * b[1] + dz * b[2]) / bb;
      left = Math.min(left, Math.floor(i));
      right = Math.max(right, Math.ceil(i));
      upper = Math.min(upper, Math.floor(j));
      lower = Math.max(lower, Math.ceil(j));
    }
  left = Math.max(0, left);
  right = Math.min(stack.columns - 1, right);
  upper = Math.max(0, upper);
  lower = Math.min(stack.rows - 1, lower);
  const [columns, rows, slices] = [right - left + 1, lower - upper + 1, last - first + 1];
  if (columns < 2 || rows < 2 || slices < 2) return undefined;
  const kept = new Int16Array(columns * rows * slices);
  const places = new Float64Array(3 * slices);
  for (let k = 0; k < slices; k++) {
    for (let d = 0; d < 3; d++) places[3 * k + d] = origins[3 * (first + k) + d] + left * a[d] + upper * b[d];
    for (let j = 0; j < rows; j++) {
      const from = ((first + k) * stack.rows + upper + j) * stack.columns + left;
      kept.set(values.subarray(from, from + columns), (k * rows + j) * columns);
    }
  }
  return {
    values: kept,
    stack: {
      columns,
      rows,
      slices,
      columnStep: a,
      rowStep: b,
      normal,
      origins: places,
      heights: heights.slice(first, last + 1),
      isGap: isGap.slice(first, last + 1),
    },
  };
}
