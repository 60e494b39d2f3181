import { execFileSync } from 'node:child_process';
import {
  mkdirSync,
  mkdtempSync,
  realpathSync,
  rmSync,
  symlinkSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeEach, describe, expect, it } from 'vitest';
import { patientFileOf } from '../../src/case/case-files.js';
import { LARGEST_MESH_BYTES } from '../../src/case/confined-path.js';
import { readCase } from '../../src/case/read-case.js';
import { readShelf } from '../../src/case/read-shelf.js';
import { failureOf } from './problems-of.js';

const base = realpathSync(mkdtempSync(join(tmpdir(), 'pavm-read-')));
afterAll(() => rmSync(base, { recursive: true, force: true }));

let folder = '';
let count = 0;
beforeEach(() => {
  folder = join(base, `f${count++}`, 'case');
  mkdirSync(join(folder, 'meshes'), { recursive: true });
});

const write = (name: string, text = 'solid x\nfacet') => writeFileSync(join(folder, name), text);
const withMeshes = (...meshes: string[]) =>
  `format: pavm-case/1\nid: x\npurpose: demo\nsurfaces:\n  unit: mm\n  frame: LPS\n  parts:\n${meshes
    .map((mesh, i) => `    - { name: A${i + 1}, role: feeder, mesh: "${mesh}" }\n`)
    .join('')}`;

describe('finding the case file', () => {
  it('accepts a file or its folder', async () => {
    write('case.yaml', 'format: pavm-case/1\nid: x\n');
    const direct = await readCase(join(folder, 'case.yaml'));
    const byFolder = await readCase(folder);
    expect(direct.case.id).toBe('x');
    expect(byFolder).toMatchObject({
      file: { relative: 'case.yaml', absolute: join(folder, 'case.yaml') },
      folder,
      typed: join(folder, 'case.yaml'),
      text: 'format: pavm-case/1\nid: x\n',
      inputs: [],
    });
    expect(Buffer.from(byFolder.bytes).toString()).toBe(byFolder.text);
    expect(byFolder.case.locate('id')).toBe('case.yaml:2:5');
  });

  it('accepts a single case file with another name', async () => {
    write('shelf.yaml', 'format: pavm-shelf/1\ndevices: []\n');
    write('heron.yaml', 'format: "pavm-case/1"\nid: heron\n');
    expect((await readCase(folder)).case.id).toBe('heron');
  });

  it.each([
    ['JSON', '{\n  "format": "pavm-case/1",\n  "id": "heron"\n}\n'],
    ['one line', '{ id: heron, format: pavm-case/1 }\n'],
    ['an indented mapping', '  format: pavm-case/1\n  id: heron\n'],
    ['a quoted key', "'format': 'pavm-case/1'\nid: heron\n"],
  ])('accepts it as %s', async (_style, text) => {
    write('heron.yaml', text);
    write('notes.yaml', '# like { format: pavm-case/1 }\nformat: pavm-rules/1\n');
    expect((await readCase(folder)).case.id).toBe('heron');
  });

  it.each([
    ['JSON', '{\n  "format": "pavm-patient/1"\n}\n', true],
    ['one line', '{ id: avocet, format: pavm-patient/1 }\n', true],
    ['a comment', '# { format: pavm-patient/1 }\nformat: pavm-case/1\n', false],
  ])('distinguishes a patient file from a case file: %s', async (_style, text, isPatient) => {
    write('avocet.yaml', text);
    const path = join(folder, 'avocet.yaml');
    expect(await patientFileOf(path)).toBe(isPatient ? path : undefined);
  });

  it('does not choose between two', async () => {
    write('a.yaml', 'format: pavm-case/1\nid: a\n');
    write('b.yml', 'format: pavm-case/1\nid: b\n');
    const { message, exitCode } = await failureOf(() => readCase(folder));
    expect(message).toContain('several case files (a.yaml, b.yml). Name one of them.');
    expect(exitCode).toBe(2);
  });

  it.each([
    ['an empty folder', () => folder, 'the folder contains no case file. Write one with: pavm new'],
    ['nothing', () => join(folder, 'none.yaml'), 'there is no such file or folder'],
    ['a path through a file', () => join(folder, 'x', 'y'), 'there is no such file or folder'],
    ['a device', () => '/dev/zero', 'not a regular file'],
    [
      'a folder named case.yaml',
      () => {
        mkdirSync(join(folder, 'case.yaml'));
        return folder;
      },
      'not a regular file',
    ],
  ])('%s exits with code 2', async (_name, path, text) => {
    const { message, exitCode } = await failureOf(() => readCase(path()));
    expect(message).toContain(text);
    expect(exitCode).toBe(2);
  });

  it('refuses a file above the limit before reading it', async () => {
    write('case.yaml', '');
    truncateSync(join(folder, 'case.yaml'), 3 * 1024 ** 3);
    expect((await failureOf(() => readCase(folder))).message).toContain(
      '3221225472 bytes; at most 2097152 are read',
    );
  });
});

describe('inputs', () => {
  it('are found next to the case', async () => {
    write('meshes/a.stl');
    write('case.yaml', withMeshes('meshes/a.stl', './meshes//a.stl', 'meshes\\\\a.stl'));
    const { inputs, case: read } = await readCase(folder);
    expect(inputs.map(({ path, role, size, input }) => [path, role, size, input.relative])).toEqual([
      ['surfaces.parts[0].mesh', 'mesh', 13, 'meshes/a.stl'],
      ['surfaces.parts[1].mesh', 'mesh', 13, 'meshes/a.stl'],
      ['surfaces.parts[2].mesh', 'mesh', 13, 'meshes/a.stl'],
    ]);
    expect(read.surfaces?.parts?.[0].mesh.absolute).toBe(join(folder, 'meshes/a.stl'));
  });

  it('that are missing are listed all at once with exit code 3', async () => {
    write('meshes/feeder-1.stl');
    write(
      'case.yaml',
      `${withMeshes('meshes/feeder-l.stl', 'b.stl')}scan: { series: ct }\nshelf: shelf.yaml\n`,
    );
    const { problems, exitCode } = await failureOf(() => readCase(folder));
    const at = join(folder, 'case.yaml');
    expect(problems).toEqual([
      `${at}:8:39 surfaces.parts[0].mesh: there is no file "meshes/feeder-l.stl". Did you mean "feeder-1.stl"? Paths start from the folder of the case file.`,
      `${at}:9:39 surfaces.parts[1].mesh: there is no file "b.stl". Paths start from the folder of the case file.`,
      `${at}:10:17 scan.series: there is no folder "ct". Paths start from the folder of the case file.`,
      `${at}:11:8 shelf: there is no file "shelf.yaml". Paths start from the folder of the case file.`,
    ]);
    expect(exitCode).toBe(3);
  });

  it.each([
    ['../secret.stl'],
    ['meshes/../../secret.stl'],
    ['..\\secret.stl'],
    ['/etc/passwd'],
    ['C:\\secret.stl'],
    ['../../../../../../../../../../etc/passwd'],
  ])('%j outside the case folder is refused with exit code 2', async (path) => {
    writeFileSync(join(folder, '..', 'secret.stl'), 'solid x\nfacet');
    write('case.yaml', withMeshes(path.replaceAll('\\', '\\\\')));
    const { problems, exitCode } = await failureOf(() => readCase(folder));
    expect(problems).toHaveLength(1);
    expect(problems[0]).toMatch(
      /case\.yaml:8:39 surfaces\.parts\[0\]\.mesh: ".*" is outside the folder of the case file\./,
    );
    expect(exitCode).toBe(2);
  });

  it('gives the same message for a file outside whether it exists or not', async () => {
    write('case.yaml', withMeshes('../none.stl'));
    const absent = await failureOf(() => readCase(folder));
    writeFileSync(join(folder, '..', 'none.stl'), 'solid x\nfacet');
    const present = await failureOf(() => readCase(folder));
    expect(absent.message).toBe(present.message);
  });

  it('reached through a symbolic link that leaves the folder are refused', async () => {
    writeFileSync(join(folder, '..', 'secret.stl'), 'solid x\nfacet');
    symlinkSync(join(folder, '..', 'secret.stl'), join(folder, 'meshes', 'link.stl'));
    symlinkSync(join(folder, '..'), join(folder, 'up'));
    write('case.yaml', withMeshes('meshes/link.stl', 'up/secret.stl'));
    const { problems, exitCode } = await failureOf(() => readCase(folder));
    expect(problems).toHaveLength(2);
    for (const line of problems)
      expect(line).toContain('is outside the folder of the case file through a symbolic link');
    expect(exitCode).toBe(2);
  });

  it('reached through a symbolic link that stays inside are accepted', async () => {
    write('meshes/a.stl');
    symlinkSync('a.stl', join(folder, 'meshes', 'link.stl'));
    write('case.yaml', withMeshes('meshes/link.stl'));
    expect((await readCase(folder)).inputs[0].input).toEqual({
      relative: 'meshes/link.stl',
      absolute: join(folder, 'meshes', 'a.stl'),
    });
  });

  it('outside are accepted where --root contains them, including absolute ones', async () => {
    const shared = join(folder, '..');
    writeFileSync(join(shared, 'shared.stl'), 'solid x\nfacet');
    write('case.yaml', withMeshes('../shared.stl', join(shared, 'shared.stl')));
    const { inputs } = await readCase(folder, { root: shared });
    expect(inputs.map(({ input }) => input.relative)).toEqual(['../shared.stl', '../shared.stl']);
    symlinkSync('/etc/passwd', join(shared, 'link.stl'));
    write('case.yaml', withMeshes('../link.stl'));
    const { message } = await failureOf(() => readCase(folder, { root: shared }));
    expect(message).toContain('outside the case folder and the --root folder through a symbolic link');
    write('case.yaml', withMeshes('../../x.stl'));
    expect((await failureOf(() => readCase(folder, { root: shared }))).exitCode).toBe(2);
  });

  it('a root that is missing or not a folder is named', async () => {
    write('case.yaml', withMeshes('a.stl'));
    write('a.stl');
    expect((await failureOf(() => readCase(folder, { root: join(folder, 'no') }))).message).toMatch(
      /^--root .*no such/,
    );
    expect((await failureOf(() => readCase(folder, { root: join(folder, 'a.stl') }))).message).toMatch(
      /^--root .*not a folder/,
    );
  });

  it('that are folders, pipes, empty, too large or loops are refused with exit code 3', async () => {
    mkdirSync(join(folder, 'dir.stl'));
    execFileSync('mkfifo', [join(folder, 'pipe.stl')]);
    write('empty.stl', '');
    write('large.stl', 'x');
    truncateSync(join(folder, 'large.stl'), LARGEST_MESH_BYTES + 1);
    symlinkSync('loop.stl', join(folder, 'loop.stl'));
    write(
      'case.yaml',
      withMeshes('dir.stl', 'pipe.stl', 'empty.stl', 'large.stl', 'loop.stl', `${'a'.repeat(300)}.stl`),
    );
    const { problems, exitCode } = await failureOf(() => readCase(folder));
    expect(problems.map((line) => line.replace(/^.*mesh: /, ''))).toEqual([
      '"dir.stl" is not a regular file. Give the path of a file.',
      '"pipe.stl" is not a regular file. Give the path of a file.',
      '"empty.stl" is empty. Export it again.',
      `"large.stl" has ${LARGEST_MESH_BYTES + 1} bytes; meshes up to ${LARGEST_MESH_BYTES} bytes (1 GiB) are read. Simplify it.`,
      '"loop.stl" is a symbolic link that leads to itself.',
      expect.stringContaining('is too long a path'),
    ]);
    expect(exitCode).toBe(3);
  });

  it('a mesh of exactly 1 GiB is accepted', async () => {
    write('large.stl', 'x');
    truncateSync(join(folder, 'large.stl'), LARGEST_MESH_BYTES);
    write('case.yaml', withMeshes('large.stl'));
    expect((await readCase(folder)).inputs[0].size).toBe(LARGEST_MESH_BYTES);
  });

  it('a series may be a folder or a file, a label map a file', async () => {
    write('ct', 'x');
    write('case.yaml', 'format: pavm-case/1\nid: x\nscan: { series: ct }\n');
    expect((await readCase(folder)).inputs).toMatchObject([{ role: 'series', size: 1 }]);
    rmSync(join(folder, 'ct'));
    mkdirSync(join(folder, 'ct'));
    expect((await readCase(folder)).inputs).toMatchObject([{ role: 'series' }]);
    write(
      'case.yaml',
      'format: pavm-case/1\nid: x\nsurfaces: { unit: mm, labels: { file: ct, parts: [{ name: A1, role: feeder, label: 1 }] } }\n',
    );
    expect((await failureOf(() => readCase(folder))).message).toContain(
      '"ct" is not a regular file. Give the path of a file.',
    );
  });
});

describe('shelf files', () => {
  const shelf = (text: string): string => {
    write('shelf.yaml', text);
    return join(folder, 'shelf.yaml');
  };

  it('are read in the units that the keys state', async () => {
    const path = new URL('../fixtures/cases/shelf.yaml', import.meta.url).pathname;
    expect(await readShelf(path)).toEqual({
      asOf: '2026-03-20',
      devices: [
        {
          code: 'PLUG-08',
          kind: 'vascular-plug',
          diameterMm: 8,
          lengthMm: 7,
          needsLumenMm: 1.8,
          inStock: 2,
          leadTimeDays: 21,
          nickel: 'yes',
          vesselMinMm: undefined,
          vesselMaxMm: undefined,
        },
        {
          code: 'COIL-10',
          kind: 'detachable-coil',
          diameterMm: 10,
          lengthMm: 300,
          needsLumenMm: 0.6,
          inStock: 6,
          leadTimeDays: 3,
          nickel: 'no',
          vesselMinMm: undefined,
          vesselMaxMm: undefined,
        },
        {
          code: 'MICRO-5',
          kind: 'micro-plug',
          diameterMm: 5,
          lengthMm: undefined,
          needsLumenMm: expect.closeTo(0.5334, 10),
          inStock: undefined,
          leadTimeDays: 14,
          nickel: undefined,
          vesselMinMm: 3,
          vesselMaxMm: 4.5,
        },
      ],
    });
  });

  it.each([
    ['format: pavm-shelf/1\n', '1:1 devices: is missing'],
    ['format: pavm-case/1\n', '1:9 format: "pavm-case/1" is not a shelf file'],
    ['- a\n', '1:1 this is not a pavm shelf file: it has no "format: pavm-shelf/1"'],
    [
      'format: pavm-shelf/1\ndevices: [{ code: A, kind: plug, diameter: 8 mm }]\n',
      '2:28 devices[0].kind: "plug" is not known here',
    ],
    [
      'format: pavm-shelf/1\ndevices: [{ code: A, kind: micro-plug, diameter: 8 }]\n',
      'devices[0].diameter: "8" has no unit',
    ],
    ['format: pavm-shelf/1\ndevices: [{ code: A, kind: micro-plug }]\n', 'devices[0].diameter: is missing'],
    [
      'format: pavm-shelf/1\ndevices: [{ code: A, kind: micro-plug, diameter: 8 mm, in_stock: -1 }]\n',
      'devices[0].in_stock: "-1" is out of range',
    ],
    [
      'format: pavm-shelf/1\ndevices: [{ code: A, kind: micro-plug, diameter: 8 mm, in_stock: 1.5 }]\n',
      'devices[0].in_stock: "1.5" must be a whole number',
    ],
    [
      'format: pavm-shelf/1\ndevices: [{ code: A, kind: micro-plug, diameter: 8 mm, vessel_min: 5 mm, vessel_max: 4 mm }]\n',
      'devices[0].vessel_max: "4 mm" is less than vessel_min',
    ],
    [
      'format: pavm-shelf/1\ndevices:\n  - &d { code: A, kind: micro-plug, diameter: 8 mm }\n  - *d\n',
      'devices[1].code: "A" is the code of devices[0] too',
    ],
    ['format: pavm-shelf/1\nas_of: 2026-13-01\ndevices: []\n', '2:8 as_of: "2026-13-01" has no such month'],
  ])('%j', async (text, message) => {
    const { problems, exitCode } = await failureOf(() => readShelf(shelf(text)));
    expect(problems).toHaveLength(1);
    expect(problems[0]).toContain(message);
    expect(problems[0]).toMatch(/^shelf\.yaml:\d+:\d+ /);
    expect(exitCode).toBe(3);
  });

  it('that are missing lead to exit code 3', async () => {
    expect((await failureOf(() => readShelf(join(folder, 'no.yaml')))).exitCode).toBe(3);
  });
});
