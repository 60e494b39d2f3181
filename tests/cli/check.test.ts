import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeEach, describe, expect, it } from 'vitest';
import { type CheckOptions, run } from '../../src/cli/commands/check.js';
import { pavm } from './run-pavm.js';
import { ctFiles } from '../volume/ct/ct-bytes.js';

const base = mkdtempSync(join(tmpdir(), 'pavm-check-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));

let root = '';
let count = 0;
beforeEach(() => {
  root = join(base, `t${count++}`);
  mkdirSync(root, { recursive: true });
});

/** Without the treatment that preceded the samples. */
const FULL = readFileSync(new URL('../fixtures/cases/full.yaml', import.meta.url), 'utf8').replace(
  ', treated: 2025-06-12',
  '',
);
const SHELF = readFileSync(new URL('../fixtures/cases/shelf.yaml', import.meta.url), 'utf8');

/** A case folder with valid inputs of every kind. */
function makeCase(
  name: string,
  text = FULL.replace('id: heron', `id: ${name}`).replace('../shelf.yaml', 'shelf.yaml'),
): string {
  const folder = join(root, name);
  mkdirSync(join(folder, 'meshes'), { recursive: true });
  mkdirSync(join(folder, 'ct'));
  for (const mesh of ['feeder-1', 'feeder-2', 'sac', 'drain-1', 'branch-1', 'bronchus']) {
    writeFileSync(join(folder, 'meshes', `${mesh}.stl`), 'solid x\n facet normal 0 0 1\n');
  }
  ctFiles({ thickness: 0.8, spacing: [0.7, 0.7, 0.8] }).forEach((bytes, k) => {
    writeFileSync(join(folder, 'ct', `${k}.dcm`), bytes);
  });
  writeFileSync(join(folder, 'shelf.yaml'), SHELF);
  writeFileSync(join(folder, 'case.yaml'), text);
  return folder;
}

async function check(args: string[], options: CheckOptions = {}) {
  let out = '';
  let err = '';
  const terminal = {
    out: (text: string) => {
      out += text;
    },
    err: (text: string) => {
      err += text;
    },
    colour: false,
    interactive: false,
    quiet: false,
  };
  const code = await run(args, options, terminal);
  return { code, out, err };
}

describe('pavm check', () => {
  it('says OK with id and title', async () => {
    const result = await check([makeCase('heron')], { quiet: true });
    expect(result).toEqual({ code: 0, out: 'OK  heron  Two-feeder lesion of the lingula\n', err: '' });
  });

  it('checks all cases and exits with the highest code', async () => {
    const good = makeCase('heron');
    const missing = makeCase('finch');
    rmSync(join(missing, 'meshes', 'sac.stl'));
    const wrong = makeCase('wren', 'format: pavm-case/1\nid: wren\nblood: { haemoglobin: 15 }\n');
    const { code, out, err } = await check([wrong, missing, good]);
    expect(code).toBe(3);
    expect(out).toBe(
      `BAD ${wrong}/case.yaml  1 problem\nBAD ${missing}/case.yaml  1 problem\nOK  heron  Two-feeder lesion of the lingula\n`,
    );
    expect(err).toContain(`${join(wrong, 'case.yaml')}:3:23 blood.haemoglobin: "15" has no unit.`);
    expect(err).toContain('surfaces.parts[2].mesh: there is no file "meshes/sac.stl"');
    expect((await check([good, wrong])).code).toBe(2);
  });

  it('finds inputs whose content does not match their name', async () => {
    const folder = makeCase('heron');
    const lying = Buffer.alloc(134);
    lying.writeUInt32LE(0xffffffff, 80);
    writeFileSync(join(folder, 'meshes', 'sac.stl'), lying);
    for (let k = 1; k < 8; k++) rmSync(join(folder, 'ct', `${k}.dcm`));
    writeFileSync(join(folder, 'ct', '0.dcm'), 'x');
    writeFileSync(
      join(folder, 'shelf.yaml'),
      'format: pavm-shelf/1\ndevices: [{ code: A, kind: micro-plug, diameter: 8 }]\n',
    );
    const { code, err } = await check([folder], { quiet: true });
    expect(code).toBe(3);
    const lines = err.trim().split('\n');
    expect(lines).toHaveLength(3);
    expect(lines[0]).toMatch(
      /case\.yaml:9:11 scan\.series: "ct": it contains no CT image, but 1 file that is not DICOM/,
    );
    expect(lines[1]).toMatch(/surfaces\.parts\[2\]\.mesh: "meshes\/sac\.stl" claims 4294967295 triangles/);
    expect(lines[2]).toMatch(/shelf\.yaml:2:50 devices\[0\]\.diameter: "8" has no unit/);
  });

  it('reports an error from every stage in one pass, in file order', () => {
    const folder = join(root, 'all');
    mkdirSync(join(folder, 'ct'), { recursive: true });
    mkdirSync(join(folder, 'meshes'));
    writeFileSync(join(folder, 'ct', 'readme.txt'), 'no image');
    writeFileSync(join(folder, 'meshes', 'sac.stl'), 'solid');
    writeFileSync(join(folder, 'meshes', 'v1.stl'), 'solid x\n facet normal 0 0 1\n');
    writeFileSync(
      join(folder, 'shelf.yaml'),
      'format: pavm-shelf/1\nformat: pavm-shelf/1\ndevices: [{ code: A, kind: micro-plug, diameter: 8 }, { code: B, kind: plug, diameter: 8 mm }]\n',
    );
    writeFileSync(
      join(folder, 'case.yaml'),
      `format: pavm-case/1
id: all
id: twice
titel: a misspelt key
scan: { slice_thickness: 0.8, series: ct }
lesion: { side: left, lobe: middle }
gases:
  - { fio2: 1.0, site: arterial, po2: 720 mmHg, pco2: 34 mmHg, pressure: 712 mmHg }
blood: { haemoglobin: 15 g/dL }
surfaces:
  unit: mm
  frame: LPS
  parts:
    - { name: A1, role: feeder, mesh: ../a1.stl }
    - { name: sac, role: sac, mesh: meshes/sac.stl }
    - { name: V1, role: drain, mesh: meshes/v2.stl }
    - { name: B1, role: branch, of: A9, mesh: meshes/v1.stl }
shelf: shelf.yaml
print: { process: sand }
expected:
  - { value: lesion.kind, equals: simple }
  - { value: lesion.kind, equals: complex }
`,
    );
    const { code, stdout, stderr } = pavm(['check', 'all', '--quiet'], { cwd: root });
    const lines = stderr.split('\n').map((line) => line.replace(/^(\S+) (\S+) .*/, '$1 $2'));
    expect(lines.slice(0, 14)).toEqual([
      'all/case.yaml:3:1 id:', // the parser: a key that appears twice
      'all/case.yaml:4:1 titel:', // the schema: an unknown key
      'all/case.yaml:5:26 scan.slice_thickness:', // a quantity without a unit
      'all/case.yaml:5:39 scan.series:', // a folder without images
      'all/case.yaml:6:29 lesion.lobe:', // a lobe that the side does not have
      'all/case.yaml:14:39 surfaces.parts[0].mesh:', // a path that leaves the folder
      'all/case.yaml:15:37 surfaces.parts[1].mesh:', // a file that is not a mesh
      'all/case.yaml:16:38 surfaces.parts[2].mesh:', // a mesh that is missing
      'all/case.yaml:17:37 surfaces.parts[3].of:', // a branch of a vessel that does not exist
      'all/shelf.yaml:2:1 format:', // three in the shelf file, listed where the case names it
      'all/shelf.yaml:3:50 devices[0].diameter:',
      'all/shelf.yaml:3:72 devices[1].kind:',
      'all/case.yaml:19:19 print.process:', // an unknown word
      'all/case.yaml:22:14 expected[1].value:', // the answer key
    ]);
    // and gases that contradict each other
    expect(stderr).toContain('\nall/case.yaml:8:39 stop gases[0].po2: ');
    expect(stdout).toBe('BAD all/case.yaml  14 problems\n');
    expect(code).toBe(2);
  });

  it('a missing shelf does not hide other errors', () => {
    makeCase(
      'hidden',
      'format: pavm-case/1\nid: hidden\nblood: { haemoglobin: 15 }\ncirculation: { cardiac_output: 6 }\nplanned: { date: 2026-02-30 }\nshelf: shelve.yaml\n',
    );
    const { code, stdout, stderr } = pavm(['check', 'hidden'], { cwd: root });
    expect(stderr.split('\n').filter((line) => / caution | note /.test(line) === false)).toHaveLength(5);
    expect(stderr).toContain(
      'hidden/case.yaml:6:8 shelf: there is no file "shelve.yaml". Did you mean "shelf.yaml"?',
    );
    expect([code, stdout]).toEqual([2, 'BAD hidden/case.yaml  4 problems\n']);
  });

  it('shows findings on stderr, and no notes when quiet', async () => {
    const folder = makeCase('heron');
    const text = readFileSync(join(folder, 'case.yaml'), 'utf8');
    writeFileSync(
      join(folder, 'case.yaml'),
      text
        .replace('    altitude: 540 m', '    altitude: 540 m\n    pressure: 712 mmHg')
        .replace('210 mmHg', '78 mmHg')
        .replace(/\n {4}so2: .*/, ''),
    );
    const loud = await check([folder]);
    expect(loud.err).toMatch(/heron\/case\.yaml:\d+:5 note gases\[0\]: Both altitude and pressure/);
    expect(loud.err).toMatch(/case\.yaml:\d+:\d+ caution gases\[0\]\.po2: .*78/);
    const quiet = await check([folder], { quiet: true });
    expect(quiet.err).not.toContain('note');
    expect(quiet.err).toContain('caution');
    expect(quiet.code).toBe(loud.code);
    expect(quiet.out).toBe(loud.out);
  });

  it('prints JSON', async () => {
    const good = makeCase('heron');
    const bad = join(root, 'none');
    const { code, out, err } = await check([good, bad], { json: true });
    expect(code).toBe(2);
    expect(err).toBe('');
    expect(JSON.parse(out)).toEqual([
      {
        file: join(good, 'case.yaml'),
        ok: true,
        id: 'heron',
        title: 'Two-feeder lesion of the lingula',
        errors: [],
        findings: expect.not.arrayContaining([expect.objectContaining({ level: 'caution' })]),
      },
      {
        file: bad,
        ok: false,
        errors: [`${bad}: there is no such file or folder. Check the path.`],
        findings: [],
      },
    ]);
  });

  it('requires distinct ids', async () => {
    const a = makeCase('heron');
    const b = makeCase('copy');
    writeFileSync(join(b, 'case.yaml'), readFileSync(join(a, 'case.yaml')));
    const { code, err } = await check([a, b]);
    expect(code).toBe(2);
    expect(err).toContain(`id: "heron" is the id of ${join(a, 'case.yaml')} too`);
    expect((await check([a, a])).code).toBe(0);
  });

  it('needs --root for a shelf outside the case folder', async () => {
    const folder = makeCase('heron', FULL);
    writeFileSync(join(root, 'shelf.yaml'), SHELF);
    const refused = await check([folder]);
    expect(refused.code).toBe(2);
    expect(refused.err).toContain('shelf: "../shelf.yaml" is outside the folder of the case file');
    expect((await check([folder], { root })).code).toBe(0);
  });

  it('needs an argument', async () => {
    await expect(check([])).rejects.toMatchObject({ exitCode: 2 });
  });

  it('keeps hostile names off the terminal', async () => {
    const { err, out } = await check([join(root, 'a\u001b[2Jb')]);
    expect(`${err}${out}`).not.toContain('\u001b');
    expect(err).toContain('\\u{1b}');
  });

  it('takes less than 0.4 s of CPU time for a small case once loaded', async () => {
    const folder = makeCase('heron');
    await check([folder]);
    const before = process.cpuUsage();
    await check([folder]);
    const { user, system } = process.cpuUsage(before);
    expect((user + system) / 1000).toBeLessThan(400);
  });
});
