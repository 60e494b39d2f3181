import { existsSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { LONG_TESTS } from '../long-tests.js';
import { ROOT, textOf } from './documents.js';

describe('the two parts of the tests', () => {
  it('every file of the long part exists, and is listed once', () => {
    expect(LONG_TESTS.filter((file) => !existsSync(new URL(file, ROOT)))).toEqual([]);
    expect(new Set(LONG_TESTS).size).toBe(LONG_TESTS.length);
  });

  it('CI runs both', () => {
    const lines = textOf('.ci/run').split('\n');
    expect(lines).toContain('npm test');
    expect(lines.some((line) => line.endsWith('npm run test:long'))).toBe(true);
  });
});
