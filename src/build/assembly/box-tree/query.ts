// AssemblyScript: the current query and its answer.
import { POINT, setPoint } from '../shared/mesh';
import { ANSWER } from './layout';

/** A box or triangle farther than the best answer so far by more than this factor is of no use. */
export const BEYOND: f64 = 1 + 1e-9;

/** A point, or the origin of a ray; its direction. */
export let px: f64 = 0;
export let py: f64 = 0;
export let pz: f64 = 0;
export let dx: f64 = 0;
export let dy: f64 = 0;
export let dz: f64 = 0;

export function askAt(x: f64, y: f64, z: f64): void {
  px = x;
  py = y;
  pz = z;
}

export function askAlong(x: f64, y: f64, z: f64): void {
  dx = x;
  dy = y;
  dz = z;
}

export function answer(x: f64, y: f64, z: f64, distance: f64): void {
  setPoint(ANSWER, x, y, z);
  store<f64>(ANSWER, distance, POINT);
}
