import type { Vec3 } from '../foundation/vector.js';

/** Patient axes of the coordinates: x to the left and y to the back (LPS, as DICOM), or to the right and front (RAS). */
export type Frame = 'LPS' | 'RAS' | 'unknown';

/** Converts a direction between RAS and LPS (its own inverse); LPS and unknown stay as they are. */
export const rotateToLps = (d: Vec3, frame: Frame): Vec3 => (frame === 'RAS' ? [-d[0], -d[1], d[2]] : d);
