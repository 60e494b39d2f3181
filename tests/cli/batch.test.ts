import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { sha256Hex } from '../../src/cli/output/output-list.js';
import { pavm, planFolders, summaryIn, writeCases } from '../batch/make-batch.js';
import { lesionOf, writeCase } from '../compare/make-case.js';

vi.setConfig({ testTimeout: 180_000, hookTimeout: 180_000 });

const base = mkdtempSync(join(tmpdir(), 'pavm-batch-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));

/** Changes the last byte but one; the size stays the same. */
function swapLetter(path: string): void {
  const bytes = readFileSync(path);
  bytes[bytes.length - 2] ^= 1;
  writeFileSync(path, bytes);
}

describe('what triggers recomputing a plan', () => {
  const folder = join(base, 'again');
  const out = join(folder, 'plans');
  const rules = join(folder, 'rules');
  let cases: string[] = [];

  beforeAll(async () => {
    cases = writeCases(folder, 3, 2);
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
    ['a missing document', () => rmSync(join(out, 'c02', 'plan.md')), [], '1 computed, 2 unchanged'],
    [
      'a damaged result',
      () => writeFileSync(join(out, 'c03', 'result.json'), '{}'),
      [],
      '1 computed, 2 unchanged',
    ],
    [
      'a changed document of the same size',
      () => swapLetter(join(out, 'c02', 'checklist.md')),
      [],
      '1 computed, 2 unchanged',
    ],
    [
      'a changed mesh of the same size',
      () => swapLetter(join(cases[0], 'meshes', 'sac.stl')),
      [],
      '1 computed, 2 unchanged',
    ],
    [
      'a result of another version that outputs.json lists',
      () => {
        const plan = join(out, 'c03');
        const text = readFileSync(join(plan, 'result.json'), 'utf8');
        const other = text.replace(/"version": "[^"]*"/, '"version": "0.0.1"');
        const list = readFileSync(join(plan, 'outputs.json'), 'utf8');
        writeFileSync(join(plan, 'result.json'), other);
        const listed = list
          .replace(sha256Hex(text), sha256Hex(other))
          .replace(`"bytes": ${text.length}`, `"bytes": ${other.length}`);
        expect(listed).not.toBe(list);
        writeFileSync(join(plan, 'outputs.json'), listed);
      },
      [],
      '1 computed, 2 unchanged',
    ],
    [
      'a local rule',
      () => {
        mkdirSync(rules);
        writeFileSync(
          join(rules, 'ours.yaml'),
          'format: pavm-rules/1\nrules:\n  - { id: severe-pulmonary-hypertension, kind: number, value: 47, unit: mmHg, text: Severe from here., source: "local: right-heart protocol" }\n',
        );
      },
      ['--rules', rules],
      '3 computed, 0 unchanged',
    ],
    ['another date', () => {}, ['--today', '2026-05-05'], '3 computed, 0 unchanged'],
  ])('%s is detected', async (_, change, options, text) => {
    change();
    const run = await pavm(['batch', ...cases, '--out', out, ...options]);
    expect(run.err).toContain(text);
  });

  it('loads nothing that reads cases or computes plans where nothing has changed', async () => {
    const loaded = join(folder, 'loaded');
    await pavm(['batch', ...cases, '--out', out]);
    const run = await pavm(['batch', ...cases, '--out', out], {
      env: { ...process.env, NODE_V8_COVERAGE: loaded },
    });
    expect(run.err).toContain('0 computed, 3 unchanged');
    const [file] = readdirSync(loaded);
    const { result } = JSON.parse(readFileSync(join(loaded, file), 'utf8')) as { result: { url: string }[] };
    const own = result.flatMap(({ url }) => /\/dist\/(.*)$/.exec(url)?.[1] ?? []);
    expect(own).toContain('joined/batch.js');
    const known = /^(cli\/main|joined\/(main|base|batch|write-summary)|libraries\/(commander|chalk))\.js$/;
    expect(own.filter((path) => !known.test(path))).toEqual([]);
  });

  it('shares from several machines gather into the summary of a single run', async () => {
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

describe('where plans are written', () => {
  it('without --out, next to each case, and the summary in the working folder', async () => {
    const folder = join(base, 'beside');
    writeCases(folder, 2, 1);
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

  it('fails two cases with the same id and plans the others', async () => {
    const folder = join(base, 'twins');
    writeCases(folder, 2, 1);
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

  it('leaves a foreign folder alone', async () => {
    const folder = join(base, 'foreign');
    const [one] = writeCases(folder, 1);
    const theirs = join(folder, 'out', 'c01');
    mkdirSync(theirs, { recursive: true });
    writeFileSync(join(theirs, 'thesis.txt'), 'mine');
    const run = await pavm(['batch', one, '--out', join(folder, 'out')]);
    expect(run.code).toBe(5);
    expect(run.err).toContain('the folder holds files that pavm did not write');
    expect(readdirSync(theirs)).toEqual(['thesis.txt']);
  });

  it('finishes what it can, names the case on every error line, and exits with the highest code', async () => {
    const folder = join(base, 'codes');
    const write = (name: string, text: string): string => {
      mkdirSync(join(folder, name), { recursive: true });
      writeFileSync(join(folder, name, 'case.yaml'), `format: pavm-case/1\nid: ${name}\n${text}`);
      return join(folder, name);
    };
    const sample = (when: string, po2: number): string =>
      `  - { name: ${when}, when: ${when}, fio2: 1.0, minutes_on_oxygen: 20, site: arterial, po2: ${po2} mmHg, pco2: 36 mmHg, pressure: 750 mmHg }\n`;
    const treated = write(
      'treated',
      `scan: { date: 2026-05-02 }\nlesion: { treated: 2026-02-01 }\nblood: { haemoglobin: 15 g/dL }\ngases:\n${sample('before', 190)}${sample('after', 460)}`,
    );
    const unit = write('unit', 'blood: { haemoglobin: 15 }\ncirculation: { cardiac_output: 6 }\n');
    const mesh = write(
      'mesh',
      'surfaces: { unit: mm, frame: LPS, parts: [{ name: A1, role: feeder, mesh: a1.stl }, { name: sac, role: sac, mesh: a1.stl }] }\n',
    );
    writeFileSync(join(mesh, 'a1.stl'), 'no mesh');
    const out = join(folder, 'out');
    const run = await pavm(['batch', treated, unit, mesh, '--out', out, '--quiet']);
    expect(run.code).toBe(3);
    const lines = run.err.trim().split('\n');
    expect(lines).toHaveLength(3);
    expect(lines[0]).toMatch(/^mesh: .*a1\.stl/);
    expect(lines[1]).toMatch(/^unit: .*case\.yaml:3:23 blood\.haemoglobin: "15" has no unit/);
    expect(lines[2]).toMatch(/^unit: .*case\.yaml:4:32 circulation\.cardiac_output: "6" has no unit/);
    const summary = JSON.parse(readFileSync(join(out, 'summary.json'), 'utf8'));
    const row = summary.cases.find((one: { case: string }) => one.case === 'treated');
    expect(row).toMatchObject({ status: 'done', shunt_from: 'after' });
    expect(row.shunt_percent).toBe(row.shunt_after_percent);
    const text = readFileSync(join(out, 'summary.md'), 'utf8');
    expect(text).toContain(`${row.shunt_percent.toFixed(1)} % (after treatment)`);
    expect(text).toMatch(/^\| unit +\| failed \|(?: +– +\|){10}$/m);
    const without = await pavm(['batch', treated, unit, '--out', out, '--quiet']);
    expect(without.code).toBe(2);
  });

  it.each([
    [['batch'], /missing required argument|name at least one case/],
    [['batch', 'x', '--jobs', '0'], /--jobs 0: a whole number/],
    [['batch', 'x', '--shard', '3/2'], /--shard "3\/2" is not a share/],
    [['batch', 'x', '--today', 'soon'], /--today "soon" is not a valid date/],
    [['batch', 'nowhere'], /nowhere: there is no such file/],
  ])('%o exits with 2', async (args, message) => {
    const run = await pavm(args, { cwd: base });
    expect(run.code).toBe(2);
    expect(run.err).toMatch(message);
  });
});
