import { setFlagsFromString } from 'node:v8';
import type { CaseInput } from '../case/read-case.js';

/** Node releases whose engine is known to have these flags: one that has not refuses to start a process with them. */
const KNOWN_TO = { first: 20, last: 24 };

/** The flags if this engine has them, else none: they save time and change no result. */
function known(flags: readonly string[], version: string): readonly string[] {
  const major = Number.parseInt(version, 10);
  return major >= KNOWN_TO.first && major <= KNOWN_TO.last ? flags : [];
}

/**
 * Flags of each worker of a batch: garbage collection and compilation run on its own thread, and a function is optimised only once it is
 * really hot. By default the helper threads of one worker took a third of a second core, which the next worker needs; with these flags two
 * workers take less processor time.
 */
export const workerFlags = (version = process.versions.node): readonly string[] =>
  known(['--single-threaded-gc', '--no-concurrent-recompilation', '--interrupt-budget=1000000'], version);

/** Inputs up to this size are planned in some two seconds, bytes. */
const SMALL_BYTES = 8 * 2 ** 20;

/**
 * Flags of a plan of a small case. By default the engine spends a third of the processor time of such a plan on optimising functions that
 * have little left to do; with a larger budget before it does, and less inlining, that is halved. Large surfaces gain nothing.
 */
export function shortRunFlags(
  inputs: readonly Pick<CaseInput, 'role' | 'size'>[],
  version = process.versions.node,
): readonly string[] {
  const bytes = inputs.reduce((sum, { size }) => sum + size, 0);
  const isSmall = bytes <= SMALL_BYTES && !inputs.some(({ role }) => role === 'series');
  return known(
    isSmall ? ['--interrupt-budget=500000', '--max-inlined-bytecode-size-cumulative=300'] : [],
    version,
  );
}

/** Tells the engine if the run will be short. It applies to the whole process, so only a command calls this. */
export function expectShortRun(inputs: readonly Pick<CaseInput, 'role' | 'size'>[]): void {
  for (const flag of shortRunFlags(inputs)) setFlagsFromString(flag);
}
