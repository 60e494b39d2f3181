import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { memoryNeeded, nextToStart } from '../../src/batch/admission.js';
import { csvText } from '../../src/batch/csv.js';
import { fingerprintOf } from '../../src/batch/fingerprint.js';
import { gatherSummaries } from '../../src/batch/gather.js';
import { failedRow, leftRow, type Row, rowOf } from '../../src/batch/row.js';
import { parseShard, shardOf, summaryName } from '../../src/batch/shard.js';
import {
  type Summary,
  summaryCsv,
  summaryJson,
  summaryMarkdown,
  summaryOf,
} from '../../src/batch/summary.js';
import { parseSummary } from '../../src/batch/summary-check.js';
import { timeLeftText } from '../../src/batch/time-left.js';
import type { Result } from '../../src/result/result.generated.js';
import { resultOf } from '../grade/make.js';

const TOOL = { name: 'pavm-planner', version: '1.0.0', rule_set: 'abc' };
const done = (name: string, change: Partial<Row> = {}): Row => ({
  ...rowOf(
    resultOf((result) => {
      result.case = name;
    }),
    name,
  ),
  ...change,
});

/** Reads CSV by RFC 4180, written independently of the writer. */
function readCsv(text: string): string[][] {
  const rows: string[][] = [[]];
  let cell = '';
  let quoted = false;
  for (let i = 0; i < text.length; i++) {
    const c = text[i];
    if (quoted) {
      if (c !== '"') cell += c;
      else if (text[i + 1] === '"') cell += text[++i];
      else quoted = false;
    } else if (c === '"') quoted = true;
    else if (c === ',') {
      rows.at(-1)?.push(cell);
      cell = '';
    } else if (c === '\r' && text[i + 1] === '\n') {
      rows.at(-1)?.push(cell);
      cell = '';
      rows.push([]);
      i++;
    } else cell += c;
  }
  rows.pop();
  return rows;
}

describe('shares of a list', () => {
  it('take each entry once and differ in size by one at most', () => {
    fc.assert(
      fc.property(fc.array(fc.integer(), { maxLength: 60 }), fc.integer({ min: 1, max: 12 }), (list, of) => {
        const shares = Array.from({ length: of }, (_, i) => shardOf(list, { index: i + 1, of }));
        expect(shares.flat().sort()).toEqual([...list].sort());
        const sizes = shares.map((share) => share.length);
        expect(Math.max(...sizes) - Math.min(...sizes)).toBeLessThanOrEqual(1);
      }),
    );
  });
  it('are written i/n', () => {
    expect(parseShard('2/5')).toEqual({ index: 2, of: 5 });
    expect(summaryName({ index: 2, of: 5 })).toBe('summary-2-of-5');
    expect(summaryName(undefined)).toBe('summary');
    for (const bad of ['', '0/5', '6/5', '1/0', '1', '1/5/2', '-1/5', 'a/b', '1.5/3', '1/9999999'])
      expect(() => parseShard(bad), bad).toThrow(expect.objectContaining({ exitCode: 2 }));
  });
});

describe('admission', () => {
  const big = { bytes: 100e6 };
  const small = { bytes: 1e6 };
  const memory = memoryNeeded(big) + memoryNeeded(small);
  it.each([
    ['nothing running: the first, however large', [{ bytes: 1e12 }, small], [], 2, 0],
    ['enough memory beside a small one', [big], [small], 2, 0],
    ['not enough memory beside a large one: the next that fits', [big, small], [big], 2, 1],
    ['not enough memory for any', [big], [big], 2, -1],
    ['no free worker', [small], [small], 1, -1],
  ])('%s', (_, waiting, running, jobs, index) => {
    expect(nextToStart(waiting, running, jobs, memory)).toBe(waiting[index]);
  });
});

describe('CSV', () => {
  it.each([
    ['=1+1', "'=1+1"],
    ['+1', "'+1"],
    ['-1', "'-1"],
    ['@cmd', "'@cmd"],
    [' =1', "' =1"],
    ['\t=1', "' =1"],
    ['＝1', "'＝1"],
    ['a=1', 'a=1'],
    ['a "b", c', 'a "b", c'],
    ['two\nlines', 'two lines'],
  ])('%j does not become a formula', (text, read) => {
    expect(readCsv(csvText([[text]]))).toEqual([[read]]);
  });
  it('keeps numbers as numbers and unknown cells empty', () => {
    expect(csvText([[-1.5, undefined, 'x']])).toBe('-1.5,,x\r\n');
  });
  it('keeps any text within its cell', () => {
    fc.assert(
      fc.property(fc.array(fc.string(), { minLength: 1, maxLength: 5 }), (texts) => {
        const rows = readCsv(csvText([texts, texts]));
        expect(rows).toHaveLength(2);
        expect(rows[0]).toHaveLength(texts.length);
        for (const cell of rows[0]) expect(cell).not.toMatch(/^[=+\-@\t\r\n]/);
      }),
    );
  });
});

describe('the fingerprint', () => {
  const grounds = {
    inputs: [
      { path: 'a', sha256: '1', bytes: 1 },
      { path: 'b', sha256: '2', bytes: 2 },
    ],
    ruleSet: 'r',
    version: 'v',
  };
  it('changes with each input, not with the order of the files', () => {
    const base = fingerprintOf(grounds);
    expect(fingerprintOf({ ...grounds, inputs: [...grounds.inputs].reverse() })).toBe(base);
    const others = [
      { ...grounds, version: 'w' },
      { ...grounds, ruleSet: 's' },
      { ...grounds, today: '2026-01-01' },
      { ...grounds, inputs: [grounds.inputs[0]] },
      { ...grounds, inputs: [grounds.inputs[0], { path: 'b', sha256: '3', bytes: 2 }] },
      { ...grounds, inputs: [grounds.inputs[0], { path: 'c', sha256: '2', bytes: 2 }] },
    ].map(fingerprintOf);
    expect(new Set([base, ...others]).size).toBe(7);
  });
});

describe('a summary', () => {
  const summary = summaryOf(
    [
      done('wren-10'),
      done('wren-2', { exit_code: 1, problems: ['open-wall sac: a hole'] }),
      failedRow('heron', 3, ['bad | mesh']),
      leftRow('tern'),
    ],
    TOOL,
  );
  it('counts, sorts and uses the highest code', () => {
    expect(summary.cases.map((row) => row.case)).toEqual(['heron', 'tern', 'wren-2', 'wren-10']);
    expect([summary.done, summary.failed, summary.left, summary.exit_code]).toEqual([2, 1, 1, 3]);
  });
  it('says the same in CSV, JSON and Markdown', () => {
    const [head, ...rows] = readCsv(summaryCsv(summary));
    expect(rows).toHaveLength(4);
    const shunt = head.indexOf('shunt_percent');
    expect(rows.map((row) => row[shunt])).toEqual(['', '', '31', '31']);
    expect(JSON.parse(summaryJson(summary)).cases[2].shunt_percent).toBe(31);
    const text = summaryMarkdown(summary);
    expect(text).toContain('| [wren-2](<wren-2/plan.md>)');
    expect(text).toContain('- heron: bad \\| mesh');
    expect(text).toContain('31.0 %');
  });
  const visits = (change: Parameters<typeof resultOf>[0]) => {
    const { shunt_percent, shunt_from, shunt_after_percent } = rowOf(resultOf(change), 'x');
    return [shunt_percent, shunt_from, shunt_after_percent];
  };
  const after = {
    fraction: 0.08,
    interval: [0.06, 0.1] as [number, number],
    method: 'content' as const,
    assumed: [],
  };
  it('shows the shunt of the visit that counts, with the one after treatment next to it', () => {
    expect(visits(() => {})).toEqual([31, 'before', undefined]);
    const treated = (date: string, baseline?: 'before' | 'after') =>
      visits((result) => {
        result.shunt_after = after;
        result.lesion.treated = date;
        result.scan_date = '2026-03-14';
        if (baseline) result.baseline = baseline;
      });
    // the day of the scan counts as after; what the result says comes first
    expect(treated('2026-03-14')).toEqual([8, 'after', 8]);
    expect(treated('2026-03-15')).toEqual([31, 'before', 8]);
    expect(treated('2026-03-14', 'before')).toEqual([31, 'before', 8]);
    expect(treated('2026-03-15', 'after')).toEqual([8, 'after', 8]);
    const row = rowOf(
      resultOf((result) => {
        result.shunt_after = after;
        result.baseline = 'after';
      }),
      'x',
    );
    const text = summaryMarkdown(summaryOf([row], TOOL));
    expect(text).toMatch(/shunt that counts now \| shunt after treatment/);
    expect(text).toMatch(/\| 8\.0 % \(after treatment\) \| +8\.0 % \|/);
    const [head, line] = readCsv(summaryCsv(summaryOf([row], TOOL)));
    const cell = (name: string): string => line[head.indexOf(name)];
    expect(
      [
        'shunt_percent',
        'shunt_from',
        'shunt_after_percent',
        'shunt_after_low_percent',
        'shunt_after_high_percent',
      ].map(cell),
    ).toEqual(['8', 'after', '8', '6', '10']);
  });
  it('names the cases with vessels outside all surfaces that may feed the lesion; side branches lead away', () => {
    const place = { point_mm: [0, 0, 0], leads_to_mm: [9, 0, 0], calibre_mm: 3, length_mm: 9, joins: 'sac' };
    const missing = (...kinds: NonNullable<Result['missed']>[number]['kind'][]): Row =>
      rowOf(
        resultOf((result) => {
          result.missed = kinds.map((kind) => ({ ...place, kind }) as NonNullable<Result['missed']>[number]);
        }),
        'x',
      );
    expect(rowOf(resultOf(), 'x').missed_feeders).toBeUndefined();
    expect(missing().missed_feeders).toBe(0);
    expect(missing('side-branch').missed_feeders).toBe(0);
    const two = missing('feeder-candidate', 'side-branch', 'unclear');
    expect(two.missed_feeders).toBe(2);
    const summary = summaryOf([two, missing('side-branch')], TOOL);
    expect(summaryMarkdown(summary)).toMatch(
      /## Vessels in no surface\n\n- invented: 2 opacified vessels [^\n]*\n\n##/,
    );
    expect(summaryMarkdown(summaryOf([missing('side-branch')], TOOL))).not.toContain('in no surface');
    const [head, ...rows] = readCsv(summaryCsv(summary));
    expect(rows.map((row) => row[head.indexOf('missed_feeders')]).sort()).toEqual(['0', '2']);
    const bytes = (cases: unknown): Uint8Array =>
      new TextEncoder().encode(JSON.stringify({ ...summary, cases }));
    expect(parseSummary(bytes(summary.cases), 'a')).toEqual(summary);
    expect(() => parseSummary(bytes([{ ...two, missed_feeders: 'two' }]), 'a')).toThrow();
  });
  it('has a dash for whatever a failed case lacks, and a word for no device', () => {
    const cellsOf = (row: Row): string[] =>
      (
        summaryMarkdown(summaryOf([row], TOOL))
          .split('\n')
          .find((line) => line.startsWith(`| ${row.case} `)) ?? ''
      )
        .split(' | ')
        .map((cell) => cell.replace(/^\| | \|$/g, '').trim());
    expect(cellsOf(failedRow('heron', 3, ['bad']))).toEqual(['heron', 'failed', ...Array(10).fill('–')]);
    expect(cellsOf(leftRow('tern'))).toEqual(['tern', 'left', ...Array(10).fill('–')]);
    const { plan: _, ...without } = done('wren', { devices: '' });
    expect(cellsOf(without)[6]).toBe('none');
  });
  it('reads back what it wrote', () => {
    expect(parseSummary(Buffer.from(summaryJson(summary)), 'x')).toEqual(summary);
  });
  it.each([
    ['null', null],
    ['another format', { format: 'pavm-result/1' }],
    ['no cases', { format: 'pavm-batch/1', tool: TOOL }],
    ['a row without a name', { format: 'pavm-batch/1', tool: TOOL, cases: [{ status: 'done' }] }],
    [
      'an unknown exit code',
      {
        format: 'pavm-batch/1',
        tool: TOOL,
        cases: [{ case: 'a', status: 'done', exit_code: 9, problems: [] }],
      },
    ],
    [
      'an unknown visit',
      {
        format: 'pavm-batch/1',
        tool: TOOL,
        cases: [{ case: 'a', status: 'done', exit_code: 0, problems: [], shunt_from: 'then' }],
      },
    ],
    [
      'more shares than allowed',
      { format: 'pavm-batch/1', tool: TOOL, shard: { index: 1, of: 100_001 }, cases: [] },
    ],
    [
      'a number in quotes',
      {
        format: 'pavm-batch/1',
        tool: TOOL,
        cases: [{ case: 'a', status: 'done', exit_code: 0, problems: [], stops: '1' }],
      },
    ],
  ])('%s is refused', (_, value) => {
    expect(() => parseSummary(Buffer.from(JSON.stringify(value)), 'x.json')).toThrow(
      expect.objectContaining({ exitCode: 3, message: expect.stringMatching(/^x\.json: /) }),
    );
  });
  it.each(['"stops": 1e999', '"shunt_interval_percent": [1, 1e999]'])('%s is refused', (cell) => {
    const row = `{ "case": "a", "status": "done", "exit_code": 0, "problems": [], ${cell} }`;
    const text = `{ "format": "pavm-batch/1", "tool": ${JSON.stringify(TOOL)}, "cases": [${row}] }`;
    expect(() => parseSummary(Buffer.from(text), 'x.json')).toThrow(/^x\.json: .*cases\[0\]/);
  });
});

describe('gathering', () => {
  const share = (index: number, of: number, ...names: string[]) => ({
    name: `summary-${index}-of-${of}.json`,
    summary: summaryOf(
      names.map((name) => done(name)),
      TOOL,
      { index, of },
    ),
  });
  it('merges shares as one run would have written them', () => {
    const gathered = gatherSummaries([share(2, 2, 'b', 'd'), share(1, 2, 'a', 'c')]);
    expect(gathered).toEqual(
      summaryOf(
        ['a', 'b', 'c', 'd'].map((name) => done(name)),
        TOOL,
      ),
    );
  });
  const refused: [string, { name: string; summary: Summary }[], number, RegExp][] = [
    ['nothing', [], 2, /no summary/],
    [
      'a missing share',
      [share(1, 3, 'a'), share(3, 3, 'c')],
      2,
      /of 3 shares these are missing: 2\. Run them with --shard I\/3/,
    ],
    ['a duplicate share', [share(1, 2, 'a'), share(1, 2, 'b')], 2, /is in .* too/],
    ['shares of two runs', [share(1, 2, 'a'), share(2, 3, 'b')], 2, /one run at a time/],
    ['a duplicate case id', [share(1, 2, 'a'), share(2, 2, 'a')], 2, /the case a is in/],
    [
      'shares of different versions',
      [
        share(1, 2, 'a'),
        {
          ...share(2, 2, 'b'),
          summary: { ...share(2, 2, 'b').summary, tool: { ...TOOL, version: '2.0.0' } },
        },
      ],
      3,
      /made by version 2\.0\.0/,
    ],
  ];
  it.each(refused)('refuses %s', (_, files, exitCode, message) => {
    expect(() => gatherSummaries(files)).toThrow(
      expect.objectContaining({ exitCode, message: expect.stringMatching(message) }),
    );
  });
});

describe('time left', () => {
  it.each([
    [1000, 0, 10, undefined],
    [1000, 10, 10, undefined],
    [10_000, 5, 10, 'about 10 s left'],
    [600_000, 5, 10, 'about 10 min left'],
    [7_200_000, 5, 10, 'about 2.0 h left'],
  ])('%d ms for %d of %d', (ms, some, all, text) => {
    expect(timeLeftText(ms, some, all)).toBe(text);
  });
});
