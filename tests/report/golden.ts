import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { expect } from 'vitest';

/** Compares a document with its golden file; `UPDATE_GOLDEN=1` rewrites the file instead. */
export function expectGolden(name: string, text: string): void {
  const file = new URL(`../golden/${name}`, import.meta.url);
  if (process.env.UPDATE_GOLDEN === '1') writeFileSync(file, text);
  expect(existsSync(file), `golden file ${name} is missing; UPDATE_GOLDEN=1 writes it`).toBe(true);
  expect(text).toBe(readFileSync(file, 'utf8'));
}
