import { availableParallelism } from 'node:os';
import { basename } from 'node:path';
import { configDefaults, defineConfig } from 'vitest/config';
import { BaseSequencer, type TestSpecification } from 'vitest/node';
import { LONG_TESTS } from './long-tests.js';

/** `short` and `long` are the two parts that CI runs, one after the other; without it every file is there. */
const part = process.env.PAVM_TESTS;

/** Files that take over a minute of processor time: begun first, so that none is left to run alone at the end. */
const SLOW = [
  'proof-surface',
  'batch-stopped',
  'patient',
  'register-surfaces',
  'measure-whole-shapes',
  'missed',
  'labels',
  'output-folder',
  'slicer',
  'plan',
  'cut',
  'compare',
  'teaching-cases',
].map((name) => `${name}.test.ts`);

class SlowFirst extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    const rank = ({ moduleId }: TestSpecification): number => {
      const at = SLOW.indexOf(basename(moduleId));
      return at < 0 ? SLOW.length : at;
    };
    return (await super.sort(files)).sort((a, b) => rank(a) - rank(b));
  }
}

export default defineConfig({
  test: {
    include: part === 'long' ? LONG_TESTS : ['tests/**/*.test.ts'],
    exclude: [...configDefaults.exclude, ...(part === 'short' ? LONG_TESTS : [])],
    // most tests wait for a program they started: on two cores two files at once take half the time
    maxWorkers: Math.max(2, availableParallelism() - 1),
    // in the short part modules are loaded once for all files of a worker: no test there leaves anything behind in them
    isolate: part !== 'short',
    sequence: { sequencer: SlowFirst },
    testTimeout: 180_000,
    hookTimeout: 180_000,
    globalSetup: ['tests/build-once.ts'],
    coverage: {
      provider: 'v8',
      include: ['src/**/*.ts'],
      // commands and the page's viewer run in processes of their own, which are not counted
      exclude: ['src/cli/**', 'src/page/viewer/**', '**/*.d.ts'],
      reporter: ['text-summary', 'html'],
    },
  },
});
