import { readdirSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeEach, describe, expect, it } from 'vitest';
import { failedRow, leftRow, rowOf } from '../../src/batch/row.js';
import { summaryJson, summaryOf } from '../../src/batch/summary.js';
import { type GatherOptions, run } from '../../src/cli/commands/gather.js';
import { resultOf } from '../grade/make.js';
import { capture } from './capture.js';

const base = mkdtempSync(join(tmpdir(), 'pavm-gather-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));
const gather = (args: string[], options: GatherOptions = {}) =>
  capture((terminal) => run(args, options, terminal));

const TOOL = { name: 'pavm-planner', version: '1.0.0', rule_set: 'abc' };
const share = (
  index: number,
  rows = [
    rowOf(
      resultOf((r) => Object.assign(r, { case: `c${index}` })),
      `c${index}`,
    ),
  ],
) => summaryJson(summaryOf(rows, TOOL, { index, of: 2 }));

let count = 0;
let [one, two] = ['', ''];
beforeEach(() => {
  [one, two] = ['one', 'two'].map((name) => join(base, `t${count}`, name));
  count++;
  for (const folder of [one, two]) mkdirSync(folder, { recursive: true });
  writeFileSync(join(one, 'summary-1-of-2.json'), share(1));
  writeFileSync(join(two, 'summary-2-of-2.json'), share(2));
});

describe('pavm gather', () => {
  it('merges the shares of several folders into the first, or into --out', async () => {
    const { code, out, err } = await gather([one, two]);
    expect(code).toBe(0);
    expect(out.split('\n').map((line) => line.split(/ +/)[1])).toEqual(['c1', 'c2', undefined]);
    expect(err).toContain('2 summaries gathered: 2 done, 0 failed, 0 left');
    expect(JSON.parse(readFileSync(join(one, 'summary.json'), 'utf8'))).toMatchObject({
      done: 2,
      exit_code: 0,
    });
    const all = join(base, 'all');
    await gather([two, one, two], { out: all });
    expect(readFileSync(join(all, 'summary.csv'), 'utf8')).toBe(
      readFileSync(join(one, 'summary.csv'), 'utf8'),
    );
    // does not gather its own summary a second time
    expect((await gather([one, two])).code).toBe(0);
  });

  it('exits with the highest code of the cases', async () => {
    writeFileSync(join(two, 'summary-2-of-2.json'), share(2, [failedRow('c2', 3, ['bad']), leftRow('c3')]));
    const { code, out } = await gather([one, two], { json: true });
    expect(code).toBe(3);
    expect(JSON.parse(out)).toMatchObject({ done: 1, failed: 1, left: 1 });
  });

  it.each([
    ['no folder', () => [], 2, 'name the folder'],
    ['a folder that does not exist', () => [join(base, 'nowhere')], 2, 'there is no such file or folder'],
    ['a file', () => [join(one, readdirSync(one)[0])], 2, 'it is not a folder. Name the folder that holds'],
    ['a folder without a summary', () => [base], 2, 'it contains no summary'],
    ['a missing share', () => [one], 2, 'these are missing: 2'],
    [
      'a damaged share',
      () => {
        writeFileSync(join(two, 'summary-2-of-2.json'), '{');
        return [one, two];
      },
      3,
      'this is not JSON',
    ],
  ])('refuses %s', async (_, args, exitCode, message) => {
    await expect(gather(args())).rejects.toMatchObject({
      exitCode,
      message: expect.stringContaining(message),
    });
  });
});
