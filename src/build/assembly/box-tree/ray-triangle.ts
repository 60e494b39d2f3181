// AssemblyScript: where a ray meets a triangle.
import { component } from '../shared/vector';
import { dx, dy, dz, px, py, pz } from './query';
import { corner } from './tree';

/** The axes in which the ray is tested, the steepest last, with its origin and shear there. */
let kx: usize = 0;
let ky: usize = 0;
let kz: usize = 0;
let ox: f64 = 0;
let oy: f64 = 0;
let oz: f64 = 0;
let sx: f64 = 0;
let sy: f64 = 0;
let sz: f64 = 0;

export function aimAtTriangles(): void {
  const x = abs(dx);
  const y = abs(dy);
  const z = abs(dz);
  const steep: u32 = x >= y && x >= z ? 0 : y >= z ? 1 : 2;
  const along = component(steep, dx, dy, dz);
  const turn: u32 = along < 0 ? 2 : 1;
  const one = (steep + turn) % 3;
  const two = (steep + 3 - turn) % 3;
  kx = (<usize>one) << 2;
  ky = (<usize>two) << 2;
  kz = (<usize>steep) << 2;
  ox = component(one, px, py, pz);
  oy = component(two, px, py, pz);
  oz = component(steep, px, py, pz);
  sx = component(one, dx, dy, dz) / along;
  sy = component(two, dx, dy, dz) / along;
  sz = 1 / along;
}

/** Position along the ray; negative or NaN if it does not meet the triangle. */
export function placeOnRay(triangle: u32): f64 {
  const p = corner(triangle, 0);
  const q = corner(triangle, 4);
  const r = corner(triangle, 8);
  const az = <f64>load<f32>(p + kz) - oz;
  const bz = <f64>load<f32>(q + kz) - oz;
  const cz = <f64>load<f32>(r + kz) - oz;
  const ax = <f64>load<f32>(p + kx) - ox - sx * az;
  const ay = <f64>load<f32>(p + ky) - oy - sy * az;
  const bx = <f64>load<f32>(q + kx) - ox - sx * bz;
  const by = <f64>load<f32>(q + ky) - oy - sy * bz;
  const cx = <f64>load<f32>(r + kx) - ox - sx * cz;
  const cy = <f64>load<f32>(r + ky) - oy - sy * cz;
  const u = cx * by - cy * bx;
  const v = ax * cy - ay * cx;
  const w = bx * ay - by * ax;
  if ((u < 0 || v < 0 || w < 0) && (u > 0 || v > 0 || w > 0)) return -1;
  const det = u + v + w;
  if (det === 0) return -1;
  const scaled = sz * (u * az + v * bz + w * cz);
  if (det > 0 ? scaled < 0 : scaled > 0) return -1;
  return scaled / det;
}
