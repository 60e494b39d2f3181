import { spawnSync } from 'node:child_process';
import {
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { run as compare } from '../../src/cli/commands/compare.js';
import { OLD, settle, unfinishedName } from '../../src/cli/output/unfinished.js';
import { writeFolder } from '../../src/cli/output/write-folder.js';
import { writeWhole } from '../../src/cli/output/write-whole.js';
import { resultJson } from '../../src/report/result-json.js';
import { resultOf } from '../grade/make.js';
import { capture } from './capture.js';

let base = '';
let target = '';
beforeEach(() => {
  base = mkdtempSync(join(tmpdir(), 'pavm-unfinished-'));
  target = join(base, 'plan');
});
afterEach(() => {
  vi.useRealTimers();
  rmSync(base, { recursive: true, force: true });
});

/** The id of a process that has ended. */
const deadPid = (): number => spawnSync(process.execPath, ['-e', '']).pid;
const nameOf = (pid: number, path = target): string =>
  unfinishedName(path).replace(`-${process.pid}-`, `-${pid}-`);
const elsewhere = (): string => nameOf(7).replace(/-[0-9a-f]{6}-7-/, '-000000-7-');
const folder = (path: string, text: string): void => {
  mkdirSync(path);
  writeFileSync(join(path, 'result.json'), text);
};
const there = (): string[] => readdirSync(base).sort();
const text = (): string => readFileSync(join(target, 'result.json'), 'utf8');

describe('after a run was killed', () => {
  it('between its two renames, the new folder is put in place', async () => {
    const fresh = nameOf(deadPid());
    folder(fresh, 'new');
    folder(fresh + OLD, 'old');
    await settle(target);
    expect([there(), text()]).toEqual([['plan'], 'new']);
  });

  it('with the new folder lost as well, the old one comes back', async () => {
    folder(nameOf(deadPid()) + OLD, 'old');
    await settle(target);
    expect([there(), text()]).toEqual([['plan'], 'old']);
  });

  it('while it wrote, the old folder stays and the half-written one is removed', async () => {
    folder(target, 'old');
    folder(nameOf(deadPid()), 'ha');
    await settle(target);
    expect([there(), text()]).toEqual([['plan'], 'old']);
  });

  it('while it removed the old folder, the new one stays', async () => {
    folder(target, 'new');
    mkdirSync(nameOf(deadPid()) + OLD);
    await settle(target);
    expect([there(), text()]).toEqual([['plan'], 'new']);
  });

  it('while it wrote the first plan, nothing is left', async () => {
    folder(nameOf(deadPid()), 'ha');
    await settle(target);
    expect(there()).toEqual([]);
  });

  it('what a running process or another machine writes is left alone until it is long abandoned', async () => {
    const [mine, theirs] = [nameOf(process.pid), elsewhere()];
    for (const path of [mine, theirs]) folder(path, 'half');
    folder(nameOf(deadPid(), `${target}-b`), "another plan's");
    const before = there();
    await settle(target);
    expect(there()).toEqual(before);
    vi.useFakeTimers({ toFake: ['Date'], now: Date.now() + 700_000 });
    await settle(target);
    expect(there()).toEqual(before.filter((name) => name.startsWith('.pavm-plan-b-')));
  });

  it('the next writer cleans up first', async () => {
    const fresh = nameOf(deadPid());
    const write = (dir: string, bytes: string): Promise<void> =>
      writeFolder({ dir, kind: 'plan', inputs: [] }, [{ path: 'result.json', bytes }]);
    await write(fresh, 'new');
    await write(fresh + OLD, 'old');
    await write(target, 'newest');
    expect([there(), text()]).toEqual([['plan'], 'newest']);
    writeFileSync(nameOf(deadPid(), join(base, 'summary.json')), '{');
    await writeWhole({ path: join(base, 'summary.json'), flag: '--out', isOurs: () => true }, '{}');
    expect(there()).toEqual(['plan', 'summary.json']);
  });

  it('a reader finds the plan', async () => {
    await writeFolder({ dir: target, kind: 'plan', inputs: [] }, [
      { path: 'result.json', bytes: resultJson(resultOf(() => {})) },
    ]);
    for (const side of [target, join(target, 'result.json')]) {
      renameSync(target, nameOf(deadPid()) + OLD);
      const ended = await capture((terminal) => compare([side, target], {}, terminal));
      expect(ended.out).toContain(
        '**Verdict: plan stands, unchanged; caution: both plans use the same files',
      );
    }
    expect(there()).toEqual([basename(target)]);
  });
});
