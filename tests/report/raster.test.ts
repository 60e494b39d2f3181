import { inflateSync } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import { encodePng } from '../../src/report/figures/png.js';
import { type Projection, rasterise } from '../../src/report/figures/raster.js';

const FLAT: Projection = [
  [1, 0, 0, 0],
  [0, 1, 0, 0],
  [0, 0, 1, 0],
];
const triangle = (z: number) => ({
  positions: Float64Array.from([2, 2, z, 18, 2, z, 2, 18, z]),
  triangles: Uint32Array.from([0, 1, 2]),
});

/** Colour of a pixel of a picture 20 pixels wide. */
const pixel = (pixels: Uint8Array, x: number, y: number): number[] => [
  ...pixels.subarray(3 * (20 * y + x), 3 * (20 * y + x) + 3),
];

describe('rasterise', () => {
  it('draws what lies behind all others, in its colour and without outlines', () => {
    const behind = { mesh: triangle(-5), colour: [200, 100, 50] as const, isBehind: true };
    const alone = rasterise([behind], FLAT, 20, 20);
    expect(pixel(alone.pixels, 5, 5)).toEqual([200, 100, 50]);
    expect(pixel(alone.pixels, 2, 5)).toEqual([200, 100, 50]);
    expect(pixel(alone.pixels, 19, 19)).toEqual([255, 255, 255]);
    expect(alone.depthAt(5, 5)).toBe(Infinity);
    const covered = rasterise([behind, { mesh: triangle(3), colour: [10, 20, 30] }], FLAT, 20, 20);
    expect(pixel(covered.pixels, 5, 5)).toEqual([10, 20, 30]);
    expect(covered.depthAt(5, 5)).toBe(3);
  });

  it('gives a picture that runs out on every side, and an empty one', () => {
    const large = {
      positions: Float64Array.from([-90, -90, 0, 300, -90, 0, -90, 300, 0]),
      triangles: Uint32Array.from([0, 1, 2]),
    };
    const { pixels } = rasterise([{ mesh: large, colour: [1, 2, 3] }], FLAT, 20, 20);
    expect(pixel(pixels, 0, 0)).toEqual([1, 2, 3]);
    expect(pixel(pixels, 19, 19)).toEqual([1, 2, 3]);
    const beside = rasterise(
      [{ mesh: large, colour: [1, 2, 3] }],
      [[1, 0, 0, 900], FLAT[1], FLAT[2]],
      20,
      20,
    );
    expect(beside.pixels.every((value) => value === 255)).toBe(true);
    expect(beside.depthAt(5, 5)).toBe(Infinity);
  });
});

describe('encodePng', () => {
  /** Colour type and the filtered rows. */
  const parts = (png: Uint8Array): { type: number; rows: Buffer } => {
    const at = Buffer.from(png).indexOf('IDAT');
    const length = new DataView(png.buffer, png.byteOffset).getUint32(at - 4);
    return { type: png[25], rows: inflateSync(png.subarray(at + 4, at + 4 + length)) };
  };

  it('writes a picture without colour as grey, one byte a pixel, and one with a single coloured pixel as it is', () => {
    const grey = parts(encodePng(Uint8Array.from([9, 9, 9, 12, 12, 12]), 2, 1));
    expect(grey.type).toBe(0);
    expect([...grey.rows]).toEqual([1, 9, 3]);
    const colour = parts(encodePng(Uint8Array.from([9, 9, 9, 12, 12, 13]), 2, 1));
    expect(colour.type).toBe(2);
    expect([...colour.rows]).toEqual([1, 9, 9, 9, 3, 3, 4]);
  });
});
