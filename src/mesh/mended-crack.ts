import type { Vec3 } from '../foundation/vector.js';

/** A crack of a surface that was closed. */
export interface MendedCrack {
  /** A point near its middle. */
  point: Vec3;
  /** Diameter of the largest circle that fits between its rims, mm. */
  widthMm: number;
  /** Half of its rim, mm. */
  lengthMm: number;
}
