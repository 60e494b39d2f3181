import { availableParallelism } from 'node:os';
import { basename } from 'node:path';
import { configDefaults, defineConfig } from 'vitest/config';
import { BaseSequencer, type TestSpecification } from 'vitest/node';
import { LONG_TESTS, REPLACING_TESTS } from './long-tests.js';

/** `short` and `long` are the two parts that CI runs, one after the other; otherwise every file is included. */
const part = process.env.PAVM_TESTS;

/** Files that take over a minute of CPU time: started first, so that none is left to run alone at the end. */
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

const EVERY = 'tests/**/*.test.ts';
const without = (files: readonly string[]): string[] => [...configDefaults.exclude, ...files];
const PARTS = {
  // modules are loaded once for all files of a worker: no test there leaves anything behind in them
  short: [
    { name: 'replacing', isolate: true, include: REPLACING_TESTS },
    {
      name: 'shared',
      isolate: false,
      include: [EVERY],
      exclude: without([...LONG_TESTS, ...REPLACING_TESTS]),
    },
  ],
  long: [{ name: 'long', include: LONG_TESTS }],
  all: [{ name: 'all', include: [EVERY], exclude: without([]) }],
};

export default defineConfig({
  test: {
    projects: (part === 'short' || part === 'long' ? PARTS[part] : PARTS.all).map((test) => ({
      extends: true as const,
      test,
    })),
    // most tests wait for a program they started: on two cores, two files at once take half the time
    maxWorkers: Math.max(2, availableParallelism() - 1),
    sequence: { sequencer: SlowFirst },
    testTimeout: 180_000,
    hookTimeout: 180_000,
    globalSetup: ['tests/build-once.ts'],
    coverage: {
      provider: 'v8',
      include: ['src/**/*.ts'],
      // commands and the page's viewer run in separate processes, which are not counted
      exclude: ['src/cli/**', 'src/page/viewer/**', '**/*.d.ts'],
      reporter: ['text-summary', 'html'],
    },
  },
});
