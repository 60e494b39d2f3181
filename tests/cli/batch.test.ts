import {
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { breakCase, breakMesh, pavm, planFolders, start, treeOf, writeCases } from '../batch/make-batch.js';
import { lesionOf, writeCase } from '../compare/make-case.js';

vi.setConfig({ testTimeout: 180_000, hookTimeout: 180_000 });

const base = mkdtempSync(join(tmpdir(), 'pavm-batch-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));

interface SummaryFile {
  done: number;
  failed: number;
  left: number;
  exit_code: number;
  cases: { case: string; status: string; exit_code: number; problems: string[] }[];
}
const summaryIn = (folder: string, name = 'summary'): SummaryFile =>
  JSON.parse(readFileSync(join(folder, `${name}.json`), 'utf8'));

describe('twelve cases, two of them broken', () => {
  const folder = join(base, 'twelve');
  const out = join(folder, 'plans');
  let cases: string[] = [];
  let first: Awaited<ReturnType<typeof pavm>>;

  beforeAll(async () => {
    cases = writeCases(folder, 12);
    breakMesh(cases[3]);
    breakCase(cases[8]);
    first = await pavm(['batch', ...cases, '--out', out, '--jobs', '2']);
  });

  it('the other ten are whole, and the highest code ends the run', () => {
    expect(first.code).toBe(3);
    expect(planFolders(out)).toEqual(['c01', 'c02', 'c03', 'c05', 'c06', 'c07', 'c08', 'c10', 'c11', 'c12']);
    for (const name of planFolders(out))
      for (const file of ['plan.md', 'checklist.md', 'counselling.md', 'result.json'])
        expect(statSync(join(out, name, file)).size).toBeGreaterThan(100);
    const summary = summaryIn(out);
    expect([summary.done, summary.failed, summary.left, summary.exit_code]).toEqual([10, 2, 0, 3]);
    expect(
      summary.cases.filter(({ status }) => status === 'failed').map((row) => [row.case, row.exit_code]),
    ).toEqual([
      ['c04', 3],
      ['c09', 2],
    ]);
    expect(first.err).toContain('sac.stl');
    expect(first.err).toMatch(/c09\/case\.yaml:2:/);
    expect(readFileSync(join(out, 'summary.csv'), 'utf8').trim().split('\r\n')).toHaveLength(13);
    expect(readFileSync(join(out, 'summary.md'), 'utf8')).toContain('## Failed or left');
    expect(first.out.trim().split('\n')).toHaveLength(12);
    expect(first.err).toMatch(/\n11\/11 c\d\d: /);
  });

  it('a plan of a batch is the plan of one case, byte for byte', async () => {
    const single = join(folder, 'single');
    await pavm(['plan', cases[0], '--out', single]);
    expect(treeOf(join(out, 'c01'))).toEqual(treeOf(single));
  });

  it('a second run computes none and writes the same', async () => {
    const before = treeOf(out);
    const again = await pavm(['batch', ...cases, '--out', out]);
    expect(again.err).toContain('0 computed, 10 unchanged, 2 failed, 0 left');
    expect(again.code).toBe(3);
    expect(treeOf(out)).toEqual(before);
  });
});

describe('what makes a plan be computed again', () => {
  const folder = join(base, 'again');
  const out = join(folder, 'plans');
  let cases: string[] = [];

  beforeAll(async () => {
    cases = writeCases(folder, 3);
    await pavm(['batch', ...cases, '--out', out]);
  });

  it.each([
    [
      'a changed input',
      () =>
        writeFileSync(
          join(cases[0], 'case.yaml'),
          `${readFileSync(join(cases[0], 'case.yaml'), 'utf8')}# seen\n`,
        ),
      [],
      '1 computed, 2 unchanged',
    ],
    ['a lost document', () => rmSync(join(out, 'c02', 'plan.md')), [], '1 computed, 2 unchanged'],
    [
      'a damaged result',
      () => writeFileSync(join(out, 'c03', 'result.json'), '{}'),
      [],
      '1 computed, 2 unchanged',
    ],
    ['another date', () => {}, ['--today', '2026-05-05'], '3 computed, 0 unchanged'],
  ])('%s is seen', async (_, change, options, text) => {
    change();
    const run = await pavm(['batch', ...cases, '--out', out, ...options]);
    expect(run.err).toContain(text);
  });

  it('shares on several machines gather to the summary of one run', async () => {
    const shares = join(folder, 'shares');
    for (const index of [3, 1, 2]) {
      const run = await pavm(['batch', ...cases, '--out', shares, '--shard', `${index}/3`, '--quiet']);
      expect([run.code, run.err]).toEqual([0, '']);
    }
    expect(
      readdirSync(shares)
        .filter((name) => name.endsWith('.json'))
        .sort(),
    ).toEqual(['summary-1-of-3.json', 'summary-2-of-3.json', 'summary-3-of-3.json']);
    const gathered = await pavm(['gather', shares]);
    expect(gathered.code).toBe(0);
    await pavm(['batch', ...cases, '--out', out]);
    for (const name of ['summary.json', 'summary.csv', 'summary.md'])
      expect(readFileSync(join(shares, name), 'utf8')).toBe(readFileSync(join(out, name), 'utf8'));
  });
});

describe('where plans go', () => {
  it('beside each case without --out, the summary into the working folder', async () => {
    const folder = join(base, 'beside');
    writeCases(folder, 2);
    const run = await pavm(['batch', 'c01', 'c02', '--json'], { cwd: folder });
    expect(run.code).toBe(0);
    expect(JSON.parse(run.out)).toMatchObject({
      done: 2,
      cases: [{ plan: 'c01/plan' }, { plan: 'c02/plan' }],
    });
    expect(readFileSync(join(folder, 'summary.md'), 'utf8')).toContain('[c01](<c01/plan/plan.md>)');
    expect(readdirSync(join(folder, 'c01'))).toContain('plan');
    expect(run.out + readFileSync(join(folder, 'summary.json'), 'utf8')).not.toContain(base);
  });

  it('two cases with one id fail, the others are planned', async () => {
    const folder = join(base, 'twins');
    writeCases(folder, 2);
    writeCase(join(folder, 'twin'), lesionOf({}), { id: 'c01' });
    const out = join(folder, 'out');
    const run = await pavm([
      'batch',
      join(folder, 'c01'),
      join(folder, 'twin'),
      join(folder, 'c02'),
      '--out',
      out,
    ]);
    expect(run.code).toBe(2);
    expect(run.err).toContain('"c01" is the id of several cases');
    expect(planFolders(out)).toEqual(['c02']);
    const same = await pavm(['batch', join(folder, 'c02'), join(folder, 'c02', 'case.yaml'), '--out', out]);
    expect([same.code, summaryIn(out).done]).toEqual([0, 1]);
  });

  it('a folder that is somebody else’s is left alone', async () => {
    const folder = join(base, 'foreign');
    const [one] = writeCases(folder, 1);
    const theirs = join(folder, 'out', 'c01');
    mkdirSync(theirs, { recursive: true });
    writeFileSync(join(theirs, 'thesis.txt'), 'mine');
    const run = await pavm(['batch', one, '--out', join(folder, 'out')]);
    expect(run.code).toBe(2);
    expect(run.err).toContain('the folder holds other files');
    expect(readdirSync(theirs)).toEqual(['thesis.txt']);
  });

  it.each([
    [['batch'], /missing required argument|name at least one case/],
    [['batch', 'x', '--jobs', '0'], /--jobs 0: a whole number/],
    [['batch', 'x', '--shard', '3/2'], /--shard "3\/2" is no share/],
    [['batch', 'x', '--today', 'soon'], /--today "soon" is no date/],
    [['batch', 'nowhere'], /nowhere: there is no such file/],
  ])('%o ends with 2', async (args, message) => {
    const run = await pavm(args, { cwd: base });
    expect(run.code).toBe(2);
    expect(run.err).toMatch(message);
  });
});

describe('stopped runs', () => {
  const folder = join(base, 'stopped');
  const whole = join(folder, 'whole');
  let cases: string[] = [];
  let undisturbed = new Map<string, string>();

  beforeAll(async () => {
    cases = writeCases(folder, 5);
    await pavm(['batch', ...cases, '--out', whole, '--jobs', '2']);
    undisturbed = treeOf(whole);
  });

  /** Every plan folder that is there equals that of the undisturbed run. */
  function expectWhole(out: string): void {
    const found = treeOf(out);
    for (const name of planFolders(out)) {
      const mine = [...found].filter(([path]) => path.startsWith(`${name}/`));
      const theirs = [...undisturbed].filter(([path]) => path.startsWith(`${name}/`));
      expect(mine).toEqual(theirs);
    }
  }

  it.each([
    ['SIGINT', 130],
    ['SIGTERM', 143],
  ] as const)('%s leaves finished cases whole and says what is left', async (signal, code) => {
    const out = join(folder, signal);
    const run = start(['batch', ...cases, '--out', out, '--jobs', '1']);
    await run.until('2/5');
    run.child.kill(signal);
    const ended = await run.ended;
    expect(ended.code).toBe(code);
    expect(ended.err).toMatch(
      new RegExp(`Stopped by ${signal}\\. Left: .*c05\\. The same command goes on from here`),
    );
    expectWhole(out);
    const summary = summaryIn(out);
    expect(summary.done + summary.left).toBe(5);
    expect(summary.left).toBeGreaterThan(0);
    expect(planFolders(out)).toHaveLength(summary.done);
    const again = await pavm(['batch', ...cases, '--out', out]);
    expect(again.err).toContain(`${summary.left} computed, ${summary.done} unchanged`);
    expect(treeOf(out)).toEqual(undisturbed);
  });

  it('SIGKILL at any moment leaves no half-written plan, and the next run ends like an undisturbed one', async () => {
    const out = join(folder, 'killed');
    mkdirSync(out);
    /** Moments: while a folder is being written, after the first case, and after ever longer times. */
    const moments: ((run: ReturnType<typeof start>) => Promise<unknown>)[] = [
      () => writing(out),
      (run) => run.until('1/5'),
      () => wait(700),
      () => writing(out),
    ];
    for (const moment of moments) {
      const run = start(['batch', ...cases, '--out', out, '--jobs', '2', '--force']);
      await Promise.race([moment(run), run.ended]);
      run.child.kill('SIGKILL');
      await run.ended;
      expectWhole(out);
    }
    const last = await pavm(['batch', ...cases, '--out', out]);
    expect(last.code).toBe(0);
    expect(treeOf(out)).toEqual(undisturbed);
    // what the killed runs left is cleared away once it is old enough to belong to nobody
    const leftovers = (): string[] => readdirSync(out).filter((name) => name.startsWith('.pavm-'));
    for (const name of leftovers()) utimesSync(join(out, name), 0, 0);
    await pavm(['batch', ...cases, '--out', out, '--force']);
    expect(leftovers()).toEqual([]);
  });

  /** Resolves as soon as a plan folder is being written. */
  async function writing(out: string): Promise<void> {
    const before = new Set(readdirSync(out));
    for (let i = 0; i < 20_000; i++) {
      if (readdirSync(out).some((name) => name.startsWith('.pavm-') && !before.has(name))) return;
      await wait(1);
    }
  }

  it('--watch computes again what changes, until it is stopped', async () => {
    const out = join(folder, 'watched');
    const run = start(['batch', ...cases.slice(0, 2), '--out', out, '--watch']);
    await run.until('Watching for changes');
    const file = join(cases[1], 'case.yaml');
    writeFileSync(file, readFileSync(file, 'utf8').replace('age: 44 y', 'age: 45 y'));
    await run.until('1 computed, 1 unchanged');
    run.child.kill('SIGINT');
    expect((await run.ended).code).toBe(0);
  });
});
