import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { pavm } from './run-pavm.js';

const base = mkdtempSync(join(tmpdir(), 'pavm-special-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));

const caseWith = (lines: string): string => `format: pavm-case/1\nid: pipes\n${lines}`;
const mesh = (file: string): string =>
  caseWith(`surfaces:\n  unit: mm\n  parts:\n    - { name: A1, role: feeder, mesh: ${file} }\n`);

beforeAll(() => {
  for (const folder of ['gas', 'mesh', 'labels', 'shelf', 'pipe', 'share', 'folder'])
    mkdirSync(join(base, folder));
  for (const pipe of [
    'pipe.yaml',
    'mesh/pipe.stl',
    'labels/pipe.nii',
    'shelf/pipe.yaml',
    'pipe/case.yaml',
    'share/summary.json',
  ])
    execFileSync('mkfifo', [join(base, pipe)]);
  writeFileSync(join(base, 'gas/case.yaml'), caseWith(''));
  writeFileSync(join(base, 'mesh/case.yaml'), mesh('pipe.stl'));
  writeFileSync(
    join(base, 'labels/case.yaml'),
    caseWith(
      'surfaces:\n  unit: mm\n  labels:\n    file: pipe.nii\n    parts:\n      - { label: 1, name: A1, role: feeder }\n',
    ),
  );
  writeFileSync(join(base, 'shelf/case.yaml'), caseWith('shelf: pipe.yaml\n'));
});

/** A pipe without a writer, a device or a folder; opening the pipe for reading would block forever. */
const tried: [string, string[], number, string][] = [
  [
    'size --shelf, a pipe',
    ['size', '--calibre', '6mm', '--shelf', 'pipe.yaml'],
    3,
    'pipe.yaml: it is a pipe, not a regular file. Give the path of a file.',
  ],
  [
    'size --shelf, a device',
    ['size', '--calibre', '6mm', '--shelf', '/dev/zero'],
    3,
    '/dev/zero: it is a device, not a regular file. Give the path of a file.',
  ],
  [
    'size --shelf, a folder',
    ['size', '--calibre', '6mm', '--shelf', 'folder'],
    3,
    'folder: it is a folder, not a regular file. Give the path of a file.',
  ],
  [
    'proof --surface, a pipe',
    ['proof', '{heron}', '--surface', 'pipe.yaml'],
    3,
    'pipe.yaml: it is a pipe, not a regular file. Give the path of a file.',
  ],
  [
    'proof --surface, a device',
    ['proof', '{heron}', '--surface', '/dev/zero'],
    3,
    'zero: it is a device, not a regular file. Give the path of a file.',
  ],
  [
    'proof --readings, a pipe',
    ['proof', '{heron}', '--readings', 'pipe.yaml'],
    3,
    'pipe.yaml: it is a pipe, not a regular file. Give a readings file to --readings.',
  ],
  [
    'grade --answers, a pipe',
    ['grade', '{heron}', '--answers', 'pipe.yaml'],
    3,
    'pipe.yaml: it is a pipe, not a regular file. Give the path of a file.',
  ],
  [
    'gather, a pipe as summary',
    ['gather', 'share'],
    3,
    'share/summary.json: it is a pipe, not a regular file. Give the path of a file.',
  ],
  [
    'inspect, a pipe',
    ['inspect', 'pipe.yaml'],
    3,
    'pipe.yaml: it is not a file or folder. Give a mesh file, a label map or a DICOM folder.',
  ],
  [
    'a case file that is a pipe',
    ['plan', 'pipe.yaml'],
    2,
    'pipe.yaml: it is a pipe, not a regular file. Give the path of a file.',
  ],
  [
    'a folder whose case file is a pipe',
    ['check', 'pipe'],
    2,
    'pipe/case.yaml: it is a pipe, not a regular file. Give the path of a file.',
  ],
  [
    'a case whose mesh is a pipe',
    ['plan', 'mesh'],
    3,
    'mesh/case.yaml:6:39 surfaces.parts[0].mesh: "pipe.stl" is not a regular file. Give the path of a file.',
  ],
  [
    'a case whose label map is a pipe',
    ['surface', 'labels'],
    3,
    'labels/case.yaml:6:11 surfaces.labels.file: "pipe.nii" is not a regular file. Give the path of a file.',
  ],
  [
    'a case whose shelf is a pipe',
    ['plan', 'shelf'],
    3,
    'shelf/case.yaml:3:8 shelf: "pipe.yaml" is not a regular file. Give the path of a file.',
  ],
];

describe.skipIf(process.platform === 'win32')('refuses at once what is not a regular file', () => {
  it.each(tried)('%s', (_name, args, code, line) => {
    const heron = join(process.cwd(), 'cases/heron');
    const ran = pavm(
      args.map((arg) => arg.replace('{heron}', heron)),
      { cwd: base },
    );
    expect(ran).toMatchObject({ code, stderr: expect.stringContaining(`${line}\n`) });
    expect(ran.stderr).not.toContain('internal error');
  });
});
