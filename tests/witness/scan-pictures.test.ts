import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import { type GreyPicture, OUTSIDE_SCAN } from '../../src/witness/grey-picture.js';
import { type DrawnSurface, scanPictures } from '../../src/witness/scan-pictures.js';
import { bendResult, bendScan, bendSurface, LUMEN_HU, LUNG_HU, RADIUS_MM } from './tube-scene.js';

const volume = bendScan();
const pictures = (by: Vec3 = [0, 0, 0], wider = 0) =>
  scanPictures({ result: bendResult(by, wider), structures: [bendSurface(by, wider)], volume })!;

/** The half maximum along a column or from the centre outwards, by its own search: pixels, counted from the top. */
function crossings(values: readonly number[]): number[] {
  const half = (LUMEN_HU + LUNG_HU) / 2;
  return values.flatMap((value, i) => {
    const next = values[i + 1];
    if (next === undefined || value > half === next > half) return [];
    return [i + 0.5 + (half - value) / (next - value)];
  });
}

const column = ({ columns, rows, values }: GreyPicture, i: number): number[] =>
  Array.from({ length: rows }, (_, j) => values[j * columns + i]);

describe('a vessel drawn straightened', () => {
  const [one] = pictures().vessels;
  const { straight } = one;

  it('has its wall at its radius on both sides all along a bend, in both directions, where the surface is', () => {
    for (const { grey, surface } of straight.strips) {
      let read = 0;
      for (let i = 0; i < grey.columns; i += 5) {
        const atMm = straight.fromMm + (i + 0.5) * grey.stepMm;
        if (atMm < 2 || atMm > 36) continue;
        const found = crossings(column(grey, i)).map((j) => (grey.rows / 2 - j) * grey.stepMm);
        expect(found.length).toBe(2);
        expect(Math.abs(found[0] - RADIUS_MM)).toBeLessThan(0.12);
        expect(Math.abs(found[1] + RADIUS_MM)).toBeLessThan(0.12);
        read++;
      }
      expect(read).toBeGreaterThan(20);
      expect(surface.length).toBe(1);
      for (const { upMm, downMm } of surface[0]) {
        expect(Math.abs(upMm - RADIUS_MM)).toBeLessThan(0.02);
        expect(Math.abs(downMm + RADIUS_MM)).toBeLessThan(0.02);
      }
    }
  });

  it('continues past its neck into the sac, and before its far end', () => {
    const { grey } = straight.strips[0];
    const middle = (atMm: number): number =>
      column(grey, Math.floor((atMm - straight.fromMm) / grey.stepMm))[grey.rows >> 1];
    expect(middle(-3)).toBe(LUMEN_HU);
    expect(middle(52)).toBe(LUMEN_HU);
    expect(straight.fromMm).toBe(-4);
    expect(straight.toMm).toBeCloseTo(15 * Math.PI + 8, 6);
  });

  it('names the upward direction: the head in one strip, towards or away from the centre of the bend in the other', () => {
    const [first, second] = straight.strips;
    for (const { direction } of first.up) expect(direction[2]).toBeGreaterThan(0.99);
    for (const { atMm, direction } of second.up) {
      const angle = atMm / 30;
      const out = direction[0] * Math.cos(angle) + direction[1] * Math.sin(angle);
      expect(Math.abs(out)).toBeGreaterThan(0.99);
    }
  });

  it('of a displaced surface shows the wall of the image where the image has it', () => {
    const by: Vec3 = [0, 0, 0.5];
    const [strip] = pictures(by).vessels[0].straight.strips;
    // up is the head: the scan lies 0.5 mm below the surface
    for (const { upMm, downMm } of strip.image) {
      expect(upMm).toBeCloseTo(RADIUS_MM - 0.5, 2);
      expect(downMm).toBeCloseTo(-RADIUS_MM - 0.5, 2);
    }
    expect(strip.surface[0][10].upMm).toBeCloseTo(RADIUS_MM, 1);
    const i = Math.floor((20 - straight.fromMm) / strip.grey.stepMm);
    const [upper] = crossings(column(strip.grey, i)).map(
      (j) => (strip.grey.rows / 2 - j) * strip.grey.stepMm,
    );
    expect(Math.abs(upper - (RADIUS_MM - 0.5))).toBeLessThan(0.12);
  });

  it('of a surface drawn too wide is separate from the wall of the image', () => {
    const [strip] = pictures([0, 0, 0], 0.4).vessels[0].straight.strips;
    expect(strip.surface[0][10].upMm - strip.image[10].upMm).toBeCloseTo(0.4, 1);
  });
});

describe('cross-sections', () => {
  const { sections } = pictures().vessels[0];

  it('lie in the landing zone, at the neck and at the thinnest position', () => {
    expect(sections.map(({ at, atMm }) => [at, Math.round(atMm * 10) / 10])).toEqual([
      ['landing zone', 32.5],
      ['neck', 47.1],
      ['thinnest place', 21],
    ]);
    expect(sections.map(({ image }) => image?.calibreMm)).toEqual([6, undefined, 6]);
  });

  it('show the vessel around its outline, in the same position as in the grey values', () => {
    const { grey, outlines, reachMm } = sections[0];
    expect(outlines.map(({ name }) => name)).toEqual(['A1']);
    const radii = outlines[0].lines.flatMap((line) =>
      line.flatMap((x, i) => (i % 2 === 0 ? [Math.hypot(x, line[i + 1])] : [])),
    );
    expect(Math.max(...radii) - Math.min(...radii)).toBeLessThan(0.05);
    const walls = crossings(column(grey, grey.columns >> 1)).map((j) => (j - grey.rows / 2) * grey.stepMm);
    expect(walls.length).toBe(2);
    expect(Math.abs(walls[1] - RADIUS_MM)).toBeLessThan(0.12);
    expect(grey.columns * grey.stepMm).toBeGreaterThanOrEqual(2 * reachMm);
  });
});

describe('slices along the body axes', () => {
  const missed = [
    { kind: 'side-branch', point_mm: [0, 0, 0], calibre_mm: 9, length_mm: 12, joins: 'A1' },
    { kind: 'unclear', point_mm: [0, 0, 0], calibre_mm: 2, length_mm: 12, joins: 'A1' },
    { kind: 'feeder-candidate', point_mm: [29, 3, 1], calibre_mm: 3, length_mm: 12, joins: 'sac' },
  ];
  const found = scanPictures({
    result: { ...bendResult(), missed },
    structures: [bendSurface()],
    volume,
  })!;

  it('go through the centre of the sac and show all of it', () => {
    expect(found.sac!.map(({ plane }) => plane.centre)).toEqual([
      [-8, 30, 0],
      [-8, 30, 0],
      [-8, 30, 0],
    ]);
    for (const { grey, reachMm } of found.sac!) {
      expect(reachMm).toBe(21);
      const walls = crossings(column(grey, grey.columns >> 1)).map((j) => (j - grey.rows / 2) * grey.stepMm);
      expect(Math.abs(walls[0] + 9)).toBeLessThan(0.2);
    }
    // LPS: left to the right of the picture, the back or the feet down
    expect(found.sac!.map(({ plane }) => [plane.right, plane.down])).toEqual([
      [
        [1, 0, 0],
        [0, 1, 0],
      ],
      [
        [1, 0, 0],
        [0, 0, -1],
      ],
      [
        [0, 1, 0],
        [0, 0, -1],
      ],
    ]);
  });

  it('and through each missed piece, widest first, without side branches, by its number in the result', () => {
    expect(found.missed.map(({ number, piece }) => [number, piece.kind])).toEqual([
      [3, 'feeder-candidate'],
      [2, 'unclear'],
    ]);
    const { grey } = found.missed[0].slices[0];
    expect(grey.values[(grey.rows >> 1) * grey.columns + (grey.columns >> 1)]).toBe(LUMEN_HU);
  });

  it('count what is not drawn', () => {
    const many = Array.from({ length: 9 }, () => missed[1]);
    const all = scanPictures({
      result: { ...bendResult(), missed: many },
      structures: [bendSurface()],
      volume,
    })!;
    expect([all.missed.length, all.leftOut.missed]).toEqual([6, 3]);
  });
});

describe('how the surface is given', () => {
  it('in RAS gives the same pictures', () => {
    const turned = (x: number, i: number): number => (i % 3 === 2 ? x : -x);
    const point = (p: readonly number[]): Vec3 => [-p[0], -p[1], p[2]];
    const { mesh, ...rest } = bendSurface();
    const structures: DrawnSurface[] = [
      { ...rest, mesh: { ...mesh, positions: mesh.positions.map(turned) } },
    ];
    const lps = bendResult();
    const { A1 } = lps.vessels;
    const vessel = { ...A1, centreline_mm: A1.centreline_mm!.map(point) };
    const result = {
      ...lps,
      frame_axes: 'RAS' as const,
      sac: { ...lps.sac!, centre_mm: point(lps.sac!.centre_mm!) },
      vessels: { A1: vessel },
    };
    const ras = scanPictures({ result, structures, volume })!;
    const usual = pictures();
    expect(ras.vessels[0].straight.strips.map(({ grey }) => grey)).toEqual(
      usual.vessels[0].straight.strips.map(({ grey }) => grey),
    );
    expect(ras.sac!.map(({ grey }) => grey)).toEqual(usual.sac!.map(({ grey }) => grey));
    expect(ras.vessels[0].sections[0].outlines[0].lines[0].length).toBe(
      usual.vessels[0].sections[0].outlines[0].lines[0].length,
    );
  });

  it('elsewhere gives none', () => {
    for (const verdict of ['elsewhere', 'flipped', 'unchecked'] as const)
      expect(
        scanPictures({
          result: { ...bendResult(), frame: { verdict } },
          structures: [bendSurface()],
          volume,
        }),
      ).toBeUndefined();
  });

  it('past the edge of the scan says where there is none', () => {
    const result = bendResult([0, 0, 18]);
    const found = scanPictures({ result, structures: [bendSurface([0, 0, 18])], volume })!;
    const { values } = found.vessels[0].straight.strips[0].grey;
    expect(values.includes(OUTSIDE_SCAN)).toBe(true);
    expect(values.some((value) => value !== OUTSIDE_SCAN)).toBe(true);
  });
});
