/** All or nothing: runs that are killed while they write, and runs that write one folder at the same time. */
import { execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as wait } from 'node:timers/promises';
import { afterAll, describe, expect, it } from 'vitest';
import { settle } from '../../src/cli/output/unfinished.js';
import { mulberry32 } from '../../src/foundation/mulberry32.js';

const work = mkdtempSync(join(tmpdir(), 'pavm-whole-'));
afterAll(() => rmSync(work, { recursive: true, force: true }));
const WRITER = resolve('tests/cli/folder-writer.mjs');

type Writer = ReturnType<typeof writer>;

/** A separate process that writes folders on request. */
function writer(letter: string) {
  const child = spawn(process.execPath, [WRITER, letter], { stdio: ['pipe', 'pipe', 'inherit'] });
  return { child, lines: createInterface({ input: child.stdout })[Symbol.asyncIterator]() };
}

function order({ child }: Writer, dir: string, times: number, begin = 0): void {
  child.stdin.write(`${times} ${begin} ${dir}\n`);
}

/** Waits until a writer says so; fails if the process ends first. */
async function says({ lines }: Writer, what: 'begun' | 'done'): Promise<void> {
  for (;;) {
    const { value, done } = await lines.next();
    if (done) throw new Error(`the writer ended before it said ${what}`);
    if (value === what) return;
  }
}

/** The letter of the writer whose files are in a folder, if all of them and no others are; otherwise what is wrong. */
function holder(dir: string): string {
  const names = readdirSync(dir).filter((name) => /^only-|txt$/.test(name) && name !== 'notes.txt');
  const letters = names.filter((name) => name.startsWith('only-')).map((name) => name[5]);
  if (letters.length !== 1) return `files of ${letters.length} writers`;
  const [letter] = letters;
  for (let n = 0; n < 12; n++) {
    const path = join(dir, n < 4 ? `${n}.txt` : `figures/${n}.txt`);
    if (!existsSync(path)) return `${n}.txt is missing`;
    if (readFileSync(path, 'utf8') !== letter.repeat(20_000)) return `${n}.txt is not that of ${letter}`;
  }
  return letter;
}

function folderWithNotes(name: string, options: { withPipe?: boolean } = {}): string {
  const dir = join(work, name, 'plan');
  mkdirSync(join(work, name));
  execFileSync(process.execPath, [WRITER, 'a'], { input: `1 0 ${dir}\n` });
  writeFileSync(join(dir, 'notes.txt'), 'mine');
  // a pipe cannot be carried over by a link, so such a folder is filled in place
  if (options.withPipe) execFileSync('mkfifo', [join(dir, 'pipe')]);
  return dir;
}

const leftovers = (dir: string): string[] =>
  [join(dir, '..'), dir].flatMap((place) => readdirSync(place).filter((name) => name.startsWith('.pavm-')));

describe('20 kills at random moments between and during writes', () => {
  it.each([
    ['a folder that is replaced as a whole', false, 11],
    ['a folder that is filled in place', true, 12],
  ])('%s', { timeout: 120_000 }, async (_, withPipe, seed) => {
    const dir = folderWithNotes(`kill-${seed}`, { withPipe });
    const random = mulberry32(seed);
    let midway = 0;
    for (let n = 0; n < 20; n++) {
      const started = writer(n % 2 === 0 ? 'b' : 'a');
      order(started, dir, 100_000);
      await says(started, 'begun');
      await wait(100 * random());
      started.child.kill('SIGKILL');
      await once(started.child, 'exit');
      midway += leftovers(dir).length > 0 ? 1 : 0;
      // a folder replaced by renames is complete at once; the next reader or writer finishes one filled in place
      if (!withPipe && existsSync(dir)) expect(holder(dir)).toMatch(/^[ab]$/);
      await settle(dir);
      expect([holder(dir), leftovers(dir)]).toEqual([expect.stringMatching(/^[ab]$/), []]);
      expect(readFileSync(join(dir, 'notes.txt'), 'utf8')).toBe('mine');
      expect(existsSync(join(dir, 'pipe'))).toBe(withPipe);
    }
    expect(midway, 'kills that fell into a write').toBeGreaterThan(3);
  });
});

describe('two runs at the same time', () => {
  it('50 pairs: the folder is that of one run, with nothing left over', {
    timeout: 180_000,
  }, async () => {
    const dir = folderWithNotes('pairs');
    const inPlace = folderWithNotes('pairs-in-place', { withPipe: true });
    const pair = ['b', 'c'].map(writer);
    for (let n = 0; n < 50; n++) {
      const target = n % 5 === 0 ? inPlace : dir;
      const begin = Date.now() + 20;
      for (const one of pair) order(one, target, 2, begin);
      await Promise.all(pair.map((one) => says(one, 'done')));
      expect([holder(target), leftovers(target)]).toEqual([expect.stringMatching(/^[bc]$/), []]);
      expect(readFileSync(join(target, 'notes.txt'), 'utf8')).toBe('mine');
    }
    for (const { child } of pair) {
      child.stdin.end();
      expect((await once(child, 'exit'))[0]).toBe(0);
    }
  });
});
