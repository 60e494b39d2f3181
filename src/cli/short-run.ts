import { setFlagsFromString } from 'node:v8';
import type { CaseInput } from '../case/read-case.js';

/** Inputs up to this size are planned in some two seconds, bytes. */
const SMALL_BYTES = 8 * 2 ** 20;

/**
 * Tells the engine that the run is short. By default it spends a third of the processor time of a small plan on optimising functions that
 * have little left to do; with a larger budget before it does, and less inlining, that is halved. Large surfaces gain nothing, and the
 * flags apply to the whole process, so only a command sets them. Results do not depend on them.
 */
export function expectShortRun(
  inputs: readonly Pick<CaseInput, 'role' | 'size'>[],
  setFlag = setFlagsFromString,
): void {
  const bytes = inputs.reduce((sum, { size }) => sum + size, 0);
  if (bytes > SMALL_BYTES || inputs.some(({ role }) => role === 'series')) return;
  setFlag('--interrupt-budget=500000');
  setFlag('--max-inlined-bytecode-size-cumulative=300');
}
