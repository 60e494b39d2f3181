import { setFlagsFromString } from 'node:v8';
import type { CaseInput } from '../case/read-case.js';

/** Flags that save time and change no result. */
interface EngineFlags {
  /** Of a run from its start, until it is known to be long. */
  atStart: readonly string[];
  /** The engine's own values of the same, which a long run goes back to. */
  long: readonly string[];
  /** With which a worker of a batch is started. */
  worker: readonly string[];
}

const WORKER = ['--single-threaded-gc', '--no-concurrent-recompilation'];
/** No interrupt budget any more. */
const FROM_22: EngineFlags = {
  atStart: ['--max-inlined-bytecode-size-cumulative=300'],
  long: ['--max-inlined-bytecode-size-cumulative=920'],
  worker: WORKER,
};

/**
 * By release of Node. An engine refuses to start with a flag that it does not have, and complains of one that is set later, so each of
 * these was tried with its release, and other releases get none. The continuous integration starts a batch on each.
 *
 * By default the engine spends a third of the processor time of a plan of two seconds on optimising functions that have little left to
 * do: a larger budget before it does, and less inlining, halve that. Garbage collection and compilation on the own thread of a worker:
 * the helper threads of one worker took a third of a second core, which the next worker needs.
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

/** Inputs up to this size are planned in some two seconds, bytes. */
const SMALL_BYTES = 8 * 2 ** 20;

/** Whether a plan of these inputs is short. The size of a series does not stand in the case. */
export function isShortRun(inputs: readonly Pick<CaseInput, 'role' | 'size'>[]): boolean {
  const bytes = inputs.reduce((sum, { size }) => sum + size, 0);
  return bytes <= SMALL_BYTES && !inputs.some(({ role }) => role === 'series');
}

/** Tells the engine that the run will be short. It applies to the whole process, so only a command calls this. */
export function expectShortRun(): void {
  setFlags(engineFlags().atStart);
}

/** Takes that back. */
export function expectLongRun(): void {
  setFlags(engineFlags().long);
}

function setFlags(flags: readonly string[]): void {
  for (const flag of flags) setFlagsFromString(flag);
}
