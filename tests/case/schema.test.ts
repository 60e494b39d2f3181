import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { type FileSchema, fileSchema, resolveSchema } from '../../src/case/file-schema.js';
import { CASE_RANGES, SHELF_RANGES } from '../../src/case/plausible-ranges.js';
import { KINDS, kindOf, type QuantityKind } from '../../src/foundation/units.js';

/** Every key of a schema with its path and resolved schema. */
function keys(schema: FileSchema, root: FileSchema, path = ''): [string, FileSchema][] {
  const here = resolveSchema(schema, root);
  const below = Object.entries(here.properties ?? {}).flatMap(([key, sub]) => {
    const at = path === '' ? key : `${path}.${key}`;
    return [[at, resolveSchema(sub, root)] as [string, FileSchema], ...keys(sub, root, at)];
  });
  return here.items ? [...below, ...keys(here.items, root, `${path}[]`)] : below;
}

const entries = (['case', 'shelf'] as const).flatMap((name) => keys(fileSchema(name), fileSchema(name)));

describe('the shipped schemas are the manual', () => {
  it.each(entries)('%s is described', (_path, schema) => {
    expect(schema.description?.length ?? 0).toBeGreaterThan(10);
  });

  const quantities = entries.filter(([, schema]) => schema.quantity);
  it.each(quantities)(
    '%s is a quantity of a known kind and unit, with an example',
    (_path, { quantity, examples }) => {
      expect(Object.keys(KINDS)).toContain(quantity?.kind);
      expect(Object.keys(kindOf(quantity?.kind as QuantityKind).units)).toContain(quantity?.unit);
      expect(examples?.length).toBeGreaterThan(0);
    },
  );

  it.each(quantities)('%s is guarded by a plausible range in the same unit', (path, { quantity }) => {
    const range = [...CASE_RANGES, ...SHELF_RANGES].find((r) => r.path === path);
    expect(range?.unit).toBe(quantity?.unit);
  });

  it('the fixture uses every key of the case file except those of the other forms', () => {
    const used = new Set<string>();
    const walk = (value: unknown, path: string): void => {
      if (Array.isArray(value)) for (const item of value) walk(item, `${path}[]`);
      else if (value !== null && typeof value === 'object') {
        for (const [key, sub] of Object.entries(value)) {
          const at = path === '' ? key : `${path}.${key}`;
          used.add(at);
          walk(sub, at);
        }
      }
    };
    walk(parse(readFileSync(new URL('../fixtures/cases/full.yaml', import.meta.url), 'utf8')), '');
    const all = keys(fileSchema('case'), fileSchema('case')).map(([path]) => path);
    expect(
      all.filter(
        (path) =>
          !used.has(path) &&
          !/^(surfaces\.(whole|labels|from_scan)|print\.cut\.(point|normal|neck))/.test(path),
      ),
    ).toEqual(['gases[].pressure', 'surfaces.parts[].object']);
  });
});
