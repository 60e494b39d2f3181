import { beforeAll, describe, expect, it } from 'vitest';
import { patientResultSchema } from '../../src/report/result-schema.js';
import { ROOT, textOf } from './documents.js';

interface Line {
  fields: string[];
  formula: string;
  file: string;
  source: string[];
  tests: string[];
}

interface Known {
  sources: Set<string>;
  rules: Set<string>;
  read: (path: string) => string | undefined;
}

interface Read {
  lines: Line[];
  fields: string[];
  patientLines: Line[];
  patientFields: string[];
  shared: string[];
  known: Known;
}

interface Trace {
  readTrace: () => Read;
  fieldsOf: (schema: object) => string[];
  unfolded: (pattern: string) => string[];
  problemsOf: (lines: Line[], fields: string[], known: Known) => string[];
  pageOf: (read: Read) => string;
}

let trace: Trace;
beforeAll(async () => {
  trace = await import(new URL('src/build/trace.mjs', ROOT).href);
});

describe('where every field of a result comes from', () => {
  it('each has one line, and each line names what exists', () => {
    const { lines, fields, known } = trace.readTrace();
    expect(fields.length).toBeGreaterThan(400);
    expect(trace.problemsOf(lines, fields, known)).toEqual([]);
  });

  it('so has each field of the result of a patient; those shared with that of a case are named', () => {
    const { patientLines, patientFields, shared, known } = trace.readTrace();
    expect(patientFields.length).toBeGreaterThan(75);
    expect(trace.problemsOf(patientLines, patientFields, known)).toEqual([]);
    const all = Object.keys(patientResultSchema().properties ?? {});
    const own = new Set(patientFields.map((field) => /^\w+/.exec(field)![0]));
    expect([...own, ...shared].sort()).toEqual(all.sort());
    const page = trace.pageOf(trace.readTrace());
    for (const key of ['remainder_share_range', 'sessions[].{on,on_because}', ...shared])
      expect(page).toContain(`\`${key}\``);
  });

  it('the page is generated from the lines, and small', () => {
    const page = trace.pageOf(trace.readTrace());
    expect(textOf('src/result/trace.md')).toBe(page);
    expect(page.length).toBeLessThan(100_000);
  });

  it('fields are found below names, elements and references', () => {
    const schema = {
      properties: {
        a: { type: 'number' },
        list: { type: 'array', items: { $ref: '#/$defs/row' } },
        pair: { type: 'array', items: { type: 'number' } },
        named: { type: 'object', additionalProperties: { $ref: '#/$defs/row' } },
      },
      $defs: { row: { properties: { at_mm: { type: 'number' }, of: { type: 'string' } } } },
    };
    expect(trace.fieldsOf(schema)).toEqual([
      'a',
      'list[].at_mm',
      'list[].of',
      'pair',
      'named.*.at_mm',
      'named.*.of',
    ]);
    expect(trace.unfolded('{a,b}.{c, d}')).toEqual(['a.c', 'a.d', 'b.c', 'b.d']);
  });
});

describe('the check', () => {
  const line: Line = {
    fields: ['a'],
    formula: 'A',
    file: 'x.ts#f',
    source: ['definition', 'book', 'limit'],
    tests: ['x/y: block > title'],
  };
  const known: Known = {
    sources: new Set(['book']),
    rules: new Set(['limit']),
    read: (path) =>
      ({
        'src/x.ts': 'export function f() {}',
        'tests/x/y.test.ts': "describe('block', () => it('title', a bC",
      })[path],
  };
  const said = (more: Partial<Line>, fields = ['a']): string => {
    return trace.problemsOf([{ ...line, ...more }], fields, known).join(' ');
  };

  it('reports nothing for a complete line', () => {
    expect(said({})).toBe('');
    expect(said({ fields: ['x[].b_c'] }, ['x[].b_c'])).toBe('');
  });

  it('reports a field without a line, with the file to write it in', () => {
    expect(said({}, ['a', 'b.c_mm'])).toMatch(/^b\.c_mm: no line .* src\/result\/trace\.yaml/);
  });

  it.each([
    [{ fields: ['a', 'b'] }, 'b: the schema has no such field'],
    [{ fields: ['a', '{a}'] }, 'a: 2 lines claim it'],
    [{ formula: '' }, 'a: no formula'],
    [{ tests: [] }, 'a: no tests'],
    [{ file: 'z.ts#f' }, 'there is no file src/z.ts'],
    [{ file: 'x.ts#g' }, 'src/x.ts has no g'],
    [{ source: ['hearsay'] }, 'hearsay is neither a source, nor a rule'],
    [{ tests: ['x/z: title'] }, 'there is no file tests/x/z.test.ts'],
    [{ tests: ['x/y: titl'] }, 'tests/x/y.test.ts has no test "titl"'],
    [{ tests: ['x/y: title > block'] }, 'has no test "title > block"'],
    [{ tests: ['x/y'] }, '"x/y" is no test'],
    [{ fields: ['d_e'] }, 'd_e: none of its tests speaks of it'],
  ] as [Partial<Line>, string][])('%o', (more, text) => {
    expect(said(more)).toContain(text);
  });
});
