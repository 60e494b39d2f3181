import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { planResult } from '../../src/cli/plan/plan-files.js';
import { measureCase } from '../../src/cli/measure/measure-case.js';
import { loadSurface } from '../../src/mesh/load-surface.js';
import { boundingBox } from '../../src/mesh/measures.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { box, together } from '../mesh/shapes.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 180_000, hookTimeout: 180_000 });

const folder = mkdtempSync(join(tmpdir(), 'pieces-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const file = join(folder, 'case.yaml');

/** Forty 1 mm voxels around a structure, up to 60 mm away, like noise in a label map. */
const noise = (mesh: TriangleMesh): TriangleMesh => {
  const { max } = boundingBox(mesh);
  const islands = Array.from({ length: 40 }, (_, i) =>
    box(1, 1, 1, [max[0] + 2 + 1.5 * i, max[1] + 3 * (i % 7), max[2] - 2 * (i % 5)]),
  );
  return together(...islands, mesh);
};

describe('a case whose sac and feeder come with forty loose voxels each', () => {
  const clean = { volume: 0, longest: 0, length: 0, calibre: 0 };

  beforeAll(async () => {
    cpSync('cases/plover', folder, { recursive: true });
    const { lesion } = await measureCase(file);
    const a1 = lesion.vessels.find(({ name }) => name === 'A1')!;
    Object.assign(clean, {
      volume: lesion.sac!.volumeMl,
      longest: lesion.sac!.longestMm,
      length: a1.lengthMm,
      calibre: a1.landing!.calibreMm,
    });
    for (const name of ['sac', 'A1']) {
      const path = join(folder, `meshes/${name}.stl`);
      const { mesh } = await loadSurface(path, { unitMm: 1, label: name });
      writeFileSync(path, writeStl(noise(mesh)));
    }
  });

  it('is measured on the largest piece, with one finding for each structure', async () => {
    const { result } = await planResult(await measureCase(file));
    expect(result.sac!.volume_ml).toBeCloseTo(clean.volume, 6);
    expect(result.sac!.longest_mm).toBeCloseTo(clean.longest, 4);
    expect(result.vessels.A1.length_mm).toBeCloseTo(clean.length, 2);
    expect(result.vessels.A1.landing!.calibre_mm).toBeCloseTo(clean.calibre, 2);
    const said = result.findings.filter(({ text }) => /piece|part/.test(text));
    expect(said.map(({ id, level, where }) => `${where} ${level} ${id}`).sort()).toEqual([
      'A1 caution loose-pieces',
      'sac caution loose-pieces',
    ]);
  });

  it('gets only a note once the case drops them', async () => {
    const text = readFileSync(file, 'utf8');
    writeFileSync(file, text.replace(/^surfaces:\n/m, 'surfaces:\n  drop_below: 2 mm3\n'));
    const measured = await measureCase(file);
    const said = (await measured.findings()).filter(({ id }) => id === 'loose-pieces');
    expect(said.map(({ level }) => level)).toEqual(['note', 'note']);
    expect(said[0].text).toContain('40 pieces below 2 mm3 (surfaces.drop_below) were left out');
    expect((await measured.findings()).map(({ id }) => id)).not.toContain('not-used-yet');
    writeFileSync(file, text);
  });

  it('has no values for a vessel in two pieces', async () => {
    const path = join(folder, 'meshes/A1.stl');
    const { mesh } = await loadSurface(path, { unitMm: 1, label: 'A1' });
    writeFileSync(path, writeStl(together(mesh, box(9, 9, 9, [-60, 0, 0]))));
    const measured = await measureCase(file);
    expect(measured.lesion.vessels.map(({ name }) => name)).not.toContain('A1');
    const stops = (await measured.findings()).filter(({ level }) => level === 'stop');
    expect(stops.map(({ id, where }) => `${where} ${id}`)).toContain('A1 loose-pieces');
  });
});
