import { afterAll, describe, expect, it } from 'vitest';
import { measure } from '../../src/mesh/measures.js';
import { readMesh } from '../../src/mesh/read/read-mesh.js';
import { heronLesion, ploverLesion } from '../../src/phantoms/demo-lesions.js';
import { partMeshes } from '../../src/phantoms/lesion.js';
import { randomLesion } from '../../src/phantoms/random-lesion.js';
import type { PrintPackage } from '../../src/print/assemble-package.js';
import { isClean } from '../../src/print/check-solid.js';
import { preparePrint } from '../../src/print/prepare-print.js';
import { printedObjects, printFiles } from '../../src/print/print-files.js';
import type { PrintInput } from '../../src/print/print-job.js';
import { Workshop } from '../../src/print/workshop.js';
import { admesh, has, inputOf, moved } from './make.js';

const ids = (pack: PrintPackage): string[] => pack.findings.map((f) => f.id);
const part = (pack: PrintPackage, name: string) => pack.parts.find((p) => p.name === name)!;

const made = new Map<string, Promise<PrintPackage>>();
/** The same package for every test that asks for it. */
const packed = (key: string, input: () => PrintInput): Promise<PrintPackage> => {
  const pack = made.get(key) ?? preparePrint(input());
  made.set(key, pack);
  return pack;
};
const heron = (): Promise<PrintPackage> => packed('heron', () => inputOf(heronLesion()));

const workshop = await Workshop.open();
afterAll(() => workshop.close());

describe('a printable export', () => {
  const seeds = [2, 5, 8];
  const packOf = (seed: number): Promise<PrintPackage> =>
    packed(`random-${seed}`, () => inputOf(randomLesion(seed)));

  it.each(seeds)(
    'of random lesion %i: every part is clean by the program’s own checks, with one fused body',
    async (seed) => {
      const pack = await packOf(seed);
      expect(pack.parts.filter((p) => !isClean(p.check)).map((p) => [p.name, p.check])).toEqual([]);
      expect(part(pack, 'model').check.bodies).toBe(1);
      expect(pack.findings.filter((f) => f.level === 'stop')).toEqual([]);
    },
    180_000,
  );

  it.each(seeds)(
    'of random lesion %i: the parts fill the fused model, with each volume as computed by the solid kernel',
    async (seed) => {
      const pack = await packOf(seed);
      const model = part(pack, 'model').check.volumeMm3;
      const sum = pack.parts.filter((p) => p.role !== 'model').reduce((v, p) => v + p.check.volumeMm3, 0);
      expect(Math.abs(sum - model) / model).toBeLessThan(2e-4);
      for (const p of pack.parts) {
        const kernel = workshop.solid(p.mesh);
        expect(kernel.status()).toBe('NoError');
        expect(kernel.volume()).toBeCloseTo(p.check.volumeMm3, 2);
      }
    },
    180_000,
  );

  // Outside check: admesh 0.98.4 (Martin, 1996) reads the very same bytes.
  it.skipIf(!has('admesh')).each(seeds)(
    'of random lesion %i: admesh finds nothing to repair in any part',
    async (seed) => {
      const pack = await packOf(seed);
      for (const file of printFiles(pack).filter((f) => f.path.endsWith('.stl'))) {
        const facts = admesh(file.bytes);
        expect({ file: file.path, ...facts }).toMatchObject({
          'Total disconnected facets': 0,
          'Degenerate facets': 0,
          'Edges fixed': 0,
          'Facets removed': 0,
          'Facets added': 0,
          'Facets reversed': 0,
          'Backwards edges': 0,
          'Normals fixed': 0,
          'Number of parts': 1,
        });
      }
    },
    180_000,
  );

  it.each(seeds)(
    'of random lesion %i: at least eight check points, each within its vessel or sac',
    async (seed) => {
      const pack = await packOf(seed);
      expect(pack.gauges.length).toBeGreaterThanOrEqual(8);
      expect(new Set(pack.gauges.map((g) => g.name)).size).toBe(pack.gauges.length);
      for (const g of pack.gauges) {
        expect(g.expectedMm).toBeGreaterThan(0);
        // Vat: 0.15 mm by common practice, or a fraction of the size: 5 % of a calibre where less, 0.5 % of a length where
        // more.
        const limit =
          g.kind === 'diameter' ? Math.min(0.15, 0.05 * g.expectedMm) : Math.max(0.15, 0.005 * g.expectedMm);
        expect(limit - g.toleranceMm).toBeGreaterThanOrEqual(-1e-9);
        expect(limit - g.toleranceMm).toBeLessThan(0.01);
      }
    },
    180_000,
  );

  it('3MF read back: named objects in mm with the volumes of the parts', async () => {
    const pack = await packOf(8);
    const bytes = printFiles(pack).find((f) => f.path === 'model.3mf')!.bytes;
    const file = await readMesh(bytes, 'model.3mf');
    expect(file.unitMm).toBe(1);
    const parts = pack.bed.map(({ part }) => part);
    expect(parts[0].name).toBe('model');
    expect(file.objects.map((o) => o.name)).toEqual(parts.map((p) => p.name));
    file.objects.forEach((object, i) => {
      const volume = measure(object.mesh).volumeMm3;
      expect(Math.abs(volume - parts[i].check.volumeMm3) / volume).toBeLessThan(1e-3);
    });
  }, 180_000);

  it('STL read back is in mm and has the volume of the model', async () => {
    const pack = await packOf(8);
    const file = await readMesh(printFiles(pack).find((f) => f.path === 'model.stl')!.bytes, 'model.stl');
    expect(measure(file.objects[0].mesh).volumeMm3).toBeCloseTo(part(pack, 'model').check.volumeMm3, 3);
  }, 180_000);

  it('is the same twice, to the byte', async () => {
    const [a, b] = [await heron(), await preparePrint(inputOf(heronLesion()))];
    expect(printFiles(a).map((f) => [f.path, Buffer.from(f.bytes).toString('base64')])).toEqual(
      printFiles(b).map((f) => [f.path, Buffer.from(f.bytes).toString('base64')]),
    );
    expect(a.result).toEqual(b.result);
    expect(a.findings).toEqual(b.findings);
  }, 180_000);
});

describe('true to the lesion', () => {
  it('without its tag the fused model is exactly the union of sac and vessels', async () => {
    const input = inputOf(heronLesion());
    const pack = await heron();
    const blood = input.parts.filter((p) => ['sac', 'feeder', 'drain'].includes(p.role));
    const union = workshop.union(blood.map((p) => workshop.solid(p.mesh))).volume();
    const printed = part(pack, 'model').check.volumeMm3 - part(pack, 'tag').check.volumeMm3;
    expect(Math.abs(printed - union) / union).toBeLessThan(1e-4);
    // Airway and heart have round undersides.
    expect(ids(pack)).toEqual(['print-foot-small', 'print-foot-small']);
  }, 180_000);

  it('expected diameters are those of the described vessels', async () => {
    const pack = await heron();
    const feeder = pack.gauges.filter((g) => g.what.includes('of A1'));
    expect(feeder.length).toBeGreaterThanOrEqual(2);
    // 5.6 mm by the description of the lesion; polygons of 32 corners are 0.3 % off.
    for (const g of feeder.filter((d) => d.kind === 'diameter'))
      expect(Math.abs(g.expectedMm - 5.6)).toBeLessThan(0.03);
  }, 180_000);

  it('airway and heart stay separate parts', async () => {
    const pack = await heron();
    expect(pack.parts.map((p) => [p.name, p.role])).toEqual([
      ['model', 'model'],
      ['A1', 'feeder'],
      ['V1', 'drain'],
      ['sac', 'sac'],
      ['tag', 'tag'],
      ['bronchus', 'airway'],
      ['heart', 'heart'],
    ]);
  }, 180_000);

  it('scale 2 doubles lengths and multiplies the volume by eight; the tag says so', async () => {
    const one = await heron();
    const two = await preparePrint(inputOf(heronLesion(), { scale: 2 }));
    expect(part(two, 'sac').check.volumeMm3 / part(one, 'sac').check.volumeMm3).toBeCloseTo(8, 3);
    expect(two.result.tag_lines?.join(' ')).toContain('2:1');
    const [g1, g2] = [one.gauges[0].expectedMm, two.gauges[0].expectedMm];
    expect(g2 / g1).toBeCloseTo(2, 2);
    // Points of the result are those of the case, whatever the scale.
    one.result.gauges[0].point_mm.forEach((c, k) => {
      expect(two.result.gauges[0].point_mm[k]).toBeCloseTo(c, 1);
    });
  }, 180_000);

  it('a lesion 12 m from the origin prints as well, with its origin reported', async () => {
    const input = inputOf(heronLesion());
    const plan = heronLesion();
    const far: [number, number, number] = [12_000, -9000, 7000];
    const parts = partMeshes(plan).map(({ name, role, mesh }) => ({ name, role, mesh: moved(mesh, far) }));
    const pack = await preparePrint({ ...input, parts, lesion: { vessels: [], neighbours: [] } });
    expect(ids(pack)).toContain('print-moved');
    expect(pack.parts.every((p) => isClean(p.check))).toBe(true);
    expect(pack.result.origin_mm!.every((c) => Math.abs(c) > 6000)).toBe(true);
  }, 180_000);
});

describe('thickening', () => {
  it('extrusion: a vessel below 3 mm is thickened to 3 mm, marked on the tag, named in the 3MF and reported', async () => {
    const input = inputOf(ploverLesion(), { process: 'material-extrusion' });
    const thin = input.lesion.vessels.find((v) => v.name === 'B1')!;
    expect(Math.min(...thin.profile.map((s) => s.minMm))).toBeLessThan(3);
    const pack = await preparePrint(input);
    expect(pack.findings.find((f) => f.id === 'print-thickened')).toMatchObject({
      level: 'caution',
      where: 'B1',
    });
    expect(pack.result.tag_lines).toContain('THICKENED');
    expect(pack.result.tag_lines).toContain('B1');
    const gauge = pack.gauges.find((g) => g.what.includes('of B1'))!;
    expect(gauge.notToSize).toBe(true);
    expect(gauge.expectedMm).toBeGreaterThanOrEqual(2.99);
    expect(part(pack, 'model').wall.thin).toEqual([]);
    expect(printedObjects(pack).map((o) => o.name)).toContain('B1 (thickened, not to size)');
    expect(isClean(part(pack, 'model').check)).toBe(true);
  }, 180_000);

  it('vat, which prints 0.5 mm: nothing is thickened', async () => {
    const pack = await preparePrint(inputOf(ploverLesion()));
    expect(ids(pack)).not.toContain('print-thickened');
  }, 180_000);

  it('a vessel of 1.5 mm at half scale is three times too thin for extrusion; its length does not grow', async () => {
    const pack = await preparePrint(inputOf(ploverLesion(), { process: 'material-extrusion', scale: 0.5 }));
    const b1 = pack.findings.find((f) => f.id === 'print-thickened' && f.where === 'B1');
    expect(b1?.text).toMatch(/would be 1\.(49|50) mm thin on the print/);
    expect(pack.parts.every((p) => p.check.isWatertight)).toBe(true);
  }, 180_000);

  it('without a process nothing is thickened, and that is reported', async () => {
    const pack = await preparePrint(inputOf(ploverLesion(), { process: undefined }));
    expect(ids(pack)).toContain('print-process-unknown');
    expect(pack.result.mass_g).toBeUndefined();
    expect(pack.result.limits).toBeUndefined();
  }, 180_000);
});
