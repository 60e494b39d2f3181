import { beforeAll, describe, expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import { lineCurve } from '../../src/phantoms/curve.js';
import { roundTube, sweptTube } from '../../src/phantoms/tube.js';
import type { PrintPackage } from '../../src/print/assemble-package.js';
import { preparePrint } from '../../src/print/prepare-print.js';
import type { PrintInput } from '../../src/print/print-job.js';
import { printRules } from '../../src/print/process.js';
import { diameterTolerance } from '../../src/print/tolerance.js';
import { numberOf } from '../../src/rules/rule.js';
import { box } from '../mesh/shapes.js';
import { bareInput, moved, rules, straightVessel } from './make.js';

const AROUND = 32;
const LENGTH = 40;
const CALIBRE = 8;
const SCALE = 2;
const PLACE: Vec3 = [300, -200, 100];

/** A round tube of 32 corners along x. */
const tube = (from: Vec3, calibreMm: number) =>
  moved(
    sweptTube(
      roundTube(lineCurve([0, 0, 0], [LENGTH, 0, 0]), () => calibreMm),
      { around: AROUND, stepMm: 2 },
    ),
    from,
  );

/** Area of its section: the 32-gon in the circle. */
const sectionMm2 = (calibreMm: number): number =>
  (AROUND / 2) * (calibreMm / 2) ** 2 * Math.sin((2 * Math.PI) / AROUND);

/** Plugs two millimetres apart: half a step is 1 mm. */
const SHELF = {
  devices: [8, 10].map((diameterMm) => ({
    code: `P${diameterMm}`,
    kind: 'vascular-plug' as const,
    diameterMm,
  })),
};

const PLACES: Record<string, Vec3> = {
  A1: PLACE,
  A2: [PLACE[0] + 10, PLACE[1] + 30, PLACE[2]],
  V1: [PLACE[0], PLACE[1], PLACE[2] + 30],
};

/** Such tubes far from the origin, printed at twice their size. */
async function tubes(
  names: string[],
  calibreMm: number,
  process: NonNullable<PrintInput['print']['process']>,
) {
  return preparePrint({
    ...bareInput(
      names.map((name) => ({
        name,
        role: name.startsWith('A') ? ('feeder' as const) : ('drain' as const),
        mesh: tube(PLACES[name], calibreMm),
      })),
      {
        vessels: names.map((name) => straightVessel(name, PLACES[name], LENGTH, calibreMm)),
        neighbours: [],
      },
      { scale: SCALE, process },
    ),
    shelf: SHELF,
  });
}

describe('the printable model in the result', () => {
  let pack: PrintPackage;
  beforeAll(async () => {
    pack = await tubes(['A1', 'A2', 'V1'], CALIBRE, 'vat-photopolymerisation');
  }, 120_000);

  it('what was asked for, and the limits of the process', () => {
    const of = (what: string): number => numberOf(rules, `vat-photopolymerisation-${what}`);
    const { result } = pack;
    expect(result).toMatchObject({ scale: SCALE, process: 'vat-photopolymerisation', hollow: false });
    expect(result).not.toHaveProperty('wall_mm');
    expect(result.limits).toEqual({
      wall_mm: of('wall'),
      pin_mm: of('pin'),
      hole_mm: of('hole'),
      gap_mm: of('gap'),
      tolerance_mm: of('tolerance'),
    });
    const published = ['vat-photopolymerisation', 'segmentation'].map(
      (what) => rules.byId.get(`${what}-published-deviation`)!,
    );
    expect(result.accuracy!.map(({ text }) => text)).toEqual(published.map(({ text }) => text));
    for (const { source } of result.accuracy!) expect(source.length).toBeGreaterThan(10);
  });

  it('size, mass and parts of a tube, by hand', async () => {
    const { result } = await tubes(['V1'], CALIBRE, 'vat-photopolymerisation');
    const volumeMl = (sectionMm2(CALIBRE) * LENGTH * SCALE ** 3) / 1000;
    const [part, model] = ['V1', 'model'].map((name) => result.parts.find((one) => one.name === name)!);
    expect(part).toMatchObject({
      role: 'drain',
      file: 'V1.stl',
      watertight: true,
      // two triangles per side, and a polygon of 32 corners at each end
      triangles: 2 * AROUND + 2 * (AROUND - 2),
      repairs: [],
      thin: [],
    });
    expect(part.volume_ml).toBeCloseTo(volumeMl, 3);
    // with the tag
    expect(model.volume_ml).toBeGreaterThan(volumeMl);
    const density = numberOf(rules, 'vat-photopolymerisation-density');
    expect(result.density_g_cm3).toBe(density);
    expect(result.mass_g).toBeCloseTo(model.volume_ml * density, 1);
    [LENGTH, CALIBRE, CALIBRE].forEach((mm, axis) => {
      expect(result.size_mm![axis]).toBeGreaterThanOrEqual(SCALE * mm - 0.1);
    });
    expect(result.size_mm![0]).toBeLessThan(SCALE * LENGTH + 20);
  }, 120_000);

  it('every position is in the coordinates of both case and print', () => {
    const { result } = pack;
    const toCase = (p: readonly number[]): number[] => p.map((x, k) => x / SCALE + result.origin_mm![k]);
    const near = (given: readonly number[], print: readonly number[]): void => {
      toCase(print).forEach((x, k) => {
        expect(Math.abs(given[k] - x)).toBeLessThan(0.01);
      });
    };
    const diameters = result.gauges.filter(({ kind }) => kind === 'diameter');
    expect(diameters.length).toBeGreaterThan(3);
    for (const gauge of result.gauges) {
      near(gauge.point_mm, gauge.print_mm!);
      if (gauge.to_mm) near(gauge.to_mm, gauge.print_to_mm!);
    }
    for (const { vessel, point_mm, along, expected_mm, not_to_size } of diameters) {
      // on the axis of its vessel, along it, and twice as wide as the vessel
      const [, y, z] = PLACES[vessel!];
      expect(point_mm[1]).toBeCloseTo(y, 1);
      expect(point_mm[2]).toBeCloseTo(z, 1);
      expect(Math.abs(along![0])).toBeCloseTo(1, 3);
      expect(Math.abs(expected_mm - SCALE * CALIBRE)).toBeLessThan(0.05);
      expect(not_to_size).toBe(false);
    }
    const basis = { rules: printRules(rules, 'vat-photopolymerisation'), printScale: SCALE, shelf: SHELF };
    for (const { tolerance_mm, tolerance_source } of diameters) {
      const { toleranceMm, source } = diameterTolerance(basis, SCALE * CALIBRE);
      expect([tolerance_mm, tolerance_source]).toEqual([toleranceMm, source]);
    }
    const { landmarks } = result.handedness!;
    expect(landmarks).toHaveLength(3);
    for (const { what, point_mm, print_mm } of landmarks) {
      expect(what.length).toBeGreaterThan(2);
      near(point_mm, print_mm);
    }
    expect(result.model_sha256!.slice(0, 8).toUpperCase()).toBe(result.model_id);
  });

  it('readings needed for each bias and for the tightest tolerance', () => {
    const needed = pack.result.readings_needed!;
    const sigma = numberOf(rules, 'print-caliper-repeatability');
    const diameters = pack.result.gauges.filter(({ kind }) => kind === 'diameter');
    const tightest = Math.min(...diameters.map(({ tolerance_mm }) => tolerance_mm));
    expect(needed).toMatchObject({
      reading_sd_mm: sigma,
      diameters: diameters.length,
      tolerance_mm: tightest,
    });
    // n = ((2.576 + 2.326)·s/b)², two at least
    const by = (bias: number): number => Math.max(2, Math.ceil(((2.576 + 2.326) * (sigma / bias)) ** 2));
    for (const { bias_mm, readings } of needed.to_tell) expect(readings).toBe(by(bias_mm));
    const told = needed.to_tell.map(({ bias_mm }) => bias_mm);
    expect(told).toEqual([...told].sort((a, b) => a - b));
    expect(told).toContain(tightest);
    expect(needed.least).toBe(Math.max(numberOf(rules, 'print-least-readings'), by(tightest)));
    expect(needed.each).toBe(Math.ceil(needed.least! / diameters.length));
  });
});

it('a vessel thinner than the pin is thickened over its length, which is given in true size', async () => {
  // 1 mm at twice its size stays below the pin of extrusion
  const pin = numberOf(rules, 'material-extrusion-pin');
  expect(SCALE * 1).toBeLessThan(pin);
  const { result } = await tubes(['A1'], 1, 'material-extrusion');
  expect(result.thickened).toEqual([
    { name: 'A1', from_mm: 0, to_mm: LENGTH, narrowest_mm: 1, printed_mm: pin },
  ]);
  for (const { vessel, not_to_size, expected_mm } of result.gauges.filter(
    ({ kind }) => kind === 'diameter',
  )) {
    expect(vessel).toBeDefined();
    expect(not_to_size).toBe(true);
    expect(expected_mm).toBeGreaterThanOrEqual(pin - 0.05);
  }
}, 120_000);

it('anything thinner than the process can print is reported, with place and thickness', async () => {
  // a plate of an airway is never thickened
  const least = numberOf(rules, 'vat-photopolymerisation-pin');
  const thin = least / 4;
  const corner: Vec3 = PLACES.V1;
  const pack = await preparePrint(
    bareInput(
      [
        { name: 'A1', role: 'feeder', mesh: tube(PLACE, CALIBRE) },
        { name: 'bronchus', role: 'airway', mesh: box(20, 20, thin, corner) },
      ],
      { vessels: [straightVessel('A1', PLACE, LENGTH, CALIBRE)], neighbours: [] },
      { scale: SCALE, process: 'vat-photopolymerisation' },
    ),
  );
  const { parts, origin_mm: origin } = pack.result;
  const bronchus = parts.find(({ name }) => name === 'bronchus')!;
  expect(bronchus.min_wall_mm).toBeCloseTo(SCALE * thin, 2);
  expect(bronchus.thin!.length).toBeGreaterThan(0);
  for (const { point_mm, print_mm, thickness_mm, area_mm2 } of bronchus.thin!) {
    print_mm!.forEach((x, k) => {
      expect(Math.abs(point_mm[k] - (x / SCALE + origin![k]))).toBeLessThan(0.01);
    });
    point_mm.forEach((x, k) => {
      expect(x - corner[k]).toBeGreaterThan(-0.02);
      expect(x - corner[k]).toBeLessThan([20, 20, thin][k] + 0.02);
    });
    expect(Math.abs(thickness_mm - SCALE * thin)).toBeLessThan(0.02);
    expect(area_mm2).toBeGreaterThan(0);
  }
}, 120_000);
