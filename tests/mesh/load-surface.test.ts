import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { InputFailure } from '../../src/foundation/failure.js';
import { crossingFindings, loadSurface } from '../../src/mesh/load-surface.js';
import { measure } from '../../src/mesh/measures.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { readMeshFile } from '../../src/mesh/read/read-mesh-file.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { asciiStl, glb, gltfParts, joinBytes, obj } from './mesh-bytes.js';
import { box, cylinder, gridSphere, meshOf, moved, soupOf, together, tube, turnedOver } from './shapes.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 180_000 });

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'surface-'));
});
afterAll(() => rmSync(folder, { recursive: true }));

function file(name: string, bytes: Uint8Array): string {
  const path = join(folder, name);
  writeFileSync(path, bytes);
  return path;
}
const load = (mesh: TriangleMesh, unitMm = 1) =>
  loadSurface(file('x.stl', writeStl(mesh)), { unitMm, label: 'A1', shown: 'x.stl' });
const ids = async (mesh: TriangleMesh, unitMm = 1): Promise<string[]> =>
  (await load(mesh, unitMm)).findings.map((f) => f.id);

describe('loadSurface', () => {
  it('finds nothing on a clean surface and converts its unit', async () => {
    const surface = await loadSurface(file('x.stl', writeStl(box(2, 3, 4))), { unitMm: 10, label: 'sac' });
    expect(surface.findings).toEqual([]);
    expect(measure(surface.mesh).volumeMm3).toBeCloseTo(24_000, 6);
    expect(surface.topology.isWatertight).toBe(true);
  });
  it('open-surface: count, place and diameter of the first', async () => {
    const { findings } = await load(tube(32, 3, 20));
    expect(findings.map((f) => f.id)).toEqual(['open-surface']);
    expect(findings[0]).toMatchObject({ level: 'caution', where: 'A1' });
    expect(findings[0].text).toContain(
      '2 open ends, the first at (0.00, 0.00, 0.00) mm with a diameter of 5.98 mm',
    );
  });
  it('reoriented: single triangles, and a whole surface', async () => {
    const some = await load(turnedOver(box(5, 5, 5), 4));
    expect(some.findings.map((f) => f.id)).toEqual(['reoriented']);
    expect(some.findings[0].text).toMatch(/^1 triangle faced the other way/);
    const all = await load(turnedOver(box(5, 5, 5), 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11));
    expect(all.findings[0].text).toContain('inside out in 1 of 1');
    expect(measure(all.mesh).volumeMm3).toBeCloseTo(125, 9);
    expect(all.topology.inconsistentEdges).toEqual([]);
  });
  it('non-manifold-edges', async () => {
    const fin = together(
      box(5, 5, 5),
      meshOf(
        [
          [9, 0, 2],
          [0, 0, 5],
          [5, 0, 5],
        ],
        [[0, 1, 2]],
      ),
    );
    expect(await ids(fin)).toContain('non-manifold-edges');
  });
  it('pinched-vertices', async () => {
    expect(await ids(together(box(5, 5, 5), box(5, 5, 5, [5, 5, 5])))).toContain('pinched-vertices');
  });
  it('self-intersection, and not when not asked for', async () => {
    const mesh = together(gridSphere(20, 5), moved(gridSphere(20, 5), [4, 0, 0]));
    expect(await ids(mesh)).toEqual(['several-components', 'self-intersection']);
    const path = file('y.stl', writeStl(mesh));
    const quick = await loadSurface(path, { unitMm: 1, label: 'A1', checkSelfIntersection: false });
    expect(quick.findings.map((f) => f.id)).toEqual(['several-components']);
  });
  it('one-sided-surface: a Möbius band of five triangles', async () => {
    const points = [0, 1, 2, 3, 4].map((i) => [
      9 * Math.cos((2 * Math.PI * i) / 5),
      9 * Math.sin((2 * Math.PI * i) / 5),
      (i * i) % 3,
    ]);
    const band = meshOf(
      points,
      points.map((_, i) => [i, (i + 1) % 5, (i + 2) % 5]),
    );
    const { findings } = await load(band);
    expect(findings.find(({ id }) => id === 'one-sided-surface')?.text).toMatch(
      /the first at \(.*only one side/,
    );
    expect(await ids(tube(5, 9, 3))).not.toContain('one-sided-surface');
  });
  it('self-intersection-unknown: a search given up without an answer', () => {
    const found = { count: 0, isCapped: false, isComplete: false, pairs: [], points: [] };
    expect(crossingFindings(found, 'A1')).toMatchObject([
      { id: 'self-intersection-unknown', level: 'caution' },
    ]);
    expect(crossingFindings({ ...found, isComplete: true }, 'A1')).toEqual([]);
    const one = { ...found, count: 1, pairs: [0, 5], points: [[1, 2, 3] as [number, number, number]] };
    expect(crossingFindings(one, 'A1')[0].text).toMatch(/^at least 1 pair of triangles cross/);
  });
  it('degenerate-triangles and duplicate-triangles', async () => {
    const m = box(5, 5, 5);
    const extra = {
      positions: m.positions,
      triangles: Uint32Array.from([...m.triangles, 0, 0, 1, ...m.triangles.slice(0, 3)]),
    };
    const { findings, topology } = await load(extra);
    expect(findings.map((f) => f.id)).toEqual(['degenerate-triangles', 'duplicate-triangles']);
    expect(topology.isWatertight).toBe(true);
  });
  it('several-components, and an inner wall as a cavity', async () => {
    expect(await ids(together(box(5, 5, 5), box(1, 1, 1, [9, 9, 9])))).toEqual(['several-components']);
    const hollow = together(
      box(9, 9, 9),
      turnedOver(box(1, 1, 1, [4, 4, 4]), 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11),
    );
    const surface = await load(hollow);
    expect(surface.findings.map((f) => f.id)).toEqual(['inner-cavity']);
    expect(measure(surface.mesh).volumeMm3).toBeCloseTo(728, 9);
  });
  it('unit-suspect on both sides of both limits, with the likely unit', async () => {
    const suspect = async (edge: number, unitMm: number): Promise<string | undefined> =>
      (await load(box(edge, edge / 2, edge / 2), unitMm)).findings.find((f) => f.id === 'unit-suspect')?.text;
    expect(await suspect(600, 1)).toBeUndefined();
    expect(await suspect(600.1, 1)).toContain('outside 0.5 to 600 mm');
    expect(await suspect(0.5, 1)).toBeUndefined();
    expect(await suspect(0.499, 1)).toContain('outside 0.5 to 600 mm');
    expect(await suspect(0.04, 1)).toContain('look like m.');
    expect(await suspect(2, 1000)).toContain('look like cm or inch.');
  });
  // a sac of 36 mm written in mm but read as m is 36 m long
  it('refuses a surface longer than any body, and names the likely unit', async () => {
    const long = (edge: number, unitMm: number) => load(box(edge, edge / 2, edge / 2), unitMm);
    expect((await long(6, 1000)).findings.map(({ id }) => id)).toContain('unit-suspect');
    await expect(long(6.1, 1000)).rejects.toThrow(/with m as the unit it is 6\.1 m long, more than 6 m/);
    await expect(long(36, 1000)).rejects.toThrow(
      /36\.0 m long.*look like mm.*Correct the unit of the surfaces/,
    );
  });
  it('welded-with-tolerance where rounding separated the corners', async () => {
    const soup = soupOf(cylinder(16, 3, 8));
    const torn = { ...soup, positions: soup.positions.map((x, i) => x + ((i * 7919) % 5) * 1e-7) };
    const surface = await loadSurface(file('t.obj', obj(torn)), { unitMm: 1, label: 'A1' });
    expect(surface.findings.map((f) => f.id)).toEqual(['welded-with-tolerance']);
    expect(surface.topology.isWatertight).toBe(true);
  });
  it('several-objects where none is named; one by name; and the names available', async () => {
    const path = file(
      'two.stl',
      joinBytes(asciiStl(box(5, 5, 5), 'sac'), asciiStl(box(3, 3, 3, [9, 9, 9]), 'drain')),
    );
    const all = await loadSurface(path, { unitMm: 1, label: 'sac' });
    expect(all.findings.map((f) => f.id)).toEqual(['several-objects', 'several-components']);
    const one = await loadSurface(path, { unitMm: 1, label: 'sac', object: 'drain' });
    expect(measure(one.mesh).volumeMm3).toBeCloseTo(27, 9);
    await expect(
      loadSurface(path, { unitMm: 1, label: 'sac', object: 'nerve', shown: 'two.stl' }),
    ).rejects.toThrow('two.stl: it has no object "nerve". Name one of its objects: "sac", "drain".');
  });
  it('unit-disagrees where glTF (metres) meets another unit; the unit of the file where the case has none', async () => {
    const { json, data } = gltfParts(box(0.02, 0.03, 0.04));
    const path = file('a.glb', glb(json, data));
    const own = await loadSurface(path, { label: 'sac' });
    expect(own.findings).toEqual([]);
    expect(measure(own.mesh).volumeMm3 / 24_000).toBeCloseTo(1, 6);
    const other = await loadSurface(path, { label: 'sac', unitMm: 1 });
    expect(other.findings.map((f) => f.id)).toEqual(['unit-disagrees', 'unit-suspect']);
  });
  it('refuses a file without a unit where none is stated, a missing file and a folder', async () => {
    await expect(loadSurface(file('x.stl', writeStl(box(1, 1, 1))), { label: 'A' })).rejects.toThrow(
      'states no unit',
    );
    await expect(readMeshFile(join(folder, 'none.stl'), { shown: 'none.stl' })).rejects.toThrow(
      'none.stl: there is no such file.',
    );
    const error = await readMeshFile(folder, { shown: 'folder' }).catch((e: unknown) => e);
    expect(error).toBeInstanceOf(InputFailure);
  });
  it('reads a large binary STL from disk in chunks, with the same result as from memory', async () => {
    const mesh = gridSphere(400, 20);
    const surface = await load(mesh);
    expect(surface.mesh.positions.length).toBe(mesh.positions.length);
    expect(surface.findings).toEqual([]);
    expect(measure(surface.mesh).volumeMm3 / measure(mesh).volumeMm3).toBeCloseTo(1, 6);
  });
});
