import { setFlagsFromString } from 'node:v8';
import type { CaseInput } from '../case/read-case.js';

/** Flags that save time and change no result. */
interface EngineFlags {
  /** For a run from its start, until it is known to be long. */
  atStart: readonly string[];
  /** The engine's own values of these flags, which a long run returns to. */
  long: readonly string[];
  /** The flags with which a worker of a batch is started. */
  worker: readonly string[];
}

const WORKER = ['--single-threaded-gc', '--no-concurrent-recompilation'];
/** From release 22 on, the engine has no interrupt budget. */
const FROM_22: EngineFlags = {
  atStart: ['--max-inlined-bytecode-size-cumulative=300'],
  long: ['--max-inlined-bytecode-size-cumulative=920'],
  worker: WORKER,
};

/**
 * By release of Node. An engine refuses to start with a flag that it does not have, and reports an error for one that is set later. Each of
 * these flags was therefore tried with its release, and other releases get none. Continuous integration starts a batch on each release.
 *
 * By default the engine spends a third of the processor time of a two-second plan on optimising functions that have little work left. A
 * larger budget before it does so, and less inlining, halve that. Garbage collection and compilation run on a worker's own thread: the
 * helper threads of one worker took a third of a second core, which the next worker needs.
 */
const KNOWN: Record<number, EngineFlags> = {
  20: {
    atStart: ['--interrupt-budget=500000', '--max-inlined-bytecode-size-cumulative=300'],
    long: ['--interrupt-budget=67584', '--max-inlined-bytecode-size-cumulative=920'],
    worker: [...WORKER, '--interrupt-budget=1000000'],
  },
  22: FROM_22,
  24: FROM_22,
};
const NONE: EngineFlags = { atStart: [], long: [], worker: [] };

export const engineFlags = (version = process.versions.node): EngineFlags =>
  KNOWN[Number.parseInt(version, 10)] ?? NONE;

/** Inputs up to this size are planned in about two seconds, bytes. */
const SMALL_BYTES = 8 * 2 ** 20;

/** Whether a plan of these inputs is short. The size of a series is not in the case. */
export function isShortRun(inputs: readonly Pick<CaseInput, 'role' | 'size'>[]): boolean {
  const bytes = inputs.reduce((sum, { size }) => sum + size, 0);
  return bytes <= SMALL_BYTES && !inputs.some(({ role }) => role === 'series');
}

/** Tells the engine that the run will be short. This applies to the whole process, so only a command calls it. */
export function expectShortRun(): void {
  setFlags(engineFlags().atStart);
}

/** Reverses `expectShortRun`. */
export function expectLongRun(): void {
  setFlags(engineFlags().long);
}

function setFlags(flags: readonly string[]): void {
  for (const flag of flags) setFlagsFromString(flag);
}
