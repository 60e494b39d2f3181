import { readFileSync } from 'node:fs';

const known = new Map<string, WebAssembly.Module | undefined>();

/**
 * A program of build/assembly. Undefined if it was not built (as when running from the sources), or if the machine has no WebAssembly or
 * limits the address space of a process: what little there is then goes to the libraries that have no plain version.
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

/**
 * More memories than a plan uses at the same time; the engine reserves about ten gigabytes of address space for each, whatever its size.
 */
const MEMORIES = 64;
let hasAddresses: boolean | undefined;

function canReserve(memories: number): boolean {
  try {
    // all of them at once: if one is refused, those not in use are released
    return Array.from({ length: memories }, () => new WebAssembly.Memory({ initial: 0 })).length > 0;
  } catch {
    return false;
  }
}

export const PAGE_BYTES = 65_536;

/** Grows a memory to at least this many bytes; it never shrinks. Throws RangeError if the system gives no more. */
export function enlarge(memory: WebAssembly.Memory, bytes: number): true {
  const missing = Math.ceil((bytes - memory.buffer.byteLength) / PAGE_BYTES);
  if (missing > 0) memory.grow(missing);
  return true;
}

/** The result of an attempt; undefined if the system gave it no memory, so that the plain version must be used. */
export function whereRoom<T>(attempt: () => T): T | undefined {
  try {
    return attempt();
  } catch (error) {
    if (error instanceof RangeError) return undefined;
    throw error;
  }
}

/** Starts a program with its own memory. */
export function started<T>(module: WebAssembly.Module, memory: WebAssembly.Memory): T {
  const { exports } = new WebAssembly.Instance(module, { env: { memory, abort() {} } });
  return exports as unknown as T;
}
