import { cross, type Vec3 } from '../foundation/vector.js';
import type { PicturePlane } from '../geometry/plane-outline.js';
import type { GreyVolume } from '../volume/ct/grey-volume.js';
import { type GreyPicture, greyOnPlane, OUTSIDE_SCAN, wholeValueAt } from './grey-picture.js';

/** The scan on a plane through a place, or its maximum-intensity projection about that plane; LPS. */
export interface PlacePicture {
  plane: PicturePlane;
  reachMm: number;
  grey: GreyPicture;
}

/** Axial seen from the feet, coronal from the front, sagittal from the left, as radiologists look at them. Common practice, no source. */
export const VIEWS: readonly { right: Vec3; down: Vec3 }[] = [
  { right: [1, 0, 0], down: [0, 1, 0] },
  { right: [1, 0, 0], down: [0, 0, -1] },
  { right: [0, 1, 0], down: [0, 0, -1] },
];

const SLICE_STEP_MM = 0.4;
const BRIGHTEST_STEP_MM = 0.8;

/** A slice in one of the three views. */
export function sliceAt(
  volume: GreyVolume,
  view: (typeof VIEWS)[number],
  centre: Vec3,
  reachMm: number,
): PlacePicture {
  const plane = { centre, ...view };
  return { plane, reachMm, grey: greyOnPlane(volume, plane, reachMm, SLICE_STEP_MM) };
}

/** The brightest value along the line of sight within the reach, up to `mostHu`, so that bone hides less. */
export function brightestAt(
  volume: GreyVolume,
  view: (typeof VIEWS)[number],
  centre: Vec3,
  reachMm: number,
  mostHu: number,
): PlacePicture {
  const { right, down } = view;
  const sight = cross(right, down);
  const stepMm = BRIGHTEST_STEP_MM;
  const size = 2 * Math.ceil(reachMm / stepMm);
  const values = new Int16Array(size * size).fill(OUTSIDE_SCAN);
  const at = (n: number): number => (n + 0.5 - size / 2) * stepMm;
  for (let j = 0; j < size; j++)
    for (let i = 0; i < size; i++)
      for (let k = 0; k < size; k++) {
        const [x, y, z] = [0, 1, 2].map(
          (d) => centre[d] + at(i) * right[d] + at(j) * down[d] + at(k) * sight[d],
        );
        const value = wholeValueAt(volume, x, y, z);
        if (value > values[j * size + i] && value <= mostHu) values[j * size + i] = value;
      }
  return { plane: { centre, right, down }, reachMm, grey: { columns: size, rows: size, stepMm, values } };
}
