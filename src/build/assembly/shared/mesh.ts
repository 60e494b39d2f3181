// AssemblyScript: a mesh in memory, its coordinates as 64-bit floats and its corners as 32-bit vertex numbers.
import { word } from './words';

/** Bytes of a point, of a point in 32-bit floats, and of a triangle's three corners. */
export const POINT: usize = 24;
export const POINT_32: usize = 12;
export const CORNERS: usize = 12;

export function pointOf(positions: usize, v: i32): usize {
  return positions + POINT * <usize>v;
}

/** The point of corner `i`, counted over all triangles. */
export function cornerOf(positions: usize, triangles: usize, i: i32): usize {
  return pointOf(positions, word(triangles, i));
}

export function xOf(p: usize): f64 {
  return load<f64>(p);
}

export function yOf(p: usize): f64 {
  return load<f64>(p, 8);
}

export function zOf(p: usize): f64 {
  return load<f64>(p, 16);
}

export function setPoint(p: usize, x: f64, y: f64, z: f64): void {
  store<f64>(p, x);
  store<f64>(p, y, 8);
  store<f64>(p, z, 16);
}

export function isAt(p: usize, x: f64, y: f64, z: f64): bool {
  return xOf(p) === x && yOf(p) === y && zOf(p) === z;
}
