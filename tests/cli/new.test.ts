import {
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeEach, describe, expect, it } from 'vitest';
import { readCase } from '../../src/case/read-case.js';
import { parseShelf } from '../../src/case/read-shelf.js';
import { type NewOptions, run } from '../../src/cli/commands/new.js';
import { ctFiles } from '../volume/ct/ct-bytes.js';

const base = mkdtempSync(join(tmpdir(), 'pavm-new-test-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));

let folder = '';
let count = 0;
beforeEach(() => {
  folder = join(base, `Case ${count++}`);
  mkdirSync(folder, { recursive: true });
});

function put(...paths: string[]): void {
  for (const path of paths) {
    mkdirSync(join(folder, path, '..'), { recursive: true });
    writeFileSync(join(folder, path), 'solid x\n facet normal 0 0 1\n');
  }
}

async function make(options: NewOptions = {}, ...rest: Parameters<typeof run>[3][]) {
  let err = '';
  const terminal = {
    out: () => expect.unreachable('nothing belongs on stdout'),
    err: (text: string) => {
      err += text;
    },
    colour: false,
    interactive: false,
    quiet: false,
  };
  const code = await run([folder], options, terminal, ...rest);
  return { code, err, text: readFileSync(join(folder, 'case.yaml'), 'utf8') };
}

describe('pavm new', () => {
  it('writes a case that can be read with all its inputs', async () => {
    put(
      'meshes/sac.stl',
      'meshes/feeder-1.stl',
      'meshes/deep/vein.PLY',
      'notes.txt',
      'plan/print/a.stl',
      '.hidden/b.stl',
    );
    const { code, err } = await make();
    expect(code).toBe(0);
    expect(err).toContain(
      'with 3 meshes, and shelf.yaml, which lists no device yet. Go through the lines marked CHECK, then: pavm check',
    );
    const { case: read, inputs } = await readCase(folder);
    expect(read.id).toMatch(/^case-\d+$/);
    expect(inputs.map(({ input }) => input.relative)).toEqual([
      'meshes/deep/vein.PLY',
      'meshes/feeder-1.stl',
      'meshes/sac.stl',
      'shelf.yaml',
    ]);
    expect(readdirSync(folder).filter((name) => name.startsWith('.pavm'))).toEqual([]);
  });

  it('fills in the scan from a series next to the meshes, and leaves it open where the series is unusable', async () => {
    put('meshes/sac.stl', 'meshes/feeder-1.stl');
    mkdirSync(join(folder, 'images'));
    const slices = ctFiles();
    slices.forEach((bytes, k) => {
      writeFileSync(join(folder, 'images', `SECRET_${k}`), bytes);
    });
    const { text, err } = await make();
    expect(text).toMatch(
      /^scan:\n {2}date: 2026-03-14 .*\n {2}slice_thickness: 1\.25 mm .*\n {2}in_plane: 0\.8 mm .*\n {2}series: "images"$/m,
    );
    const { case: read } = await readCase(folder);
    expect(read.scan).toMatchObject({ date: '2026-03-14', sliceThicknessMm: 1.25, inPlaneMm: 0.8 });
    writeFileSync(join(folder, 'images', 'twice'), slices[2]);
    const again = await make({ force: true });
    expect(again.text).toContain('# scan:');
    expect(again.err).toContain('images: One place contains more than one slice: z = 102.50 mm.');
    for (const said of [text, err, again.text, again.err]) expect(said).not.toContain('SECRET');
  });

  it('accepts a series without a mesh, and asks for the points', async () => {
    mkdirSync(join(folder, 'images'));
    ctFiles().forEach((bytes, k) => {
      writeFileSync(join(folder, 'images', `SECRET_${k}`), bytes);
    });
    const { text, err } = await make();
    const { case: read } = await readCase(folder);
    expect(read.scan).toMatchObject({ date: '2026-03-14', sliceThicknessMm: 1.25 });
    expect(text).toContain('  series: "images"\n');
    expect(read.surfaces?.fromScan?.ends.map(({ name, role }) => [name, role])).toEqual([
      ['A1', 'feeder'],
      ['V1', 'drain'],
    ]);
    expect(text.match(/# CHECK: the point is a placeholder/g)).toHaveLength(3);
    expect(text).toContain('pavm inspect FOLDER --sac=X,Y,Z');
    expect(err).toContain('with one CT series, to make the surface from');
    expect(text + err).not.toContain('SECRET');
  });

  it('names an unusable series where there is no mesh', async () => {
    mkdirSync(join(folder, 'images'));
    const slices = ctFiles();
    [...slices, slices[2]].forEach((bytes, k) => {
      writeFileSync(join(folder, 'images', `${k}`), bytes);
    });
    await expect(make()).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringMatching(/more than one slice[\s\S]*no mesh here/),
    });
  });

  it('writes the same bytes again', async () => {
    put('b/sac.stl', 'a/feeder.stl', 'c.obj');
    const first = await make();
    const second = await make({ force: true });
    expect(second.text).toBe(first.text);
  });

  it('never overwrites without force', async () => {
    put('feeder.stl');
    writeFileSync(join(folder, 'case.yaml'), 'mine');
    await expect(make()).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringContaining('there is a case file already'),
    });
    expect(readFileSync(join(folder, 'case.yaml'), 'utf8')).toBe('mine');
    expect((await make({ force: true })).text).toContain('format: pavm-case/1');
  });

  it('writes a shelf file without devices, and leaves an existing one alone', async () => {
    put('feeder.stl');
    await make();
    const shelf = join(folder, 'shelf.yaml');
    expect(await parseShelf(readFileSync(shelf, 'utf8'), 'shelf.yaml')).toEqual({ devices: [] });
    writeFileSync(shelf, 'mine');
    await make({ force: true });
    expect(readFileSync(shelf, 'utf8')).toBe('mine');
  });

  it('does not write through a dangling link', async () => {
    put('feeder.stl');
    symlinkSync(join(base, 'elsewhere.yaml'), join(folder, 'case.yaml'));
    await expect(make()).rejects.toMatchObject({ exitCode: 5 });
    expect(readdirSync(base)).not.toContain('elsewhere.yaml');
  });

  it('says what is needed without a mesh, and without a folder', async () => {
    await expect(make()).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringContaining('no mesh here. Put the segmented surfaces'),
    });
    folder = join(folder, 'none');
    await expect(make()).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringContaining('there is no such folder'),
    });
  });

  it('does not follow links out of the folder', async () => {
    put('feeder.stl');
    symlinkSync(base, join(folder, 'up'));
    symlinkSync('/etc/passwd', join(folder, 'link.stl'));
    expect((await make()).text).not.toMatch(/up\/|link\.stl/);
  });

  it('skips names that are not allowed in a case file, and says so', async () => {
    put('feeder.stl', 'a\u001bb.stl');
    const { err, text } = await make();
    expect(err).toContain('a\\u{1b}b.stl: skipped');
    expect(text).not.toContain('\u001b');
  });

  it('fills in proposed ends', async () => {
    put('lesion.stl');
    const { text } = await make({}, [{ letter: 'a', at: [1, 2, 3], calibreMm: 5 }]);
    expect(text).toContain('{ name: A1, role: feeder, at: [1, 2, 3] }   # opening a, 5.0 mm wide');
  });

  it('refuses more meshes than a case allows', async () => {
    put(...Array.from({ length: 201 }, (_, i) => `m${i}.stl`));
    await expect(make()).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringContaining('201 meshes here'),
    });
  });
});
