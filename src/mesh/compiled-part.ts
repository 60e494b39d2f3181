import { readFileSync } from 'node:fs';

const known = new Map<string, WebAssembly.Module | undefined>();

/** A program of build/assembly; undefined if it was not built, as beside the sources, or the machine has no WebAssembly. */
export function compiledPart(file: URL): WebAssembly.Module | undefined {
  const { href } = file;
  if (!known.has(href)) known.set(href, compiled(file));
  return known.get(href);
}

function compiled(file: URL): WebAssembly.Module | undefined {
  try {
    return new WebAssembly.Module(readFileSync(file));
  } catch {
    return undefined;
  }
}

export const PAGE_BYTES = 65_536;

/** Starts a program on a memory of its own. */
export function started<T>(module: WebAssembly.Module, memory: WebAssembly.Memory): T {
  const { exports } = new WebAssembly.Instance(module, { env: { memory, abort() {} } });
  return exports as unknown as T;
}
