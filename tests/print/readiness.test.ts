import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import { heronLesion } from '../../src/phantoms/demo-lesions.js';
import { sacMesh } from '../../src/phantoms/sac.js';
import { addedAreas, overhangsOf } from '../../src/print/build-space.js';
import { preparePrint } from '../../src/print/prepare-print.js';
import type { PrintInput } from '../../src/print/print-job.js';
import { printRules } from '../../src/print/process.js';
import { box } from '../mesh/shapes.js';
import { bareInput, inputOf, rules } from './make.js';

const UP: Vec3 = [0, 0, 1];
const area = (overhangs: Float64Array): number => addedAreas(0, overhangs);
const ball = (radius: number) =>
  sacMesh(
    { centreMm: [0, 0, 0], semiAxesMm: [radius, radius, radius], rotation: [1, 0, 0, 0], lobes: [] },
    48,
  );

describe('overhang', () => {
  it('of a ball: the cap that faces down at less than the angle from the horizontal, 2·pi·r²·(1 - cos)', () => {
    const mesh = ball(10);
    for (const deg of [30, 45, 60]) {
      const cap = 2 * Math.PI * 100 * (1 - Math.cos((deg * Math.PI) / 180));
      // The bed is far below, so that nothing rests on it.
      expect(Math.abs(area(overhangsOf(mesh, UP, deg, -100)) / cap - 1)).toBeLessThan(0.06);
    }
    expect(Math.abs(area(overhangsOf(mesh, UP, 90, -100)) / (2 * Math.PI * 100) - 1)).toBeLessThan(0.02);
  });

  it('of a box: its underside, unless it stands on the bed', () => {
    const mesh = box(4, 5, 6);
    expect(area(overhangsOf(mesh, UP, 45, -3))).toBeCloseTo(20, 6);
    expect(area(overhangsOf(mesh, UP, 45, 0))).toBe(0);
    expect(area(overhangsOf(mesh, [0, 0, -1], 45, -9))).toBeCloseTo(20, 6);
    expect(area(overhangsOf(mesh, [1, 0, 0], 45, -3))).toBeCloseTo(30, 6);
  });

  it('is listed for the build direction and the five others; a powder bed needs none', async () => {
    const pack = await preparePrint(
      inputOf(heronLesion(), { process: 'material-extrusion', buildUp: 'left' }),
    );
    const { overhang } = pack.result;
    expect(overhang).toMatchObject({ up: 'left', below_deg: 45, source: expect.stringMatching(/.{5}/) });
    expect(overhang!.turned.map((t) => t.up).sort()).toEqual(
      ['anterior', 'inferior', 'posterior', 'right', 'superior'].sort(),
    );
    for (const t of overhang!.turned) expect(t.area_cm2).toBeGreaterThan(0);
    const bare = await preparePrint({ ...inputOf(heronLesion()), frame: 'unknown' });
    expect(bare.result.overhang!.up).toBe('+z');
    expect(bare.result.overhang!.turned.map((t) => t.up)).toEqual(['-z', '+x', '-x', '-y', '+y']);
    const powder = await preparePrint(inputOf(heronLesion(), { process: 'powder-bed' }));
    expect(powder.result.overhang).toMatchObject({ area_cm2: 0, turned: [] });
    expect(powder.result.overhang).not.toHaveProperty('below_deg');
    const unknown = await preparePrint(inputOf(heronLesion(), { process: undefined }));
    expect(unknown.result).not.toHaveProperty('overhang');
    expect(unknown.result).not.toHaveProperty('estimate');
  }, 180_000);
});

/** A box with the given edges as the sac, without considering where a tag goes. */
async function printed(edges: Vec3, print: Partial<PrintInput['print']>) {
  const input = bareInput(
    [{ name: 'sac', role: 'sac', mesh: box(...edges) }],
    { vessels: [], neighbours: [] },
    {
      process: 'vat-photopolymerisation',
      ...print,
    },
  );
  return preparePrint(input);
}

describe('build space', () => {
  it('as it stands, after quarter turns, and not at all; the finding says which', async () => {
    const plain = await printed([20, 30, 40], {});
    expect(plain.result).not.toHaveProperty('build_volume');
    const size = plain.result.size_mm!;
    const room = (s: readonly number[]): Vec3 => s.map((c) => c + 0.1) as Vec3;
    const fits = await printed([20, 30, 40], { buildVolumeMm: room(size) });
    expect(fits.result.build_volume!.bodies[0]).toMatchObject({ name: 'model', fits: true });
    expect(fits.result.build_volume!.bodies[0].size_mm.map((c) => c.toFixed(1))).toEqual(
      size.map((c) => c.toFixed(1)),
    );
    const onSide = await printed([20, 30, 40], { buildVolumeMm: room([size[2], size[0], size[1]]) });
    const [body] = onSide.result.build_volume!.bodies;
    expect(body.fits).toBe(false);
    expect(body.turned.map((t) => t.map((c) => c.toFixed(1)))).toContainEqual(
      [size[2], size[0], size[1]].map((c) => c.toFixed(1)),
    );
    expect(onSide.findings.find((f) => f.id === 'print-turn')).toMatchObject({
      level: 'note',
      where: 'model',
    });
    const none = await printed([20, 30, 40], { buildVolumeMm: [20, 20, 20] });
    expect(none.findings.find((f) => f.id === 'print-too-large')).toMatchObject({ level: 'caution' });
    expect(none.result.build_volume!.bodies[0].turned).toEqual([]);
  }, 180_000);

  it('width, depth and height follow the direction that points up', async () => {
    const up = await printed([20, 30, 40], { buildVolumeMm: [500, 500, 500], buildUp: 'superior' });
    const left = await printed([20, 30, 40], { buildVolumeMm: [500, 500, 500], buildUp: 'left' });
    const [x, y, z] = up.result.build_volume!.bodies[0].size_mm;
    expect(left.result.build_volume!.bodies[0].size_mm).toEqual([y, z, x]);
  }, 180_000);
});

describe('the estimate', () => {
  it('vat: height over the two rates; material between the body and the body with its support', async () => {
    const { result } = await printed([20, 30, 40], {});
    const { process } = printRules(rules, 'vat-photopolymerisation');
    const e = result.estimate!;
    const height = result.size_mm![2];
    expect(e.height_mm).toBeCloseTo(height, 1);
    // Printed to a tenth of an hour.
    expect(Math.abs(e.hours[0] - height / process!.rate.high)).toBeLessThan(0.0501);
    expect(Math.abs(e.hours[1] - height / process!.rate.low)).toBeLessThan(0.0501);
    const model = result.parts.find((p) => p.role === 'model')!.volume_ml;
    expect(e.volume_ml).toBeCloseTo(model, 1);
    expect(e.material_ml[0]).toBeCloseTo(model, 1);
    expect(e.material_ml[1]).toBeCloseTo(model + e.support_ml!, 1);
    // Both printed to a tenth.
    expect(Math.abs(e.material_g[0] - e.material_ml[0] * result.density_g_cm3!)).toBeLessThan(0.12);
    expect(e.assumptions.length).toBeGreaterThan(3);
    expect(e.source.length).toBeGreaterThan(5);
  }, 180_000);

  it('extrusion: plastic over the two rates; the least is a skin with a sparse infill', async () => {
    const { result } = await printed([20, 30, 40], { process: 'material-extrusion' });
    const { process } = printRules(rules, 'material-extrusion');
    const e = result.estimate!;
    expect(e.hours[0]).toBeCloseTo(e.material_ml[0] / process!.rate.high, 1);
    expect(e.hours[1]).toBeCloseTo(e.material_ml[1] / process!.rate.low, 1);
    // The box alone: 24 mL with 52 cm² of skin.
    const skin = 52 * 100 * process!.infill!.skinMm;
    const boxLeast = (skin + process!.infill!.fraction * (24_000 - skin)) / 1000;
    expect(e.material_ml[0]).toBeGreaterThan(boxLeast);
    expect(e.material_ml[0]).toBeLessThan(
      boxLeast + result.parts.find((p) => p.role === 'tag')!.volume_ml + 0.5,
    );
    expect(e.material_ml[1]).toBeGreaterThan(e.volume_ml);
  }, 180_000);

  it('support of a shelf over the bed: its space times the filled fraction', async () => {
    // A plate of 30 x 30 mm on a post of 10 x 10 x 20 mm: 800 mm² overhang at a height of 20 mm.
    const { body } = { body: box(30, 30, 4, [0, 0, 20]) };
    const post = box(10, 10, 21, [10, 10, 0]);
    const input = bareInput(
      [
        { name: 'sac', role: 'sac', mesh: body },
        { name: 'A1', role: 'feeder', mesh: post },
      ],
      { vessels: [], neighbours: [] },
      { process: 'material-extrusion' },
    );
    const pack = await preparePrint(input);
    const { process } = printRules(rules, 'material-extrusion');
    const shelf = (800 * 20 * process!.overhang!.supportFraction) / 1000;
    // The tag hangs lower than the post: the bed is lower by that, under everything that overhangs and under the post.
    const drop = Math.max(0, pack.result.estimate!.height_mm - 24);
    const more = (900 * drop * process!.overhang!.supportFraction) / 1000;
    expect(pack.result.estimate!.support_ml!).toBeGreaterThan(0.9 * shelf);
    expect(pack.result.estimate!.support_ml!).toBeLessThan(1.1 * (shelf + more) + 1);
  }, 180_000);
});
