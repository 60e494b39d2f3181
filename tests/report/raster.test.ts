import { inflateSync } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import { encodePng } from '../../src/report/figures/png.js';
import { rasteriseDeep, withMargins } from '../../src/report/figures/raster.js';
import type { Projection } from '../../src/report/figures/raster-samples.js';

const FLAT: Projection = [
  [1, 0, 0, 0],
  [0, 1, 0, 0],
  [0, 0, 1, 0],
];
const triangle = (z: number) => ({
  positions: Float64Array.from([2, 2, z, 18, 2, z, 2, 18, z]),
  triangles: Uint32Array.from([0, 1, 2]),
});

/** A picture of 20 x 20 pixels and the colour of one of its pixels. */
function drawn(parts: Parameters<typeof rasteriseDeep>[0], projection = FLAT) {
  const picture = rasteriseDeep(parts, projection, 20, 20);
  const pixels = withMargins(picture, 20, 20);
  const at = (x: number, y: number): number[] => [
    ...pixels.subarray(picture.channels * (20 * y + x), picture.channels * (20 * y + x + 1)),
  ];
  return { ...picture, at };
}

/** The samples of a picture of 20 x 20 pixels, two by two in each pixel. */
function samplesWhere(isThere: (x: number, y: number) => boolean): string[] {
  const found: string[] = [];
  for (let y = 0.25; y < 20; y += 0.5)
    for (let x = 0.25; x < 20; x += 0.5) if (isThere(x, y)) found.push(`${x} ${y}`);
  return found;
}

/** The samples covered by flat triangles; `corners`: x and y of each. */
function coveredBy(corners: readonly number[], triangles: readonly number[]): string[] {
  const positions = new Float64Array((corners.length / 2) * 3);
  for (let i = 0; 2 * i < corners.length; i++) positions.set(corners.slice(2 * i, 2 * i + 2), 3 * i);
  const mesh = { positions, triangles: Uint32Array.from(triangles) };
  const { depthAt } = rasteriseDeep([{ mesh, colour: [1, 2, 3] }], FLAT, 20, 20);
  return samplesWhere((x, y) => depthAt(x, y) < Infinity);
}

describe('rasterise', () => {
  it('draws what lies behind all others, in its colour and without outlines', () => {
    const behind = { mesh: triangle(-5), colour: [200, 100, 50] as const, isBehind: true };
    const alone = drawn([behind]);
    expect(alone.at(5, 5)).toEqual([200, 100, 50]);
    expect(alone.at(2, 5)).toEqual([200, 100, 50]);
    expect(alone.at(19, 19)).toEqual([255, 255, 255]);
    expect(alone.depthAt(5, 5)).toBe(Infinity);
    const covered = drawn([behind, { mesh: triangle(3), colour: [10, 20, 30] }]);
    expect(covered.at(5, 5)).toEqual([10, 20, 30]);
    expect(covered.depthAt(5, 5)).toBe(3);
  });

  it('draws a picture that extends past every side, and an empty one', () => {
    const large = {
      positions: Float64Array.from([-90, -90, 0, 300, -90, 0, -90, 300, 0]),
      triangles: Uint32Array.from([0, 1, 2]),
    };
    const full = drawn([{ mesh: large, colour: [1, 2, 3] }]);
    expect(full.at(0, 0)).toEqual([1, 2, 3]);
    expect(full.at(19, 19)).toEqual([1, 2, 3]);
    const beside = drawn([{ mesh: large, colour: [1, 2, 3] }], [[1, 0, 0, 900], FLAT[1], FLAT[2]]);
    expect(beside.pixels.every((value) => value === 255)).toBe(true);
    expect(beside.depthAt(5, 5)).toBe(Infinity);
  });

  it('returns only the part that is not white, in grey where no part has a colour', () => {
    const { left, top, width, height, channels, at } = drawn([{ mesh: triangle(0), colour: [9, 9, 9] }]);
    expect([left, top, width, height, channels]).toEqual([1, 1, 19, 19, 1]);
    expect([at(0, 0), at(5, 5), at(19, 19)]).toEqual([[255], [9], [255]]);
  });

  it('draws both sides of an open surface, and of a closed one only what faces the viewer', () => {
    // clockwise on the screen, where rows run downwards: its front faces away
    const turned = { ...triangle(0), triangles: Uint32Array.from([0, 2, 1]) };
    const isDrawn = (mesh: typeof turned, isClosed: boolean): boolean =>
      drawn([{ mesh, colour: [9, 9, 9], isClosed }]).at(5, 5)[0] === 9;
    expect([isDrawn(turned, false), isDrawn(triangle(0), false)]).toEqual([true, true]);
    expect([isDrawn(turned, true), isDrawn(triangle(0), true)]).toEqual([true, false]);
  });

  // A point is inside a triangle if it lies on the same side of all three edges.
  it('covers the samples inside triangles, whatever the order of their corners, without gaps between them', () => {
    const four = [3.3, 1.2, 17.9, 6.1, 8.4, 18.7, 15.2, 19.6];
    const side = (i: number, j: number, x: number, y: number): boolean =>
      (four[2 * j] - four[2 * i]) * (y - four[2 * i + 1]) >
      (four[2 * j + 1] - four[2 * i + 1]) * (x - four[2 * i]);
    const isIn = ([a, b, c]: number[], x: number, y: number): boolean =>
      side(a, b, x, y) === side(b, c, x, y) && side(b, c, x, y) === side(c, a, x, y);
    const right = [1, 3, 2];
    for (const one of [
      [0, 1, 2],
      [2, 1, 0],
      [1, 2, 0],
    ])
      expect(coveredBy(four, [...one, ...right])).toEqual(
        samplesWhere((x, y) => isIn(one, x, y) || isIn(right, x, y)),
      );
  });

  it('draws a sample on a shared edge once, and those on the outer edge on the left and at the top', () => {
    expect(coveredBy([2.25, 2.25, 7.75, 2.25, 2.25, 7.75, 7.75, 7.75], [0, 1, 2, 1, 3, 2])).toEqual(
      samplesWhere((x, y) => x >= 2.25 && x < 7.75 && y >= 2.25 && y < 7.75),
    );
  });

  it('gives the depth of a tilted plane at every sample', () => {
    // depth 3 + x / 2 - y / 4
    const mesh = {
      positions: Float64Array.from([1, 1, 3.25, 19, 2, 12, 4, 18, 0.5]),
      triangles: Uint32Array.from([0, 1, 2]),
    };
    const { depthAt } = rasteriseDeep([{ mesh, colour: [1, 2, 3] }], FLAT, 20, 20);
    let samples = 0;
    for (let y = 0.25; y < 20; y += 0.5)
      for (let x = 0.25; x < 20; x += 0.5) {
        if (depthAt(x, y) === Infinity) continue;
        samples++;
        expect(depthAt(x, y)).toBeCloseTo(3 + x / 2 - y / 4, 5);
      }
    // its area, with 4 samples per unit
    expect(samples / 4).toBeCloseTo((18 * 17 - 3 * 1) / 2, -1);
  });
});

describe('encodePng', () => {
  /** Colour type and the filtered rows. */
  const parts = (png: Uint8Array): { type: number; rows: Buffer } => {
    const at = Buffer.from(png).indexOf('IDAT');
    const length = new DataView(png.buffer, png.byteOffset).getUint32(at - 4);
    return { type: png[25], rows: inflateSync(png.subarray(at + 4, at + 4 + length)) };
  };

  it('writes grey with one byte per pixel and colour with three, each row after its filter', () => {
    const grey = parts(encodePng(Uint8Array.from([9, 12]), 1, 2, 1));
    expect(grey.type).toBe(0);
    expect([...grey.rows]).toEqual([0, 9, 0, 12]);
    const colour = parts(encodePng(Uint8Array.from([9, 9, 9, 12, 12, 13]), 2, 1));
    expect(colour.type).toBe(2);
    expect([...colour.rows]).toEqual([0, 9, 9, 9, 12, 12, 13]);
  });
});
