import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it, vi } from 'vitest';
import { run as inspect } from '../../src/cli/commands/inspect.js';
import { planResult } from '../../src/cli/plan/plan-files.js';
import { measureCase } from '../../src/cli/measure/measure-case.js';
import { loadSurface } from '../../src/mesh/load-surface.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { box, gridSphere, moved, together, tubeWall } from '../mesh/shapes.js';
import { capture } from './capture.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 180_000 });

const folder = mkdtempSync(join(tmpdir(), 'wall-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const CASE = `format: pavm-case/1
id: wall
purpose: demo
scan: { date: 2026-03-11, slice_thickness: 0.6 mm, in_plane: 0.6 mm }
surfaces:
  unit: mm
  frame: LPS
  parts:
    - { name: A1, role: feeder, mesh: meshes/a1.stl }
    - { name: sac, role: sac, mesh: meshes/sac.stl }
print: { scale: 1 }
`;

describe('a feeder whose surface is its wall, 6 mm inside and 8 mm outside', () => {
  mkdirSync(join(folder, 'meshes'), { recursive: true });
  const wall = join(folder, 'meshes/a1.stl');
  writeFileSync(wall, writeStl(tubeWall(96, 4, 3, 42, 60)));
  writeFileSync(join(folder, 'meshes/sac.stl'), writeStl(moved(gridSphere(80, 12), [0, 0, 50])));
  writeFileSync(join(folder, 'case.yaml'), CASE);

  it('is recognised as a wall, measured inside and gauged outside', async () => {
    const { result } = await planResult(await measureCase(folder));
    const said = result.findings.filter(({ id }) => id === 'wall-not-lumen');
    expect(said.map(({ where, level }) => `${where} ${level}`)).toEqual(['A1 caution']);
    expect(said[0].text).toMatch(/^The surface is a wall about 1\.00 mm thick/);
    expect(Math.abs(result.vessels.A1.calibre_mm.mean - 6)).toBeLessThan(0.03);
    expect(Math.abs(result.vessels.A1.length_mm! - 38)).toBeLessThan(0.3);
    const gauges = result.print!.gauges.filter(({ what }) => what?.startsWith('Diameter of A1'));
    expect(gauges).toHaveLength(4);
    for (const gauge of gauges) expect(Math.abs(gauge.expected_mm - 8)).toBeLessThan(0.1);
  });

  it('is recognised by inspect', async () => {
    const { out } = await capture((t) => inspect([wall], {}, t));
    expect(out).toContain('caution wall-not-lumen: The surface is a wall about 1.00 mm thick');
  });
});

it('loose pieces of one surface of the whole blood pool are left out and counted', async () => {
  const dir = join(folder, 'whole');
  cpSync('cases/plover-whole', dir, { recursive: true });
  const path = join(dir, 'meshes/lesion.stl');
  const { mesh } = await loadSurface(path, { unitMm: 1, label: 'whole' });
  const islands = Array.from({ length: 40 }, (_, i) => box(1, 1, 1, [120 + 2 * i, 0, 0]));
  writeFileSync(path, writeStl(together(...islands, mesh)));
  const key = readFileSync(join(dir, 'case.yaml'), 'utf8');
  writeFileSync(join(dir, 'case.yaml'), key.replace(/^surfaces:\n/m, 'surfaces:\n  drop_below: 2 mm3\n'));
  const measured = await measureCase(dir);
  expect(Math.abs(measured.lesion.sac!.volumeMl - 5.9)).toBeLessThan(0.1);
  const said = (await measured.findings()).filter(({ text }) => /pieces|parts that/.test(text));
  expect(said.map(({ id, level, where }) => `${where} ${level} ${id}`)).toEqual(['whole note loose-pieces']);
});
