import { existsSync } from 'node:fs';
import { afterEach, expect, it, vi } from 'vitest';

const FILE = new URL('../../dist/mesh/topology.wasm', import.meta.url);

afterEach(() => {
  vi.restoreAllMocks();
  vi.resetModules();
});

it('is used where the system has address space to spare', async () => {
  expect(existsSync(FILE), 'run npm run build').toBe(true);
  const { compiledPart } = await import('../../src/mesh/compiled-part.js');
  expect(compiledPart(FILE)).toBeInstanceOf(WebAssembly.Module);
  expect(compiledPart(new URL('./missing.wasm', FILE))).toBeUndefined();
});

it('is not used where the system limits it, so that the libraries get what there is', async () => {
  const { Memory } = WebAssembly;
  let reserved = 0;
  vi.spyOn(WebAssembly, 'Memory').mockImplementation(function reserve(descriptor) {
    if (++reserved > 5) throw new RangeError('could not allocate memory');
    return new Memory(descriptor!);
  });
  vi.resetModules();
  const { compiledPart } = await import('../../src/mesh/compiled-part.js');
  expect(compiledPart(FILE)).toBeUndefined();
  expect(compiledPart(new URL('./box-tree.wasm', FILE))).toBeUndefined();
  expect(reserved).toBe(6);
});
