/** Input of the rasters: what they draw, and where. */
import type { TriangleMesh } from '../../mesh/mesh.js';
import type { Pattern, Rgb } from './raster-ink.js';

/** A part to draw in one colour. */
export interface RasterPart {
  mesh: TriangleMesh;
  /** Red, green, blue, 0..255. */
  colour: Rgb;
  pattern?: Pattern;
  /** Drawn behind all others, whatever its depth, and without outlines. */
  isBehind?: boolean;
  /** Closed and wound outward: the triangles that face away are then never visible and are left out. */
  isClosed?: boolean;
}

/**
 * A parallel projection: three rows that map a point in mm to right and down on the screen (pixels) and distance from the viewer. Each
 * row is `[x, y, z, offset]`.
 */
export type Projection = readonly [Row, Row, Row];
export type Row = readonly [number, number, number, number];

/** Each pixel averages a square of samples with this side. */
export const SAMPLES = 2;

/** The task: the picture's size in pixels, its bytes per pixel, and whether depths are needed. */
export interface Scene {
  parts: readonly RasterPart[];
  projection: Projection;
  width: number;
  height: number;
  channels: 1 | 3;
  keepsDepth: boolean;
}

/** The rectangle of samples, in whole pixels, outside which nothing is drawn: first column and row, and number of each. */
export interface Window {
  left: number;
  top: number;
  columns: number;
  rows: number;
}

/** A drawn scene. */
export interface Drawn extends Window {
  /**
   * How far in front of `farthest` the visible part is; 0 if nothing is drawn, or only parts that are behind all others. May be empty if
   * depths are not needed.
   */
  near: Float32Array;
  farthest: number;
  channels: 1 | 3;
  pixels: Uint8Array;
}

/** The samples that vertices within these bounds can cover, with a margin of one sample for the outlines. */
export function windowOf(
  [x0, y0, x1, y1]: ArrayLike<number> & Iterable<number>,
  { width, height }: Scene,
): Window {
  const whole = (value: number): number => SAMPLES * Math.floor(value / SAMPLES);
  let left = Math.max(0, whole(x0 - 2));
  let top = Math.max(0, whole(y0 - 2));
  let right = Math.min(width * SAMPLES, whole(x1 + 2) + SAMPLES);
  let bottom = Math.min(height * SAMPLES, whole(y1 + 2) + SAMPLES);
  if (!(left < right && top < bottom)) [left, top, right, bottom] = [0, 0, SAMPLES, SAMPLES];
  return { left, top, columns: right - left, rows: bottom - top };
}
