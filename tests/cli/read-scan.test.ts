import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, it } from 'vitest';
import { readScan } from '../../src/cli/proof/read-scan.js';
import { boundingBox } from '../../src/mesh/measures.js';
import { write3mf } from '../../src/mesh/write-3mf.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { box } from '../mesh/shapes.js';

const folder = mkdtempSync(join(tmpdir(), 'pavm-read-scan-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** A box of 20 x 30 x 40 as two files: STL states no unit, 3MF states millimetres. */
const paths = ['scan.stl', 'scan.3mf'].map((name) => join(folder, name));
writeFileSync(paths[0], writeStl(box(20, 30, 40)));
writeFileSync(paths[1], write3mf([{ name: 'scan', mesh: box(20, 30, 40) }]));

it('the unit of a scan: what --unit says, else the file, else mm, with a warning where in doubt', async () => {
  const read = async (path: string, unit?: string) => {
    const { mesh, unit: used, findings } = await readScan(path, unit);
    return [boundingBox(mesh).size[0], used.from, findings.map(({ id, level }) => `${level} ${id}`)];
  };
  const [stl, threeMf] = paths;
  expect(await read(stl)).toEqual([20, 'assumed', ['note scan-unit-assumed']]);
  expect(await read(stl, 'mm')).toEqual([20, 'flag', []]);
  expect(await read(threeMf)).toEqual([20, 'file', []]);
  expect(await read(threeMf, 'mm')).toEqual([20, 'flag', []]);
  expect(await read(threeMf, 'cm')).toEqual([200, 'flag', ['caution scan-unit-disagrees']]);
});
