import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { mulberry32 } from '../../src/foundation/mulberry32.js';
import { leftovers, pavm, planFolders, start, summaryIn, treeOf, writeCases } from '../batch/make-batch.js';
import { IS_LONG } from '../long-tests.js';

/** Twenty kills with PAVM_LONG=1. */
const KILLS = IS_LONG ? 20 : 1;

vi.setConfig({ testTimeout: 1_800_000, hookTimeout: 180_000 });

const base = mkdtempSync(join(tmpdir(), 'pavm-stopped-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));

const whole = join(base, 'whole');
let cases: string[] = [];
let undisturbed = new Map<string, string>();
/** Time that an uninterrupted run takes on this machine, ms. */
let duration = 0;

beforeAll(async () => {
  cases = writeCases(base, 5, 2);
  const before = performance.now();
  await pavm(['batch', ...cases, '--out', whole, '--jobs', '2']);
  duration = performance.now() - before;
  undisturbed = treeOf(whole);
});

/** Every plan folder present equals that of the uninterrupted run. */
function expectWhole(out: string): void {
  const found = treeOf(out);
  for (const name of planFolders(out)) {
    const mine = [...found].filter(([path]) => path.startsWith(`${name}/`));
    const theirs = [...undisturbed].filter(([path]) => path.startsWith(`${name}/`));
    expect(mine).toEqual(theirs);
  }
}

/** A stopped run reports what is done, and the same command does the rest. */
async function expectStopped(
  out: string,
  ended: Awaited<ReturnType<typeof pavm>>,
  signal: string,
): Promise<void> {
  expect(ended.err).toMatch(
    new RegExp(`Stopped by ${signal}\\. Left: .*c05\\. The same command continues from here`),
  );
  expect(ended.err).not.toContain('defect');
  expectWhole(out);
  expect(leftovers(out)).toEqual([]);
  const summary = summaryIn(out);
  expect([summary.done + summary.left, summary.failed]).toEqual([5, 0]);
  expect(summary.left).toBeGreaterThan(0);
  expect(planFolders(out)).toHaveLength(summary.done);
  const again = await pavm(['batch', ...cases, '--out', out]);
  expect(again.err).toContain(`${summary.left} computed, ${summary.done} unchanged`);
  expect(treeOf(out)).toEqual(undisturbed);
}

describe('a run stopped by a signal', () => {
  // Ctrl-C sends SIGINT to the whole process group: tested below
  it.each([...(IS_LONG ? [['SIGINT', 130] as const] : []), ['SIGTERM', 143] as const])(
    '%s leaves finished cases intact and says what is left',
    async (signal, code) => {
      const out = join(base, signal);
      const run = start(['batch', ...cases, '--out', out, '--jobs', '1']);
      await run.until('2/5');
      run.child.kill(signal);
      const ended = await run.ended;
      expect(ended.code).toBe(code);
      await expectStopped(out, ended, signal);
    },
  );

  it.runIf(IS_LONG)('Ctrl-C, which reaches the workers as well, does the same', async () => {
    const out = join(base, 'group');
    const run = start(['batch', ...cases, '--out', out, '--jobs', '2'], { detached: true });
    await run.until('1/5');
    process.kill(-(run.child.pid as number), 'SIGINT');
    const ended = await run.ended;
    expect(ended.code).toBe(130);
    await expectStopped(out, ended, 'SIGINT');
  });
});

/** Child processes of a process (Linux only; none elsewhere). */
function workersOf(pid: number): number[] {
  try {
    const text = readFileSync(`/proc/${pid}/task/${pid}/children`, 'utf8');
    return text.split(' ').filter(Boolean).map(Number);
  } catch {
    return [];
  }
}

/** Resolves once none of them is running; fails after a minute. */
async function gone(pids: readonly number[]): Promise<void> {
  for (let i = 0; i < 600; i++) {
    if (!pids.some((pid) => existsSync(`/proc/${pid}`))) return;
    await wait(100);
  }
  expect.fail(`still running: ${pids.join(', ')}`);
}

describe(`SIGKILL at ${KILLS} moments (seed 20)`, () => {
  it('leaves no half-written plan, and the next run ends like an uninterrupted one', async () => {
    const out = join(base, 'killed');
    mkdirSync(out);
    const next = mulberry32(20);
    const workers: number[] = [];
    for (let i = 0; i < KILLS; i++) {
      // recomputed each time, so that there is always an old plan to replace
      const run = start(['batch', ...cases, '--out', out, '--jobs', '2', '--force']);
      await Promise.race([wait(duration * next()), run.ended]);
      workers.push(...workersOf(run.child.pid as number));
      run.child.kill('SIGKILL');
      await run.ended;
      expectWhole(out);
    }
    const last = await pavm(['batch', ...cases, '--out', out]);
    expect(last.code).toBe(0);
    expect(treeOf(out)).toEqual(undisturbed);
    expect(leftovers(out)).toEqual([]);
    await gone(workers);
  });
});

describe.runIf(existsSync('/proc/self/task'))('a worker killed by the system', () => {
  it('loses its own case and no other', async () => {
    const out = join(base, 'worker');
    const run = start(['batch', ...cases, '--out', out, '--jobs', '1']);
    await run.until('1/5');
    // its answer may already be on the way: the next one is killed while it works
    await wait(duration / 20);
    for (const pid of workersOf(run.child.pid as number)) process.kill(pid, 'SIGKILL');
    const ended = await run.ended;
    expect(ended.code).toBe(3);
    expect(ended.err).toMatch(/c\d\d: the case needs more memory than is available \(SIGKILL\)/);
    expectWhole(out);
    expect(summaryIn(out)).toMatchObject({ done: 4, failed: 1, left: 0 });
    await pavm(['batch', ...cases, '--out', out]);
    expect(treeOf(out)).toEqual(undisturbed);
  });
});

describe('--watch', () => {
  it('recomputes what changes until it is stopped', async () => {
    const out = join(base, 'watched');
    const run = start(['batch', ...cases.slice(0, 2), '--out', out, '--watch']);
    await run.until('Watching for changes');
    const before = treeOf(join(out, 'c02'));
    const file = join(cases[1], 'case.yaml');
    writeFileSync(file, readFileSync(file, 'utf8').replace('age: 44 y', 'age: 45 y'));
    await run.until('1 computed, 1 unchanged');
    run.child.kill('SIGINT');
    expect((await run.ended).code).toBe(0);
    expect(treeOf(join(out, 'c02'))).not.toEqual(before);
  });
});
