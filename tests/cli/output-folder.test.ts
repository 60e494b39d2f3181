/** What the writing commands do to foreign folders and files. Every test runs the built program. */

import { execFileSync, spawnSync } from 'node:child_process';
import {
  appendFileSync,
  chmodSync,
  closeSync,
  cpSync,
  existsSync,
  lstatSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { IS_LONG } from '../long-tests.js';
import { folderHash, pavm } from './run-pavm.js';

const work = mkdtempSync(join(tmpdir(), 'pavm-output-'));
afterAll(() => rmSync(work, { recursive: true, force: true }));

/** A case with gases only and an answer key; planned in a second. */
const LIGHT = `format: pavm-case/1
id: dipper
purpose: teaching
scan: { date: 2026-03-14 }
gases:
  - { name: on-oxygen, when: before, fio2: 1.0, minutes_on_oxygen: 20, site: arterial, po2: 410 mmHg, pco2: 36 mmHg, ph: 7.41, pressure: 752 mmHg }
blood: { haemoglobin: 15 g/dL }
expected: [ { value: shunt.fraction, equals: 0.14, within: 0.1 } ]
`;

/** A label map of one block of voxels, and the case that names it. */
function labelCase(dir: string): void {
  mkdirSync(dir, { recursive: true });
  const n = 12;
  const voxels = new Uint8Array(n ** 3);
  for (let z = 3; z < 9; z++)
    for (let y = 3; y < 9; y++) for (let x = 3; x < 9; x++) voxels[(z * n + y) * n + x] = 1;
  const header = `NRRD0004\ntype: uchar\ndimension: 3\nspace: left-posterior-superior\nsizes: ${n} ${n} ${n}\nspace directions: (1,0,0) (0,1,0) (0,0,1)\nspace origin: (0,0,0)\nencoding: raw\n\n`;
  writeFileSync(join(dir, 'map.nrrd'), Buffer.concat([Buffer.from(header), voxels]));
  writeFileSync(
    join(dir, 'case.yaml'),
    'format: pavm-case/1\nid: knot\nsurfaces:\n  unit: mm\n  frame: LPS\n  labels: { file: map.nrrd, parts: [ { name: A1, role: feeder, label: 1 } ] }\n',
  );
}

function lightCase(name: string): string {
  const dir = join(work, name);
  mkdirSync(dir, { recursive: true });
  writeFileSync(join(dir, 'case.yaml'), LIGHT);
  return dir;
}

/** Everything in a folder: names, bytes, permissions and dates of files. */
function state(dir: string): string[] {
  const rows = readdirSync(dir, { recursive: true, withFileTypes: true }).map((entry) => {
    const path = join(entry.parentPath, entry.name);
    const { mode, mtimeMs } = lstatSync(path);
    return `${path} ${mode} ${entry.isFile() ? mtimeMs : ''}`;
  });
  return [...rows.sort(), ...folderHash(dir)];
}

describe('a foreign folder', () => {
  /** Foreign files with names that the program uses. */
  const foreign = join(work, 'foreign');
  const surfaces = join(work, 'surface-case');
  beforeAll(() => {
    mkdirSync(foreign);
    for (const name of ['result.json', 'surfaces.yaml', 'gauges.md', 'proof.json', 'plan.md'])
      writeFileSync(join(foreign, name), '{"format":"something-else"}');
    writeFileSync(join(foreign, 'outputs.json'), '{"format":"somebody/1","kind":"plan","files":[]}');
    labelCase(surfaces);
  });
  const commands: [string, string[]][] = [
    ['plan', ['plan', lightCase('light-a'), '--out', foreign]],
    ['surface', ['surface', surfaces, '--out', foreign]],
    ['print', ['print', resolve('cases/tern-closed'), '--out', foreign]],
    [
      'proof',
      [
        'proof',
        resolve('cases/tern-closed'),
        '--surface',
        resolve('cases/tern-closed/meshes/sac.stl'),
      ].concat('--unit', 'mm', '--out', foreign),
    ],
  ];
  it.each(commands)('is refused by pavm %s with exit 5, and stays unchanged', (_, args) => {
    const before = state(foreign);
    const ran = pavm(args);
    expect(ran.stderr).toContain(`${foreign}: the folder holds files that pavm did not write`);
    expect([ran.code, state(foreign)]).toEqual([5, before]);
  });

  it('is refused by pavm batch as the plan folder of a case', () => {
    const out = join(work, 'batch-out');
    mkdirSync(join(out, 'dipper'), { recursive: true });
    writeFileSync(join(out, 'dipper/result.json'), '{}');
    const before = state(join(out, 'dipper'));
    const ran = pavm(['batch', lightCase('light-b'), '--out', out]);
    expect([ran.code, state(join(out, 'dipper'))]).toEqual([5, before]);
    expect(ran.stderr).toContain(join(out, 'dipper'));
  });
});

describe('a folder that is or contains an input', () => {
  it.each([
    ['the case folder', ''],
    ['its parent', '..'],
  ])('%s is refused with exit 2', (_, step) => {
    const dir = lightCase('nest/light-c');
    const before = state(join(work, 'nest'));
    const ran = pavm(['plan', dir, '--out', join(dir, step)]);
    expect([ran.code, state(join(work, 'nest'))]).toEqual([2, before]);
    expect(ran.stderr).toContain('case.yaml');
  });

  it('refuses a link to it as well, and the folder of a shelf or of the meshes', () => {
    const dir = lightCase('light-d');
    symlinkSync(dir, join(work, 'link-to-d'));
    mkdirSync(join(dir, 'stock'));
    cpSync('cases/heron/shelf.yaml', join(dir, 'stock/shelf.yaml'));
    appendFileSync(join(dir, 'case.yaml'), 'shelf: stock/shelf.yaml\n');
    const before = state(dir);
    for (const out of [join(work, 'link-to-d'), join(dir, 'stock')])
      expect(pavm(['plan', dir, '--out', out]).code).toBe(2);
    expect(state(dir)).toEqual(before);
  });

  it('a single output file never replaces an input', () => {
    const dir = lightCase('light-e');
    const file = join(dir, 'case.yaml');
    const before = state(dir);
    const ran = pavm(['compare', file, file, '--out', file]);
    expect([ran.code, state(dir)]).toEqual([2, before]);
  });
});

describe('a plan folder that the program wrote', () => {
  const dir = lightCase('light-own');
  const plan = join(dir, 'plan');
  let first: string[] = [];
  beforeAll(() => {
    expect(pavm(['plan', dir, '--html']).code).toBe(0);
    first = folderHash(plan);
    mkdirSync(join(plan, 'photos'));
    writeFileSync(join(plan, 'notes.txt'), 'Ask for the angiogram.\n');
    writeFileSync(join(plan, 'photos/theatre.jpg'), 'a photo');
    writeFileSync(join(plan, 'figures/sketch.svg'), '<svg/>');
    symlinkSync('notes.txt', join(plan, 'latest'));
    mkdirSync(join(plan, 'empty'));
    utimesSync(join(plan, 'notes.txt'), 1_000_000, 1_000_000);
    chmodSync(plan, 0o700);
  });
  const others = (): string[] =>
    state(plan).filter((row) => /notes|photo|sketch|latest|empty/.test(row.split(' ')[0]));

  it('is rewritten: other files keep permissions and dates, files no longer written are removed', () => {
    const before = others();
    expect(pavm(['plan', dir]).code).toBe(0);
    expect(others()).toEqual(before);
    expect([statSync(plan).mode & 0o777, existsSync(join(plan, 'plan.html'))]).toEqual([0o700, false]);
    const rows = folderHash(plan).filter((row) => !/notes|photo|sketch|latest|outputs/.test(row));
    expect(rows).toEqual(first.filter((row) => !/plan\.html|outputs/.test(row)));
  });

  it('keeps a file that was edited since, under another name', () => {
    appendFileSync(join(plan, 'plan.md'), '\nDr A: the second feeder first.\n');
    const changed = readFileSync(join(plan, 'plan.md'), 'utf8');
    for (let run = 0; run < 2; run++) expect(pavm(['plan', dir]).code).toBe(0);
    expect(readFileSync(join(plan, 'plan.edited-1.md'), 'utf8')).toBe(changed);
    expect(readFileSync(join(plan, 'plan.md'), 'utf8')).not.toContain('Dr A');
    expect(existsSync(join(plan, 'plan.edited-2.md'))).toBe(false);
  });

  it('is not written where a foreign file is in the way', () => {
    writeFileSync(join(plan, 'plan.html'), '<p>mine</p>');
    const before = state(plan);
    const ran = pavm(['plan', dir, '--html']);
    expect([ran.code, state(plan)]).toEqual([5, before]);
    expect(ran.stderr).toContain('"plan.html" is there already');
    rmSync(join(plan, 'plan.html'));
  });

  it('is not replaced by another kind of output, nor is a folder inside it', () => {
    const before = state(plan);
    const print = (out: string) => pavm(['print', resolve('cases/tern-closed'), '--out', out]).code;
    expect([print(plan), print(join(plan, 'figures')), state(plan)]).toEqual([5, 5, before]);
  });

  it('is found through a link, which stays a link', () => {
    const link = join(work, 'link-to-plan');
    symlinkSync(plan, link);
    expect(pavm(['plan', dir, '--out', link]).code).toBe(0);
    expect([lstatSync(link).isSymbolicLink(), existsSync(join(plan, 'notes.txt'))]).toEqual([true, true]);
  });

  it('of version 0.1.0, without a list, is recognised by its result, and only what that version wrote is replaced', () => {
    rmSync(join(plan, 'outputs.json'));
    writeFileSync(join(plan, 'figures/views.svg'), '<svg>of somebody else</svg>');
    const before = others();
    const inTheWay = readFileSync(join(plan, 'figures/views.svg'), 'utf8');
    expect(pavm(['plan', dir]).code).toBe(0);
    expect(others()).toEqual(before);
    expect(readFileSync(join(plan, 'figures/views.svg'), 'utf8')).toBe(inTheWay);
    expect(JSON.parse(readFileSync(join(plan, 'outputs.json'), 'utf8'))).toMatchObject({
      format: 'pavm-output/1',
      kind: 'plan',
    });
  });

  it('counts as foreign if its list names files outside the folder', () => {
    const bad = join(work, 'bad-list');
    mkdirSync(bad);
    writeFileSync(join(work, 'victim.txt'), 'keep');
    const row = { path: '../victim.txt', sha256: '0'.repeat(64), bytes: 4 };
    writeFileSync(
      join(bad, 'outputs.json'),
      JSON.stringify({ format: 'pavm-output/1', kind: 'plan', files: [row] }),
    );
    expect(pavm(['plan', dir, '--out', bad]).code).toBe(5);
    expect(readFileSync(join(work, 'victim.txt'), 'utf8')).toBe('keep');
  });
});

describe('single files', () => {
  it.each([
    ['summary.csv', (dir: string) => ['batch', dir]],
    ['summary.md', (dir: string) => ['batch', dir]],
    ['summary.json', (dir: string) => ['batch', dir]],
    [
      'out.md',
      (dir: string) => ['compare', join(dir, 'case.yaml'), join(dir, 'case.yaml'), '--out', 'out.md'],
    ],
    ['junit.xml', (dir: string) => ['grade', dir, '--junit', 'junit.xml']],
  ])('a foreign %s is left as it is, with exit 5', (name, argsOf) => {
    const dir = lightCase(`single-${name}`);
    const cwd = join(dir, 'cwd');
    mkdirSync(cwd);
    writeFileSync(join(cwd, name), 'mine,2026\n');
    const ran = pavm(argsOf(dir), { cwd });
    expect([ran.code, readFileSync(join(cwd, name), 'utf8')]).toEqual([5, 'mine,2026\n']);
    expect(ran.stderr).toContain(name);
    rmSync(join(cwd, name));
    expect(pavm(argsOf(dir), { cwd }).code).toBeLessThan(2);
    expect(pavm(argsOf(dir), { cwd }).code).toBeLessThan(2);
  });

  it('a file does not replace a device', () => {
    const device = join(work, 'device');
    execFileSync('mkfifo', [device]);
    const ran = pavm(['grade', lightCase('light-device'), '--junit', device]);
    expect([ran.code, lstatSync(device).isFIFO()]).toEqual([5, true]);
  });

  it('pavm new --force keeps the previous case file', () => {
    const dir = join(work, 'new');
    mkdirSync(join(dir, 'meshes'), { recursive: true });
    cpSync('cases/tern-closed/meshes/sac.stl', join(dir, 'meshes/sac.stl'));
    writeFileSync(join(dir, 'case.yaml'), 'two hours of work\n');
    expect(pavm(['new', dir]).code).toBe(2);
    expect(pavm(['new', dir, '--force']).code).toBe(0);
    expect(readFileSync(join(dir, 'case.yaml.old-1'), 'utf8')).toBe('two hours of work\n');
  });
});

describe('an output that cannot be written', () => {
  it('a full device on stdout gives one line and exit 5; a closed pipe gives exit 0 and no output', () => {
    const args = [
      'shunt',
      '--po2',
      '410mmHg',
      '--pco2',
      '36mmHg',
      '--fio2',
      '1.0',
      '--pressure',
      '752mmHg',
      '-q',
    ];
    const full = openSync('/dev/full', 'w');
    const bin = resolve('bin/pavm');
    const ran = spawnSync(process.execPath, [bin, ...args], {
      stdio: ['ignore', full, 'pipe'],
      encoding: 'utf8',
    });
    closeSync(full);
    expect(ran.status).toBe(5);
    expect(ran.stderr.trimEnd().split('\n')).toEqual([
      'stdout: the output cannot be written: the device is full (ENOSPC). Send it elsewhere.',
    ]);
    const piped = spawnSync(
      'bash',
      ['-c', '"$0" "$1" plan "$2" -q --json | head -c 1 >/dev/null; echo "$PIPESTATUS"'].concat(
        process.execPath,
        bin,
        lightCase('light-pipe'),
      ),
      { encoding: 'utf8' },
    );
    expect([piped.stdout.trim(), piped.stderr]).toEqual(['0', expect.not.stringContaining('EPIPE')]);
  });

  const disk = join(work, 'disk');
  mkdirSync(disk);
  const mounted = spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=4m', 'tmpfs', disk]).status === 0;
  if (!mounted) process.stderr.write('skipped: no right to mount a small disk\n');
  afterAll(() => {
    if (mounted) spawnSync('umount', [disk]);
  });

  describe.skipIf(!mounted)('on a small disk', () => {
    const light = lightCase('light-disk');
    const plan = join(disk, 'plan');
    const fill = (): void => {
      spawnSync('bash', ['-c', `cat /dev/zero > ${join(disk, 'filler')}`]);
    };

    it('names a read-only disk as the reason, whether the folder exists or not, and leaves the old plan intact', () => {
      expect(pavm(['plan', light, '--out', plan]).code).toBe(0);
      const there = folderHash(plan);
      spawnSync('mount', ['-o', 'remount,ro', disk]);
      const ran = [plan, join(disk, 'other'), join(disk, 'a', 'b')].map((out) =>
        pavm(['plan', light, '--today', '2026-01-02', '--out', out]),
      );
      spawnSync('mount', ['-o', 'remount,rw', disk]);
      for (const { code, stderr } of ran) {
        expect(code).toBe(5);
        expect(stderr).toMatch(/the disk is read-only \(EROFS\)\. Name another place\./);
      }
      expect(folderHash(plan)).toEqual(there);
      rmSync(plan, { recursive: true });
    });

    it('a mount point is filled in place, and again the next time', () => {
      const before = readdirSync(disk);
      expect([pavm(['plan', light, '--out', disk]).code, before]).toEqual([0, []]);
      writeFileSync(join(disk, 'notes.txt'), 'mine');
      expect(pavm(['plan', light, '--out', disk]).code).toBe(0);
      expect(readdirSync(disk).filter((name) => name.startsWith('.'))).toEqual([]);
      expect(readFileSync(join(disk, 'notes.txt'), 'utf8')).toBe('mine');
      const there = folderHash(disk);
      fill();
      const ran = pavm(['plan', light, '--out', disk]);
      rmSync(join(disk, 'filler'));
      expect(ran.code).toBe(5);
      expect(folderHash(disk)).toEqual(there);
      for (const name of readdirSync(disk)) rmSync(join(disk, name), { recursive: true });
    });

    it('a full disk leaves the old plan intact, in every writing command', {
      timeout: 300_000,
    }, () => {
      expect(pavm(['plan', light, '--out', plan]).code).toBe(0);
      const surfaces = join(work, 'surface-full');
      labelCase(surfaces);
      mkdirSync(join(disk, 'new'));
      cpSync('cases/tern-closed/meshes/sac.stl', join(disk, 'new/sac.stl'));
      const key = resolve('cases/tern-closed');
      const light2 = join(light, 'case.yaml');
      const commands = [
        ['plan', light, '--out', plan],
        ['print', key, '--out', join(disk, 'print')],
        ['surface', surfaces, '--out', join(disk, 'surfaces')],
        [
          'proof',
          key,
          '--surface',
          join(key, 'meshes/sac.stl'),
          '--unit',
          'mm',
          '--out',
          join(disk, 'proof'),
        ],
        ['batch', light, '--out', join(disk, 'batch')],
        ['compare', light2, light2, '--out', join(disk, 'compare.md')],
        ['grade', light, '--junit', join(disk, 'junit.xml')],
        ['new', join(disk, 'new')],
      ];
      fill();
      const before = folderHash(disk);
      // they share a few functions for writing: two folders, a file and a case here, all commands with PAVM_LONG=1
      const usual = ['plan', 'compare', 'batch', 'new'];
      for (const args of commands.filter(([name]) => IS_LONG || usual.includes(name))) {
        const ran = pavm(args);
        expect([args[0], ran.code, ran.stderr]).toEqual([
          args[0],
          5,
          expect.stringMatching(/is full|ENOSPC/),
        ]);
        expect(ran.stderr).not.toContain('defect');
        expect(folderHash(disk)).toEqual(before);
      }
    });
  });
});
