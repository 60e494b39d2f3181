import { availableParallelism } from 'node:os';
import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: ['tests/**/*.test.ts'],
    // most tests wait for a program they started: on two cores two files at once take half the time
    maxWorkers: Math.max(2, availableParallelism() - 1),
    testTimeout: 180_000,
    hookTimeout: 180_000,
    globalSetup: ['tests/build-once.ts'],
  },
});
