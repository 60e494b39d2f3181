import { readFileSync } from 'node:fs';

const known = new Map<string, WebAssembly.Module | undefined>();

/**
 * A program of build/assembly; undefined if it was not built, as beside the sources, or the machine has no WebAssembly or limits the
 * addresses of a process: the few that there are then go to the libraries that have no plain version.
 */
export function compiledPart(file: URL): WebAssembly.Module | undefined {
  const { href } = file;
  if (!known.has(href)) known.set(href, compiled(file));
  return known.get(href);
}

function compiled(file: URL): WebAssembly.Module | undefined {
  try {
    hasAddresses ??= canReserve(MEMORIES);
    return hasAddresses ? new WebAssembly.Module(readFileSync(file)) : undefined;
  } catch {
    return undefined;
  }
}

/** More memories than a plan has at the same time; the engine reserves some ten gigabytes of addresses for each, whatever its size. */
const MEMORIES = 64;
let hasAddresses: boolean | undefined;

function canReserve(memories: number): boolean {
  try {
    // all of them at once: what is not held is given back where one is refused
    return Array.from({ length: memories }, () => new WebAssembly.Memory({ initial: 0 })).length > 0;
  } catch {
    return false;
  }
}

export const PAGE_BYTES = 65_536;

/** Makes a memory hold at least so many bytes; it never shrinks. Throws RangeError if the system gives no more. */
export function enlarge(memory: WebAssembly.Memory, bytes: number): true {
  const missing = Math.ceil((bytes - memory.buffer.byteLength) / PAGE_BYTES);
  if (missing > 0) memory.grow(missing);
  return true;
}

/** What an attempt gives; undefined if the system gave it no memory, so that the plain version is to be used. */
export function whereRoom<T>(attempt: () => T): T | undefined {
  try {
    return attempt();
  } catch (error) {
    if (error instanceof RangeError) return undefined;
    throw error;
  }
}

/** Starts a program on a memory of its own. */
export function started<T>(module: WebAssembly.Module, memory: WebAssembly.Memory): T {
  const { exports } = new WebAssembly.Instance(module, { env: { memory, abort() {} } });
  return exports as unknown as T;
}
