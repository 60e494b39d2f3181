import type { Vec3 } from '../foundation/vector.js';

/** Where a query ended. */
export interface BoxTreeHit {
  point: Vec3;
  distance: number;
  triangle: number;
}

/** What a tree of boxes is asked; `BoxTree` explains each query. */
export interface BoxQueries {
  /** The box around all triangles: min x y z, max x y z. */
  readonly around: Float32Array;
  first(from: Vec3, direction: Vec3, leastMm: number, mostMm: number): BoxTreeHit | undefined;
  each(from: Vec3, direction: Vec3, visit: (triangle: number) => void): void;
  closest(to: Vec3, mostMm: number): BoxTreeHit | undefined;
}
