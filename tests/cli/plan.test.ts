import { cpSync, mkdtempSync, readFileSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { checkResult } from '../../src/report/result-check.js';
import { folderHash, pavm } from './run-pavm.js';

const work = mkdtempSync(join(tmpdir(), 'pavm-plan-'));
afterAll(() => rmSync(work, { recursive: true, force: true }));

/** A fresh copy of a demo case. */
function copyOf(name: string, as: string): string {
  const dir = join(work, as);
  cpSync(join('cases', name), dir, {
    recursive: true,
    filter: (from) => !/[\\/](plan|print)([\\/]|$)/.test(from),
  });
  return dir;
}

function edit(dir: string, from: string | RegExp, to: string): void {
  const file = join(dir, 'case.yaml');
  const text = readFileSync(file, 'utf8');
  const changed = text.replace(from, to);
  if (changed === text) throw new Error(`nothing to replace by ${to}`);
  writeFileSync(file, changed);
}

describe('a demo case', () => {
  let dir: string;
  beforeAll(() => {
    dir = copyOf('plover', 'plover');
    expect(pavm(['plan', dir])).toMatchObject({ code: 0, stdout: '' });
  }, 180_000);

  it('writes every document, the results and the figures', async () => {
    const names = folderHash(join(dir, 'plan')).map((line) => line.split(' ')[0]);
    expect(names).toEqual(
      expect.arrayContaining([
        'plan.md',
        'checklist.md',
        'counselling.md',
        'result.json',
        'figures/calibre-A1.svg',
        'figures/views.svg',
        'figures/working-A1.svg',
        'figures/working-A2.svg',
      ]),
    );
    const listed = readFileSync(join(dir, 'plan', 'plan.md'), 'utf8');
    for (const name of names.filter((one) => one?.startsWith('figures/')))
      expect(listed).toContain(`(${name})`);
    const result = JSON.parse(readFileSync(join(dir, 'plan', 'result.json'), 'utf8'));
    expect(await checkResult(result)).toEqual([]);
    // no series: reported once
    expect([result.scan, result.frame]).toEqual([{ agrees: 'unchecked' }, { verdict: 'unchecked' }]);
    expect(result.findings.filter((f: { id: string }) => f.id === 'images-not-checked')).toHaveLength(1);
  });

  it('answers the questions of a reader who opens only plan.md', () => {
    const summary = readFileSync(join(dir, 'plan', 'plan.md'), 'utf8').split('## Plan A')[0];
    for (const text of [
      '6.8 mm',
      '4.2 mm',
      'PLUG-10',
      'PLUG-06',
      '31.8 %',
      'B1',
      'S8',
      '**Advice: ',
      'Ready today',
    ])
      expect(summary).toContain(text);
  });

  it('prints no gaps, no raw numbers and no case text as markup', () => {
    for (const name of ['plan.md', 'checklist.md', 'counselling.md']) {
      const text = readFileSync(join(dir, 'plan', name), 'utf8');
      expect(text).not.toMatch(/NaN|undefined|\[object|Infinity|: null/);
      expect(text).toMatch(/local protocols/);
      expect(text).toMatch(/## Provenance/);
      expect(text).not.toContain(work);
    }
  });

  it('writes the same bytes in another folder, time zone and language, and result.json to stdout on request', () => {
    const elsewhere = join(work, 'elsewhere');
    const ran = pavm(['plan', dir, '--json', '--out', elsewhere], {
      env: { TZ: 'Pacific/Apia', LANG: 'de_DE.UTF-8', LC_ALL: 'de_DE.UTF-8' },
    });
    expect(ran.code).toBe(0);
    expect(JSON.parse(ran.stdout).case).toBe('plover');
    expect(folderHash(elsewhere)).toEqual(folderHash(join(dir, 'plan')));
  });

  it('does not replace a folder that is not a plan', () => {
    const foreign = join(work, 'foreign');
    cpSync('cases/plover/meshes', foreign, { recursive: true });
    const before = folderHash(foreign);
    expect(pavm(['plan', dir, '--out', foreign])).toMatchObject({ code: 5 });
    expect(folderHash(foreign)).toEqual(before);
  });
});

describe('bad input', () => {
  /** What is done to the case, the exit code, and what the one line must say. */
  const ROWS: [string, (dir: string) => void, number, RegExp][] = [
    [
      'a quantity without a unit',
      (d) => edit(d, 'po2: 118 mmHg', 'po2: 118'),
      2,
      /^case\.yaml:\d+:\d+ gases\[0\]\.po2: .*no unit.*"210 mmHg"/,
    ],
    [
      'an unknown key',
      (d) => edit(d, 'haemoglobin:', 'haemoglobine:'),
      2,
      /^case\.yaml:\d+:\d+ .*haemoglobine.*haemoglobin/,
    ],
    ['a missing mesh', (d) => rmSync(join(d, 'meshes/A1.stl')), 3, /case\.yaml:\d+:\d+ .*meshes\/A1\.stl/],
    ['a truncated STL', (d) => truncateSync(join(d, 'meshes/A1.stl'), 180_000), 3, /A1\.stl/],
    ['a header that lies', (d) => claim(join(d, 'meshes/A1.stl'), 4_000_000_000), 3, /A1\.stl/],
    ['a NaN vertex', (d) => poison(join(d, 'meshes/A1.stl')), 3, /A1\.stl.*triangle/],
    ['an empty file', (d) => writeFileSync(join(d, 'meshes/sac.stl'), ''), 3, /sac\.stl/],
    ['an open sac', (d) => dropTriangles(join(d, 'meshes/sac.stl'), 400), 3, /sac\.stl.*open/],
    ['a hole in a vessel wall', (d) => dropTriangles(join(d, 'meshes/A1.stl'), 2), 3, /A1\.stl.*open/],
  ];

  it.each(ROWS)('%s: one clear line, its exit code, the old plan untouched', (name, spoil, code, says) => {
    const dir = copyOf('plover', name.replaceAll(' ', '-'));
    cpSync(join(work, 'plover', 'plan'), join(dir, 'plan'), { recursive: true });
    const before = folderHash(join(dir, 'plan'));
    spoil(dir);
    const ran = pavm(['plan', dir, '--quiet']);
    const lines = ran.stderr.trim().split('\n');
    expect(lines).toHaveLength(1);
    expect(lines[0].replace(`${dir}/`, '')).toMatch(says);
    expect(ran.code).toBe(code);
    expect(ran.stdout).toBe('');
    expect(folderHash(join(dir, 'plan'))).toEqual(before);
  });

  it('answers an unknown command or flag with the nearest one', () => {
    expect(pavm(['plam', 'cases/plover'])).toMatchObject({
      code: 2,
      stderr: expect.stringContaining('plan'),
    });
    expect(pavm(['plan', 'cases/plover', '--todaay', '2026-01-01']).code).toBe(2);
    expect(pavm(['plan', 'cases/plover', '--today', '2026-02-31']).code).toBe(2);
  });
});

describe('help and version', () => {
  it('start without the heavy modules', () => {
    const ran = pavm(['--version'], { env: { NODE_DEBUG: 'module_none' } });
    expect(ran).toMatchObject({
      code: 0,
      stdout: `${JSON.parse(readFileSync('package.json', 'utf8')).version}\n`,
    });
    const times = Array.from({ length: 5 }, () => {
      const start = performance.now();
      pavm(['--help']);
      return performance.now() - start;
    });
    // 0.2 s on an idle machine; the limit leaves room for a busy one, but loading three alone would still exceed it.
    expect(Math.min(...times)).toBeLessThan(400);
  });

  it('every command explains itself with an example', () => {
    for (const command of ['plan', 'new', 'check', 'inspect', 'shunt', 'close', 'size']) {
      const ran = pavm([command, '--help']);
      expect(ran.code).toBe(0);
      expect(ran.stdout).toContain(`Example: pavm ${command}`);
    }
  });
});

function claim(file: string, count: number): void {
  const bytes = readFileSync(file);
  bytes.writeUInt32LE(count, 80);
  writeFileSync(file, bytes);
}

function poison(file: string): void {
  const bytes = readFileSync(file);
  bytes.writeFloatLE(Number.NaN, 84 + 50 * 7 + 12);
  writeFileSync(file, bytes);
}

/** Removes the first triangles of a binary STL. */
function dropTriangles(file: string, count: number): void {
  const bytes = readFileSync(file);
  const left = bytes.readUInt32LE(80) - count;
  const head = bytes.subarray(0, 84);
  head.writeUInt32LE(left, 80);
  writeFileSync(file, Buffer.concat([head, bytes.subarray(84 + 50 * count)]));
}
