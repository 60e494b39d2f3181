import { afterAll, describe, expect, it } from 'vitest';
import { add, distance, normalize, scale, subtract, type Vec3 } from '../../src/foundation/vector.js';
import { heronLesion, wrenLesion } from '../../src/phantoms/demo-lesions.js';
import type { PrintPackage } from '../../src/print/assemble-package.js';
import { isClean } from '../../src/print/check-solid.js';
import { preparePrint } from '../../src/print/prepare-print.js';
import { printedObjects, printFiles } from '../../src/print/print-files.js';
import { Workshop } from '../../src/print/workshop.js';
import { admesh, has, inputOf } from './make.js';

const workshop = await Workshop.open();
afterAll(() => workshop.close());
const part = (pack: PrintPackage, name: string) => pack.parts.find((p) => p.name === name)!;

const lesions = { heron: heronLesion, wren: wrenLesion };
type Name = keyof typeof lesions;
const made = new Map<string, Promise<PrintPackage>>();
const packOf = (name: Name, struts?: 'yes' | 'no', hollow = false): Promise<PrintPackage> => {
  const key = `${name} ${struts} ${hollow}`;
  const process = 'material-extrusion' as const;
  const pack = made.get(key) ?? preparePrint(inputOf(lesions[name](), { process, struts, hollow }));
  made.set(key, pack);
  return pack;
};
const cases: [Name, boolean][] = [
  ['heron', false],
  ['wren', false],
  ['wren', true],
];

describe('struts', () => {
  it.each(cases)(
    '%s, hollow %s: hold every structure in one clean body',
    async (name, hollow) => {
      const pack = await packOf(name, 'yes', hollow);
      const model = part(pack, 'model');
      expect(isClean(model.check)).toBe(true);
      expect(model.check.bodies).toBe(1);
      const beside = pack.parts.filter((p) => ['airway', 'heart', 'chest-wall'].includes(p.role));
      expect(beside.length).toBeGreaterThan(0);
      const held = new Set(pack.result.struts!.map((s) => s.from));
      expect([...held].sort()).toEqual(beside.map((p) => p.name).sort());
      // Rods are at least as thick as the process's pin, and as long as the gap they bridge.
      for (const rod of pack.result.struts!) {
        expect(rod.diameter_mm).toBeGreaterThanOrEqual(pack.result.limits!.pin_mm);
        expect(distance(...(rod.print_ends_mm as [Vec3, Vec3]))).toBeCloseTo(rod.length_mm, 1);
        expect(rod.to).not.toBe(rod.from);
        const { scale, origin_mm: origin } = pack.result;
        rod.print_ends_mm.forEach((end, i) => {
          end.forEach((x, k) => {
            expect(Math.abs(rod.ends_mm[i][k] - (x / scale! + origin![k]))).toBeLessThan(0.02);
          });
        });
      }
      for (const where of held)
        expect(pack.findings.find((f) => f.id === 'print-strut' && f.where === where)?.level).toBe('caution');
    },
    180_000,
  );

  it.each(cases)(
    '%s, hollow %s: structures keep their positions and shapes',
    async (name, hollow) => {
      const [joined, apart] = [await packOf(name, 'yes', hollow), await packOf(name, 'no', hollow)];
      // As listed, a hair thicker and longer by their own radius, which extends into the curved walls.
      const rods = joined.result.struts!.map((s) => {
        const [a, b] = s.print_ends_mm as [Vec3, Vec3];
        const more = scale(normalize(subtract(b, a)), s.diameter_mm / 2);
        return workshop.bar(subtract(a, more), add(b, more), 0.52 * s.diameter_mm, 48);
      });
      const model = workshop.solid(part(joined, 'model').mesh);
      for (const p of apart.parts.filter(
        (x) => x.role === 'model' || x.role === 'airway' || x.role === 'heart',
      )) {
        const own = workshop.solid(p.mesh);
        expect(workshop.difference(own, model).volume()).toBeLessThan(1e-4 * own.volume());
      }
      // Whatever is not a structure is a rod.
      const all = workshop.union([
        ...apart.parts
          .filter((x) => x.role !== 'tag' && x.role !== 'half')
          .map((p) => workshop.solid(p.mesh)),
        ...rods,
      ]);
      expect(workshop.difference(model, all).volume()).toBeLessThan(1);
    },
    180_000,
  );

  it.each(['heron', 'wren'] as Name[])(
    '%s: the check points are those of the print without rods, where jaws still reach',
    async (name) => {
      const [joined, apart] = [await packOf(name, 'yes'), await packOf(name, 'no')];
      const values = (pack: PrintPackage) => pack.gauges.map((g) => `${g.what} ${g.expectedMm.toFixed(3)}`);
      const without = new Set(values(apart));
      for (const value of values(joined)) expect(without).toContain(value);
      expect(joined.gauges.length).toBeGreaterThanOrEqual(8);
    },
    180_000,
  );

  it('are not made unless asked for, as long as nothing of the lesion is loose', async () => {
    const pack = await packOf('heron');
    expect(pack.result.struts).toBeUndefined();
    expect(part(pack, 'model').check.volumeMm3).toBe(
      part(await packOf('heron', 'no'), 'model').check.volumeMm3,
    );
  }, 180_000);

  it('each is a separate object, marked as not anatomy, that meets its neighbours face to face', async () => {
    const pack = await packOf('heron', 'yes');
    const objects = printedObjects(pack);
    const rods = objects.filter((o) => o.name.startsWith('strut-'));
    expect(rods.length).toBe(pack.result.struts!.length);
    for (const rod of rods) expect(rod.name).toMatch(/^strut-\d+ \(not anatomy\)$/);
    const sum = pack.parts
      .filter((p) => p.role !== 'model')
      .reduce((volume, p) => volume + p.check.volumeMm3, 0);
    const model = part(pack, 'model').check.volumeMm3;
    expect(Math.abs(sum / model - 1)).toBeLessThan(2e-4);
  }, 180_000);

  // Outside check: admesh 0.98.4 (Martin, 1996) reads the very same bytes.
  it.skipIf(!has('admesh')).each(cases)(
    '%s, hollow %s: admesh finds nothing to repair',
    async (name, hollow) => {
      const pack = await packOf(name, 'yes', hollow);
      for (const file of printFiles(pack).filter((f) => f.path.endsWith('.stl')))
        expect({ file: file.path, ...admesh(file.bytes) }).toMatchObject({
          'Total disconnected facets': 0,
          'Degenerate facets': 0,
          'Edges fixed': 0,
          'Facets reversed': 0,
          'Normals fixed': 0,
          'Number of parts': 1,
        });
    },
    180_000,
  );
});
