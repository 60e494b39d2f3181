// AssemblyScript: corners and normal of one triangle.
import { pointOf } from '../shared/mesh';

/** The triangle examined last: its corners, and its normal with a length of twice the area. */
export let a: usize = 0;
export let b: usize = 0;
export let c: usize = 0;
export let nx: f64 = 0;
export let ny: f64 = 0;
export let nz: f64 = 0;

export function lookAt(positions: usize, t: usize): void {
  a = pointOf(positions, load<u32>(t));
  b = pointOf(positions, load<u32>(t, 4));
  c = pointOf(positions, load<u32>(t, 8));
}

/** Computes the normal of the triangle whose corners were set last, and returns its length. */
export function layNormal(): f64 {
  // calls nothing, because only then does the compiler inline it
  const ux = load<f64>(b) - load<f64>(a);
  const uy = load<f64>(b, 8) - load<f64>(a, 8);
  const uz = load<f64>(b, 16) - load<f64>(a, 16);
  const vx = load<f64>(c) - load<f64>(a);
  const vy = load<f64>(c, 8) - load<f64>(a, 8);
  const vz = load<f64>(c, 16) - load<f64>(a, 16);
  nx = uy * vz - uz * vy;
  ny = uz * vx - ux * vz;
  nz = ux * vy - uy * vx;
  return sqrt(nx * nx + ny * ny + nz * nz);
}
