/**
 * No content of a foreign file and no control character of an input reaches the terminal, and no link leads out of a folder.
 */
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { pavm, type Ran } from './run-pavm.js';

const work = mkdtempSync(join(tmpdir(), 'pavm-foreign-'));
afterAll(() => rmSync(work, { recursive: true, force: true }));

const ESCAPE = '\u001b]0;owned\u0007\u001b[2J';
const HIDDEN = /[^\P{C}\n\t]/u;
const SECRET = 'aws_secret: "hunter2"\ntokens: [one, two]\n"bad: yaml\n';
const shown = ({ stdout, stderr }: Ran): string => stdout + stderr;

let count = 0;
function folder(files: Record<string, string> = {}): string {
  const dir = join(work, String(count++));
  mkdirSync(dir);
  for (const [name, text] of Object.entries(files)) writeFileSync(join(dir, name), text);
  return dir;
}
function plover(): string {
  const dir = folder();
  cpSync('cases/plover', dir, {
    recursive: true,
    filter: (from) => !/[\\/](plan|print)([\\/]|$)/.test(from),
  });
  return dir;
}

describe('a foreign file', () => {
  const secret = join(folder({ 'secret.yaml': SECRET }), 'secret.yaml');
  const json = join(folder({ 'result.json': '{"hunter2": hunter2' }), 'result.json');
  const rules = folder({ 'a.yaml': SECRET });
  const gathered = folder({ 'summary.json': 'hunter2' });
  const runs: [string, string[], number, RegExp][] = [
    ['a case', ['check', secret], 2, /this is not a pavm case file: it has no "format: pavm-case\/1"/],
    ['a shelf', ['size', '--calibre', '6mm', '--shelf', secret], 3, /not a pavm shelf file/],
    ['answers', ['grade', 'cases/plover', '--answers', secret], 2, /not a pavm answers file/],
    ['rules', ['size', '--calibre', '6mm', '--rules', rules], 2, /not a pavm rule file/],
    ['a result', ['compare', json, json], 3, /this is not JSON/],
    ['a summary', ['gather', gathered], 3, /this is not JSON/],
  ];
  it.each(runs)('given as %s: one line, none of its content', (_, args, code, says) => {
    const ran = pavm(args);
    expect(ran).toMatchObject({ code });
    expect(ran.stderr).toMatch(says);
    expect(ran.stderr.trim().split('\n')).toHaveLength(1);
    expect(shown(ran)).not.toMatch(/hunter2|aws_secret|tokens|bad/);
  });
  it('another format of this program is named, any other word is not', () => {
    const of = (format: string): string =>
      pavm(['check', join(folder({ 'a.yaml': format }), 'a.yaml')]).stderr;
    expect(of('format: pavm-shelf/1\n')).toMatch(/"pavm-shelf\/1" is not a case file of this edition/);
    expect(of('format: pavm-hunter2 secret\n')).not.toContain('hunter2');
  });
});

describe('a symbolic link', () => {
  it('to a case file outside the folder is refused unless --root allows it', () => {
    const real = plover();
    const dir = folder();
    symlinkSync(join(real, 'case.yaml'), join(dir, 'case.yaml'));
    const ran = pavm(['check', dir]);
    expect(ran).toMatchObject({ code: 2 });
    expect(ran.stderr).toMatch(
      /case\.yaml: this is a symbolic link to a file outside its folder\. .*--root DIR\.$/m,
    );
    expect(pavm(['check', dir, '--root', work]).stderr).not.toContain('symbolic link to a file outside');
  });
  it('within its own folder is followed', () => {
    const dir = plover();
    mkdirSync(join(dir, '..data'));
    writeFileSync(join(dir, '..data', 'case.yaml'), readFileSync(join(dir, 'case.yaml')));
    rmSync(join(dir, 'case.yaml'));
    symlinkSync(join('..data', 'case.yaml'), join(dir, 'case.yaml'));
    expect(pavm(['check', dir]).code).toBe(0);
  });
  it.each([
    ['a shelf', 'shelf.yaml', (file: string) => ['size', '--calibre', '6mm', '--shelf', file]],
    ['answers', 'answers.yaml', (file: string) => ['grade', 'cases/plover', '--answers', file]],
    ['readings', 'readings.yaml', (file: string) => ['proof', 'cases/plover', '--readings', file]],
    ['a result', 'result.json', (file: string) => ['compare', file, file]],
    ['a summary', 'summary.json', (file: string) => ['gather', join(file, '..')]],
  ])('given as %s and leading out of the folder is refused', (_, name, args) => {
    const file = join(folder(), name);
    symlinkSync(join(folder({ secret: SECRET }), 'secret'), file);
    const ran = pavm(args(file));
    expect([2, 3]).toContain(ran.code);
    expect(ran.stderr).toMatch(/symbolic link to a file outside its folder/);
    expect(shown(ran)).not.toContain('hunter2');
  });
});

describe('control characters in an input', () => {
  it('in the unit of a rule', () => {
    const dir = folder({
      'a.yaml': `format: pavm-rules/1\nrules:\n  - { id: ours, kind: number, value: 1, unit: "${JSON.stringify(ESCAPE).slice(1, -1)}", text: t, source: "local: x" }\n`,
    });
    const ran = pavm(['size', '--calibre', '6mm', '--rules', dir]);
    expect(ran).toMatchObject({ code: 2 });
    expect(ran.stderr).toMatch(/rule ours, unit: .* contains a control or invisible character/);
    expect(shown(ran)).not.toMatch(HIDDEN);
  });
  it('in a gathered summary, on stdout and as JSON', () => {
    const row = { case: `heron${ESCAPE}\u009b\u202e`, status: 'failed', exit_code: 3, problems: [ESCAPE] };
    const tool = { name: 'pavm-planner', version: '0.1.0', rule_set: 'x' };
    const dir = folder({ 'summary.json': JSON.stringify({ format: 'pavm-batch/1', tool, cases: [row] }) });
    const text = pavm(['gather', dir]);
    expect(text.stdout).toContain('heron\\u001b');
    expect(shown(text)).not.toMatch(HIDDEN);
    const json = pavm(['gather', dir, '--json']);
    expect(json.stdout).not.toMatch(HIDDEN);
    expect(JSON.parse(json.stdout).cases[0].case).toBe(row.case);
  });
  it('in a key of a readings file', () => {
    const dir = folder({
      'r.yaml': `format: pavm-readings/1\n"${JSON.stringify(ESCAPE).slice(1, -1)}": 1\nreadings: [{ name: G1, value: 8.1 mm }]\n`,
    });
    const ran = pavm(['proof', 'cases/plover', '--readings', join(dir, 'r.yaml')]);
    expect(ran).toMatchObject({ code: 3 });
    expect(shown(ran)).not.toMatch(HIDDEN);
  });
});

describe('a rules folder', () => {
  const rule = (id: string): string =>
    `format: pavm-rules/1\nrules:\n  - { id: ${id}, kind: number, value: 1, unit: mm, text: t, source: "local: x" }\n`;
  const size = (dir: string): Ran => pavm(['size', '--calibre', '6mm', '--rules', dir]);

  it('reads .yml and .YAML files, and names the files it does not read', () => {
    const dir = folder({
      'a.yml': rule('our-a'),
      'B.YAML': rule('our-b'),
      'README.md': '',
      'x\u001b[2J': '',
    });
    mkdirSync(join(dir, 'icu'));
    const ran = size(dir);
    expect(ran.code).toBe(0);
    expect(ran.stderr).toContain(
      'note --rules: Not read from the rules folder: README.md, x\\u{1b}[2J, icu/.',
    );
    writeFileSync(join(dir, 'B.YAML'), rule('our-a'));
    expect(size(dir).stderr).toMatch(/a\.yml:3:\d+ rule our-a: this id appears twice/);
  });
  it('silently follows the links of a mounted volume', () => {
    const dir = folder();
    mkdirSync(join(dir, '..2026_01_01'));
    writeFileSync(
      join(dir, '..2026_01_01', 'ours.yaml'),
      rule('our-a').replace('our-a', 'normal-shunt').replace('unit: mm', 'unit: "%"'),
    );
    symlinkSync('..2026_01_01', join(dir, '..data'));
    symlinkSync(join('..data', 'ours.yaml'), join(dir, 'ours.yaml'));
    const ran = pavm([
      'shunt',
      '--fio2',
      '1',
      '--po2',
      '210mmHg',
      '--pco2',
      '34mmHg',
      '--hb',
      '15g/dL',
      '--pressure',
      '712mmHg',
      '--minutes',
      '20',
      '--rules',
      dir,
    ]);
    expect(ran.stdout).toContain('Normal is up to 1 %: local: x.');
    expect(ran.stderr).not.toContain('Not read');
    writeFileSync(join(dir, '..2026_01_01', 'more.yaml'), rule('our-b'));
    expect(size(dir).stderr).toMatch(/Not read from the rules folder: \.\.2026_01_01\/more\.yaml\./);
  });
  it('refuses a rule file that links out of the folder or leads nowhere', () => {
    const dir = folder();
    symlinkSync(join(folder({ 'a.yaml': rule('our-a') }), 'a.yaml'), join(dir, 'a.yaml'));
    symlinkSync('nowhere', join(dir, 'b.yml'));
    const ran = size(dir);
    expect(ran.code).toBe(2);
    expect(ran.stderr).toMatch(/^a\.yaml:1:1 this rule file is a symbolic link out of the rules folder\./m);
    expect(ran.stderr).toMatch(/^b\.yml:1:1 this rule file cannot be opened\./m);
  });
});
