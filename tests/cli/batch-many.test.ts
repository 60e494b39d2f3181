import { mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs';
import { availableParallelism, tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import {
  breakCase,
  breakMesh,
  leftovers,
  pavm,
  planFolders,
  summaryIn,
  treeOf,
  writeCases,
} from '../batch/make-batch.js';
import { IS_LONG } from '../long-tests.js';

/** A hundred cases with PAVM_LONG=1; the times are then checked too, so the machine must be otherwise idle. */
const COUNT = IS_LONG ? 100 : 12;

vi.setConfig({ testTimeout: 1_200_000, hookTimeout: 1_200_000 });

const base = mkdtempSync(join(tmpdir(), 'pavm-many-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));

/** Runs the program and measures its wall-clock time, s. */
async function timed(
  args: readonly string[],
): Promise<Awaited<ReturnType<typeof pavm>> & { seconds: number }> {
  const before = performance.now();
  const ended = await pavm(args);
  return { ...ended, seconds: (performance.now() - before) / 1000 };
}

describe(`${COUNT} cases, one with a broken mesh and one with a broken case file`, () => {
  const out = join(base, 'plans');
  const one = join(base, 'one-job');
  let cases: string[] = [];
  let first: Awaited<ReturnType<typeof timed>>;
  let broken: string[] = [];

  beforeAll(async () => {
    cases = writeCases(base, COUNT);
    breakMesh(cases[3]);
    breakCase(cases[8]);
    broken = [3, 8].map((i) => cases[i].slice(base.length + 1));
    first = await timed(['batch', ...cases, '--out', out, '--jobs', '2']);
  });

  it('completes the others and exits with the highest code', () => {
    expect(first.code).toBe(3);
    const names = cases.map((path) => path.slice(base.length + 1)).filter((name) => !broken.includes(name));
    expect(planFolders(out)).toEqual(names);
    for (const name of names)
      for (const file of ['plan.md', 'checklist.md', 'counselling.md', 'result.json', 'print/model.3mf'])
        expect(statSync(join(out, name, file)).size).toBeGreaterThan(100);
    const summary = summaryIn(out);
    expect([summary.done, summary.failed, summary.left, summary.exit_code]).toEqual([COUNT - 2, 2, 0, 3]);
    expect(
      summary.cases.filter(({ status }) => status === 'failed').map((row) => [row.case, row.exit_code]),
    ).toEqual([
      [broken[0], 3],
      [broken[1], 2],
    ]);
    expect(first.err).toContain('sac.stl');
    expect(first.err).toContain(`${broken[1]}/case.yaml:2:`);
    expect(readFileSync(join(out, 'summary.csv'), 'utf8').trim().split('\r\n')).toHaveLength(COUNT + 1);
    expect(readFileSync(join(out, 'summary.md'), 'utf8')).toContain('## Failed or left');
    expect(first.out.trim().split('\n')).toHaveLength(COUNT);
    expect(first.err).toMatch(new RegExp(`\n${COUNT - 1}/${COUNT - 1} c\\d+: `));
    expect(leftovers(out)).toEqual([]);
  });

  it('writes the same plan as for a single case, byte for byte', async () => {
    const single = join(base, 'single');
    await pavm(['plan', cases[0], '--out', single]);
    expect(treeOf(join(out, planFolders(out)[0]))).toEqual(treeOf(single));
  });

  it('a second run recomputes nothing, writes the same files and takes less than a twentieth of the time', async () => {
    const before = treeOf(out);
    const again = await timed(['batch', ...cases, '--out', out, '--jobs', '2']);
    expect(again.err).toContain(`0 computed, ${COUNT - 2} unchanged, 2 failed, 0 left`);
    expect(again.code).toBe(3);
    expect(treeOf(out)).toEqual(before);
    const share = again.seconds / first.seconds;
    if (IS_LONG)
      console.log(`again: ${again.seconds.toFixed(2)} s, ${(100 * share).toFixed(1)} % of the first run`);
    if (IS_LONG) expect(share).toBeLessThan(0.05);
  });

  it.runIf(IS_LONG && availableParallelism() >= 2)(
    'two jobs are at least 1.7 times as fast as one',
    async () => {
      const single = await timed(['batch', ...cases, '--out', one, '--jobs', '1']);
      expect(treeOf(one)).toEqual(treeOf(out));
      const gain = single.seconds / first.seconds;
      console.log(
        `1 job ${single.seconds.toFixed(1)} s, 2 jobs ${first.seconds.toFixed(1)} s: ${gain.toFixed(2)} x`,
      );
      expect(gain).toBeGreaterThan(1.7);
    },
  );
});
