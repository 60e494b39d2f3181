import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { CONSTANTS } from '../../src/reference/constants.js';
import { COMMON_PRACTICE, SOURCES } from '../../src/reference/sources.js';

const folder = new URL('../../src/physiology/', import.meta.url);
const files = readdirSync(folder)
  .filter((name) => name.endsWith('.ts'))
  .sort()
  .map((name) => ({ name, text: readFileSync(new URL(name, folder), 'utf8') }));

describe('examples in doc comments give the number stated next to them', () => {
  const examples = files.flatMap(({ name, text }) =>
    [...text.matchAll(/@example\s+(.+?)\s+\/\/ (about )?([\d.]+)/g)].map((match) => ({
      name,
      expression: match[1],
      isRough: match[2] !== undefined,
      shown: match[3],
    })),
  );

  it('there are examples', () => expect(examples.length).toBeGreaterThanOrEqual(12));

  it.each(examples)('$name: $expression', async ({ name, expression, isRough, shown }) => {
    const module: Record<string, unknown> = await import(new URL(name, folder).href);
    const value: unknown = new Function(...Object.keys(module), `return ${expression}`)(
      ...Object.values(module),
    );
    const digits = shown.split('.')[1]?.length ?? 0;
    const tolerance = isRough ? 0.02 * Number(shown) : 0.5001 * 10 ** -digits;
    expect(Math.abs(Number(value) - Number(shown))).toBeLessThanOrEqual(tolerance);
  });
});

describe('sources', () => {
  it('every constant names a known source, or common practice', () => {
    for (const [name, { source }] of Object.entries(CONSTANTS)) {
      expect(source === COMMON_PRACTICE || source in SOURCES, `${name}: ${source}`).toBe(true);
    }
  });

  it('every source named in brackets in a doc comment is known', () => {
    const keys = files.flatMap(({ text }) =>
      [...text.matchAll(/\[([a-z][a-z-]*-\d{4}[a-z-]*)[,;\]]/g)].map((m) => m[1]),
    );
    expect(keys.length).toBeGreaterThan(15);
    for (const key of keys) expect(key in SOURCES, key).toBe(true);
  });
});
