import { copyFileSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it, vi } from 'vitest';
import { parse } from 'yaml';
import { run as inspect } from '../../src/cli/commands/inspect.js';
import { run as newCase } from '../../src/cli/commands/new.js';
import { run as plan } from '../../src/cli/commands/plan.js';
import { distance, type Vec3 } from '../../src/foundation/vector.js';
import { capture } from './capture.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 180_000 });

const CASE = 'cases/plover-whole';
const folder = mkdtempSync(join(tmpdir(), 'ends-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** The ends as the demonstration case names them, and its point in the sac. */
const { whole } = parse(readFileSync(`${CASE}/case.yaml`, 'utf8')).surfaces as {
  whole: { ends: { name: string; at: Vec3 }[]; sac: Vec3 };
};

describe('vessel ends of a fused surface', () => {
  it('inspect proposes each end of the demonstration lesion and its sac', async () => {
    const { code, out } = await capture((t) => inspect([`${CASE}/meshes/lesion.stl`], { json: true }, t));
    expect(code).toBe(0);
    const [object] = JSON.parse(out).objects as {
      vessel_ends: { at: Vec3; kind: string; calibre_mm: number }[];
      widest_place: { at: Vec3; diameter_mm: number };
    }[];
    expect(object.vessel_ends).toHaveLength(whole.ends.length);
    for (const { at } of whole.ends)
      expect(Math.min(...object.vessel_ends.map((end) => distance(end.at, at)))).toBeLessThan(2);
    expect(object.vessel_ends.every((end) => end.kind === 'flat')).toBe(true);
    expect(distance(object.widest_place.at, whole.sac)).toBeLessThan(object.widest_place.diameter_mm / 2);
  });

  it('inspect proposes none where each structure has its own surface', async () => {
    for (const name of ['A1', 'sac']) {
      const { out } = await capture((t) => inspect([`cases/plover/meshes/${name}.stl`], { json: true }, t));
      expect(JSON.parse(out).objects[0]).not.toHaveProperty('vessel_ends');
    }
  });

  it('new writes them as ends, and answers a point outside with those near it', async () => {
    const dir = join(folder, 'lesion');
    mkdirSync(dir);
    copyFileSync(`${CASE}/meshes/lesion.stl`, join(dir, 'lesion.stl'));
    expect((await capture((t) => newCase([dir], {}, t))).code).toBe(0);
    const { surfaces } = parse(readFileSync(join(dir, 'case.yaml'), 'utf8'));
    const ends = surfaces.whole.ends as { at: Vec3 }[];
    expect(ends).toHaveLength(whole.ends.length);
    for (const { at } of whole.ends)
      expect(Math.min(...ends.map((end) => distance(end.at, at)))).toBeLessThan(2);
    const wrong = join(folder, 'wrong');
    mkdirSync(join(wrong, 'meshes'), { recursive: true });
    copyFileSync(`${CASE}/meshes/lesion.stl`, join(wrong, 'meshes/lesion.stl'));
    copyFileSync(`${CASE}/shelf.yaml`, join(wrong, 'shelf.yaml'));
    const text = readFileSync(`${CASE}/case.yaml`, 'utf8');
    writeFileSync(join(wrong, 'case.yaml'), text.replace('at: [51.4, 14.7, -7.3]', 'at: [40.0, 10.0, 20.0]'));
    await expect(capture((t) => plan([wrong], {}, t))).rejects.toThrow(
      /ends\[0\]\.at: the point of A1 is more than 3 mm outside the lumen\. The nearest ends are A at \[5\d\.\d, 1\d\.\d, -\d\.\d\] \(6\.\d mm\)/,
    );
  });
});
