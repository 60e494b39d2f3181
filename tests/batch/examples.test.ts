import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { parse } from 'yaml';
import { lesionOf, writeCase } from '../compare/make-case.js';
import { BIN, pavm, writeCases } from './make-batch.js';

vi.setConfig({ testTimeout: 180_000, hookTimeout: 180_000 });

const base = mkdtempSync(join(tmpdir(), 'pavm-examples-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));
const example = (name: string): string => fileURLToPath(new URL(`../../examples/${name}`, import.meta.url));
const PAVM = `${process.execPath} ${BIN}`;
const bash = (args: string[], env: Record<string, string> = {}) => {
  const { status, stdout, stderr } = spawnSync('bash', args, {
    env: { ...process.env, PAVM, ...env },
    encoding: 'utf8',
  });
  return { code: status, out: stdout, err: stderr };
};

const folder = join(base, 'cases');
let cases: string[] = [];
let whole = '';
beforeAll(async () => {
  cases = writeCases(folder, 3, 2);
  const out = join(base, 'whole');
  await pavm(['batch', ...cases, '--out', out]);
  whole = readFileSync(join(out, 'summary.csv'), 'utf8');
});
const summaryOf = (out: string): string => readFileSync(join(out, 'summary.csv'), 'utf8');

const hasParallel = spawnSync('parallel', ['--version']).status === 0;

describe('shares on several machines', () => {
  // shown in the list of tests, not skipped silently
  it.skipIf(!hasParallel)(
    `parallel.sh gives the summary of a single run${hasParallel ? '' : ' (SKIPPED: GNU parallel is not installed)'}`,
    () => {
      const out = join(base, 'by-parallel');
      const run = bash([example('parallel.sh'), out, '2', ...cases]);
      expect([run.code, run.err]).toEqual([0, expect.stringContaining('2 summaries gathered: 3 done')]);
      expect(summaryOf(out)).toBe(whole);
    },
  );

  it('slurm-array.sbatch splits the list by array index', () => {
    const out = join(base, 'by-slurm');
    for (const id of ['1', '2']) {
      const env = { CASES: folder, OUT: out, SLURM_ARRAY_TASK_ID: id, SLURM_ARRAY_TASK_COUNT: '2' };
      expect(bash([example('slurm-array.sbatch')], env).code).toBe(0);
    }
    expect(bash(['-c', `${PAVM} gather ${out}`]).code).toBe(0);
    expect(summaryOf(out)).toBe(whole);
    const text = readFileSync(example('slurm-array.sbatch'), 'utf8');
    // sbatch(1): directives count only before the first command; options and value forms as its manual lists them (from memory)
    const lines = text.split('\n');
    const firstCommand = lines.findIndex((line) => line !== '' && !line.startsWith('#'));
    const directives = lines.slice(0, firstCommand).filter((line) => line.startsWith('#SBATCH'));
    expect(directives).toHaveLength(lines.filter((line) => line.startsWith('#SBATCH')).length);
    const known: Record<string, RegExp> = {
      'job-name': /^\w+$/,
      array: /^1-\d+$/,
      'cpus-per-task': /^\d+$/,
      mem: /^\d+[KMGT]$/,
      time: /^\d\d:\d\d:\d\d$/,
      output: /^[\w-]*%A[\w-]*%a\.log$/,
    };
    for (const line of directives) {
      const [, option, value] = /^#SBATCH --([a-z-]+)=(\S+)$/.exec(line) ?? expect.fail(line);
      expect(value, line).toMatch(known[option] ?? expect.fail(`unknown option: ${line}`));
    }
  });

  it('kubernetes-job.yaml splits the list by pod index', () => {
    const job = parse(readFileSync(example('kubernetes-job.yaml'), 'utf8'));
    expect([job.apiVersion, job.kind, job.spec.completionMode]).toEqual(['batch/v1', 'Job', 'Indexed']);
    const [container] = job.spec.template.spec.containers;
    const env = Object.fromEntries(
      container.env.map((one: { name: string; value: string }) => [one.name, one.value]),
    );
    // one pod per share
    expect(Number(env.SHARES)).toBe(job.spec.completions);
    expect(container.volumeMounts[0].name).toBe(job.spec.template.spec.volumes[0].name);
    const out = join(base, 'by-kubernetes');
    for (const index of ['0', '1']) {
      const script = `pavm() { ${PAVM} "$@"; }\n${container.args[0]}`;
      const run = bash(['-c', script], { CASES: folder, OUT: out, SHARES: '2', JOB_COMPLETION_INDEX: index });
      expect(run.code).toBe(0);
    }
    expect(bash(['-c', `${PAVM} gather ${out}`]).code).toBe(0);
    expect(summaryOf(out)).toBe(whole);
  });
});

describe('after-new-scan.sh', () => {
  const scan = example('after-new-scan.sh');
  it('keeps the old plan, makes the new one and reports the change', async () => {
    const one = writeCase(join(base, 'followed'), lesionOf(), { date: '2025-03-01' });
    expect(bash([scan, one])).toMatchObject({ code: 2, err: expect.stringContaining('no standing plan') });
    await pavm(['plan', one]);
    writeCase(one, lesionOf({ A1: 6.8, sac: 1.2 }), { date: '2026-03-01' });
    const run = bash([scan, one]);
    expect(run.code).toBe(0);
    expect(run.err).toContain('plan stands');
    expect(readdirSync(one).sort()).toEqual(['case.yaml', 'change.md', 'meshes', 'plan', 'plan-before']);
    const dates = ['plan-before', 'plan'].map(
      (name) => JSON.parse(readFileSync(join(one, name, 'result.json'), 'utf8')).scan_date,
    );
    expect(dates).toEqual(['2025-03-01', '2026-03-01']);
    expect(readFileSync(join(one, 'change.md'), 'utf8')).toContain('grew');
    expect(bash([scan, one])).toMatchObject({
      code: 2,
      err: expect.stringContaining('this is there already'),
    });
    // a lesion treated in between
    writeCase(one, lesionOf({ A2: 0, sac: 0.8 }), { date: '2026-09-01', after: 300 });
    rmSync(join(one, 'meshes', 'A2.stl'));
    const treated = bash([scan, one, 'plan-2026'], { COMPARE_OPTIONS: '--treated' });
    expect(treated.code).toBe(1);
    expect(treated.err).toContain('A2 is no longer seen');
  });

  it('leaves the existing plan where the new scan is unusable', async () => {
    const one = writeCase(join(base, 'unusable'), lesionOf());
    await pavm(['plan', one]);
    rmSync(join(one, 'meshes', 'sac.stl'));
    expect(bash([scan, one]).code).toBe(3);
    expect(readdirSync(one).sort()).toEqual(['case.yaml', 'meshes', 'plan']);
  });
});

describe('every example', () => {
  it.each(['parallel.sh', 'slurm-array.sbatch', 'after-new-scan.sh'])(
    '%s is well-formed and runs in bash',
    (name) => {
      const text = readFileSync(example(name), 'utf8');
      expect(text).toMatch(/^#!\/usr\/bin\/env bash\n# /);
      execFileSync('bash', ['-n', example(name)]);
    },
  );
  it('teaching-cases.yml grades the cases with the built program', () => {
    const flow = parse(readFileSync(example('teaching-cases.yml'), 'utf8'));
    const runs = flow.jobs.grade.steps.flatMap((step: { run?: string }) => step.run ?? []);
    expect(runs).toEqual([
      'npm ci',
      expect.stringMatching(/^node bin\/pavm grade cases\/\* --junit \S+\.xml$/),
    ]);
    expect(flow.permissions).toEqual({ contents: 'read' });
  });
});
