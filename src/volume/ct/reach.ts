import { fixed } from '../../foundation/number-text.js';
import type { SliceStack } from './slice-stack.js';

/** What a stack reaches along each patient axis, for messages: `x -40.50 to -24.40, ...`, mm LPS. */
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
