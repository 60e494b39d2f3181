import { createHash } from 'node:crypto';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, it } from 'vitest';
import { measureCase } from '../../src/cli/measure/measure-case.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { lineCurve } from '../../src/phantoms/curve.js';
import { roundTube, sweptTube } from '../../src/phantoms/tube.js';

const folder = mkdtempSync(join(tmpdir(), 'pavm-inputs-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

it('lists every file it read, with the hash and size of its bytes', async () => {
  const tube = sweptTube(
    roundTube(lineCurve([0, 0, 0], [20, 0, 0]), () => 4),
    { around: 24, stepMm: 1 },
  );
  mkdirSync(join(folder, 'meshes'));
  writeFileSync(join(folder, 'meshes', 'a1.stl'), writeStl(tube));
  writeFileSync(join(folder, 'not-named.stl'), writeStl(tube));
  writeFileSync(join(folder, 'shelf.yaml'), 'format: pavm-shelf/1\nas_of: 2026-03-20\ndevices: []\n');
  writeFileSync(
    join(folder, 'case.yaml'),
    'format: pavm-case/1\nid: inputs\npurpose: demo\nshelf: shelf.yaml\nsurfaces:\n  unit: mm\n  frame: LPS\n  parts:\n    - { name: A1, role: feeder, mesh: meshes/a1.stl }\n',
  );
  const { inputs } = await measureCase(folder);
  const names = ['case.yaml', 'meshes/a1.stl', 'shelf.yaml'];
  expect(inputs).toEqual(
    names.map((path) => ({
      path,
      sha256: createHash('sha256')
        .update(readFileSync(join(folder, path)))
        .digest('hex'),
      bytes: statSync(join(folder, path)).size,
    })),
  );
});
