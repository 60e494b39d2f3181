import { cpSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { type GradeOptions, run } from '../../src/cli/commands/grade.js';
import { capture } from './capture.js';
import { pavm } from './run-pavm.js';

vi.mock('../../src/cli/measure/measure-case.js', async (original) =>
  (await import('./measure-once.js')).measuringOnce(original),
);

const base = mkdtempSync(join(tmpdir(), 'pavm-grade-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));

const wren = join(base, 'wren');
const text = (): string => readFileSync(join(wren, 'case.yaml'), 'utf8');
const variant = (name: string, change: (text: string) => string): string => {
  const folder = join(base, name);
  cpSync(wren, folder, { recursive: true });
  writeFileSync(join(folder, 'case.yaml'), change(text()));
  return folder;
};
const grade = (args: string[], options: GradeOptions = {}) =>
  capture((terminal) => run(args, options, terminal));

beforeAll(() => {
  cpSync(fileURLToPath(new URL('../../cases/wren', import.meta.url)), wren, { recursive: true });
  rmSync(join(wren, 'plan'), { recursive: true, force: true });
});

describe('pavm grade', () => {
  it('passes a correct case and writes nothing into its folder', async () => {
    const before = readdirSync(wren).sort();
    const { code, out, err } = await grade([wren]);
    expect([code, err]).toEqual([0, '']);
    expect(out).toMatch(/^PASS {2}wren {2}(\d+) of \1 points \(100 %\)\n1 of 1 cases passed/);
    expect(readdirSync(wren).sort()).toEqual(before);
    expect(existsSync(join(wren, 'plan'))).toBe(false);
  });

  it('fails a wrong key with exit code 1, its place and a report', async () => {
    const wrong = variant('wrong', (t) =>
      t.replace('equals: simple', 'equals: complex').replace('MICRO-04', 'PLUG-04'),
    );
    const junit = join(base, 'reports', 'junit.xml');
    const { code, out } = await grade([wrong, wren], { junit });
    expect(code).toBe(1);
    expect(out).toContain('lesion.kind: expected complex, got simple (no credit)');
    expect(out).toMatch(/wrong\/case\.yaml:\d+:5\n/);
    expect(out).toContain('1 of 2 cases passed');
    expect(readFileSync(junit, 'utf8')).toMatch(
      /^<\?xml version="1\.0" encoding="UTF-8"\?>\n<testsuites name="pavm grade" tests="\d+" failures="2" errors="0">/,
    );
    expect(readdirSync(join(base, 'reports'))).toEqual(['junit.xml']);
  });

  it('continues after a case that cannot be computed and exits with its code', async () => {
    const broken = variant('broken', (t) => t);
    writeFileSync(join(broken, 'meshes', 'sac.stl'), 'no mesh');
    const { code, out, err } = await grade([broken, join(base, 'nowhere'), wren], { json: true });
    expect(code).toBe(3);
    expect(err).toContain('sac.stl');
    const result = JSON.parse(out);
    expect(result.passed).toBe(false);
    expect(result.cases.map((one: { case: string; passed: boolean }) => [one.case, one.passed])).toEqual([
      ['wren', true],
    ]);
    expect(result.errors).toHaveLength(2);
  });

  it('a case without a key is an error, not a pass', async () => {
    const bare = variant('bare', (t) => t.slice(0, t.indexOf('expected:')));
    const { code, err, out } = await grade([bare]);
    expect(code).toBe(2);
    expect(err).toContain('has no answer key');
    expect(out).toContain('0 of 1 cases passed');
  });

  it("grades a trainee's answers with feedback", async () => {
    const answers = join(base, 'answers.yaml');
    writeFileSync(
      answers,
      'format: pavm-answers/1\ncase: wren\nanswers:\n  - { value: vessels.A1.landing.calibre_mm, answer: 3.2 mm }\n  - { value: devices.A1.kind, answer: vascular plug }\n',
    );
    const { code, out } = await grade([wren], { answers });
    expect(code).toBe(1);
    expect(out).toContain('devices.A1.kind: expected micro-plug, got vascular plug (no credit)');
    expect(out).toContain('Rule window-micro-plug');
    expect(out).toContain('Not answered.');
    expect(out).not.toContain('vessels.A1.landing.calibre_mm');
    writeFileSync(
      answers,
      'format: pavm-answers/1\ncase: wrenn\nanswers: [{ value: lesion.kind, answer: simple }]\n',
    );
    await expect(grade([wren], { answers })).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringContaining('Did you mean "wren"?'),
    });
  });

  it('gives no partial credit for a count', () => {
    const answers = join(base, 'count.yaml');
    writeFileSync(
      answers,
      'format: pavm-answers/1\nanswers:\n  - { value: lesion.feeder_count, answer: 2 }\n  - { value: lesion.drain_count, answer: 1 }\n',
    );
    const { code, stdout } = pavm(['grade', wren, '--answers', answers, '--json']);
    expect(code).toBe(1);
    const [{ items }] = JSON.parse(stdout).cases;
    expect(items.slice(0, 2)).toMatchObject([
      { what: 'lesion.feeder_count', expected: '1 (a count)', got: '2', credit: 0 },
      { what: 'lesion.drain_count', credit: 1 },
    ]);
  });

  it('refuses a value that appears twice in a key or in answers, with both places', () => {
    const twice = variant('twice', (t) => `${t.trimEnd()}\n  - { value: lesion.kind, equals: complex }\n`);
    const key = pavm(['grade', 'twice/case.yaml'], { cwd: base });
    expect(key.code).toBe(2);
    const lines = readFileSync(join(twice, 'case.yaml'), 'utf8').split('\n');
    const [first, second] = lines.flatMap((line, i) => (line.includes('value: lesion.kind') ? [i + 1] : []));
    expect(key.stderr).toMatch(
      new RegExp(
        `^twice/case\\.yaml:${second}:14 expected\\[\\d+\\]\\.value: "lesion\\.kind" is given at twice/case\\.yaml:${first}:14 too, .*\\n$`,
      ),
    );
    expect(pavm(['check', 'twice'], { cwd: base }).stderr).toBe(key.stderr);
    writeFileSync(
      join(base, 'both.yaml'),
      'format: pavm-answers/1\nanswers:\n  - { value: lesion.kind, answer: simple }\n  - { value: lesion.kind, answer: complex }\n',
    );
    const answers = pavm(['grade', 'wren', '--answers', 'both.yaml'], { cwd: base });
    expect([answers.code, answers.stdout]).toEqual([2, '']);
    expect(answers.stderr).toBe(
      'both.yaml:4:35 lesion.kind is given at both.yaml:3:35 too. Keep one of the two lines.\n',
    );
  });

  it('needs a case and a file it can write', async () => {
    await expect(grade([])).rejects.toMatchObject({ exitCode: 2 });
    await expect(grade([wren], { junit: join(wren, 'case.yaml', 'x.xml') })).rejects.toMatchObject({
      exitCode: 5,
      message: expect.stringContaining('--junit'),
    });
  });
});
