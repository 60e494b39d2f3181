import { defineConfig } from 'vitest/config';
import { SUBJECTS } from './subjects.mjs';

/** The tests of the subject that `run.mjs` names. */
export default defineConfig({
  test: {
    include: SUBJECTS[process.env.PAVM_MUTANTS]?.tests ?? [],
    // the modules stay loaded from one test file to the next: a mutant that many files reach costs half the time
    isolate: false,
    testTimeout: 180_000,
  },
});
