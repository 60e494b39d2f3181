import { fixed } from '../../foundation/number-text.js';
import { dot, type Vec3 } from '../../foundation/vector.js';
import type { SliceStack } from './slice-stack.js';

/** The extent of a stack along each patient axis, for messages: `x -40.50 to -24.40, ...`, mm LPS. */
export function reachText({ columnStep, rowStep, columns, rows, slices, origins }: SliceStack): string {
  const spans = [0, 1, 2].map((d) => {
    const ends: number[] = [];
    for (const k of [0, slices - 1])
      for (const i of [0, columns - 1])
        for (const j of [0, rows - 1]) ends.push(origins[3 * k + d] + i * columnStep[d] + j * rowStep[d]);
    return `${'xyz'[d]} ${fixed(Math.min(...ends), 1)} to ${fixed(Math.max(...ends), 1)}`;
  });
  return spans.join(', ');
}

/** Whether a place (mm LPS) is inside a stack, where `valueAt` has a value. */
export function isInStack(
  { normal, heights, slices, isGap, origins, columnStep, rowStep, columns, rows }: SliceStack,
  p: Vec3,
): boolean {
  const h = dot(p, normal);
  if (!(h >= heights[0] && h <= heights[slices - 1])) return false;
  let k = 0;
  while (k < slices - 2 && heights[k + 1] <= h) k++;
  if (isGap[k] === 1) return false;
  // both adjacent slices must contain the place, unless it is in one of them
  return (h === heights[k] ? [k] : [k, k + 1]).every((s) => {
    const d: Vec3 = [p[0] - origins[3 * s], p[1] - origins[3 * s + 1], p[2] - origins[3 * s + 2]];
    const i = dot(d, columnStep) / dot(columnStep, columnStep);
    const j = dot(d, rowStep) / dot(rowStep, rowStep);
    return i >= 0 && i <= columns - 1 && j >= 0 && j <= rows - 1;
  });
}
