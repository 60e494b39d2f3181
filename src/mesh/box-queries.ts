import type { Vec3 } from '../foundation/vector.js';

/** Where a query ended. */
export interface BoxTreeHit {
  point: Vec3;
  distance: number;
  triangle: number;
}

/**
 * Number of values for one of many rays: origin and direction as x y z; then the distance and the triangle where it ended, -1 if it hit
 * none.
 */
export const RAY = 8;
export const RAY_DISTANCE = 6;
export const RAY_TRIANGLE = 7;

/** The queries of a box tree; `BoxTree` explains each of them. */
export interface BoxQueries {
  /** The box around all triangles: min x y z, max x y z. */
  readonly around: Float32Array;
  first(from: Vec3, direction: Vec3, leastMm: number, mostMm: number): BoxTreeHit | undefined;
  firsts(rays: Float64Array, count: number, leastMm: number, mostMm: number): void;
  each(from: Vec3, direction: Vec3, visit: (triangle: number) => void): void;
  closest(to: Vec3, mostMm: number): BoxTreeHit | undefined;
}
