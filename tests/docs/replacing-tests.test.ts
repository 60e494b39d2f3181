import { readdirSync, readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { LONG_TESTS, REPLACING_TESTS } from '../long-tests.js';

it('the files of npm test that replace a module are those with a process of their own', () => {
  const root = new URL('../', import.meta.url);
  const replacing = readdirSync(root, { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.test.ts'))
    .filter((name) => /^vi\.mock\(/m.test(readFileSync(new URL(name, root), 'utf8')))
    .map((name) => `tests/${name}`)
    .filter((name) => !LONG_TESTS.includes(name));
  expect(replacing.sort()).toEqual([...REPLACING_TESTS].sort());
});
