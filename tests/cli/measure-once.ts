import { existsSync, statSync } from 'node:fs';
import { dirname } from 'node:path';
import { folderHash } from './run-pavm.js';

type Measuring = typeof import('../../src/cli/measure/measure-case.js');
type Printing = typeof import('../../src/cli/plan/print-folder.js');

/**
 * For `vi.mock` of `measure-case.js`: a case is measured once for each state of its folder and each set of options, however
 * many commands a test file runs on it. The rest of each command, which the tests are about, still runs.
 */
export async function measuringOnce(importOriginal: () => Promise<Measuring>): Promise<Measuring> {
  const original = await importOriginal();
  const known = new Map<string, ReturnType<Measuring['measureCase']>>();
  const measureCase: Measuring['measureCase'] = (path, options) => {
    if (!existsSync(path)) return original.measureCase(path, options);
    const folder = statSync(path).isDirectory() ? path : dirname(path);
    const key = JSON.stringify([path, options, folderHash(folder)]);
    const found = known.get(key) ?? original.measureCase(path, options);
    known.set(key, found);
    return found;
  };
  return { ...original, measureCase };
}

/**
 * For `vi.mock` of `print-folder.js`: no printable model, as when it is given up as too much work. It takes a quarter to a
 * half of the time of a plan, and only `print` of the result depends on it.
 */
export async function printingNothing(importOriginal: () => Promise<Printing>): Promise<Printing> {
  const { PrintGivenUp } = await import('../../src/print/print-given-up.js');
  const printPackageOf: Printing['printPackageOf'] = () =>
    Promise.reject(new PrintGivenUp('this is a test of the rest', []));
  return { ...(await importOriginal()), printPackageOf };
}

/** For `vi.mock` of `print-folder.js`: one printable model for each measured case. */
export async function printingOnce(importOriginal: () => Promise<Printing>): Promise<Printing> {
  const original = await importOriginal();
  const made = new WeakMap<object, ReturnType<Printing['printPackageOf']>>();
  const printPackageOf: Printing['printPackageOf'] = (measured) => {
    const pack = made.get(measured) ?? original.printPackageOf(measured);
    made.set(measured, pack);
    return pack;
  };
  return { ...original, printPackageOf };
}
