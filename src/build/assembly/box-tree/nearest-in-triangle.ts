// AssemblyScript: the point of a triangle that is nearest to the query point.
import { dot, square } from '../shared/vector';
import { px, py, pz } from './query';
import { corner } from './tree';

/** Point of the triangle examined last. */
export let nearX: f64 = 0;
export let nearY: f64 = 0;
export let nearZ: f64 = 0;

/** Sets the point; returns the square of its distance. */
export function layNearest(triangle: u32): f64 {
  const p = corner(triangle, 0);
  const q = corner(triangle, 4);
  const r = corner(triangle, 8);
  const ax = <f64>load<f32>(p);
  const ay = <f64>load<f32>(p, 4);
  const az = <f64>load<f32>(p, 8);
  const bx = <f64>load<f32>(q);
  const by = <f64>load<f32>(q, 4);
  const bz = <f64>load<f32>(q, 8);
  const cx = <f64>load<f32>(r);
  const cy = <f64>load<f32>(r, 4);
  const cz = <f64>load<f32>(r, 8);
  const ux = bx - ax;
  const uy = by - ay;
  const uz = bz - az;
  const vx = cx - ax;
  const vy = cy - ay;
  const vz = cz - az;
  let x = px - ax;
  let y = py - ay;
  let z = pz - az;
  const d1 = dot(ux, uy, uz, x, y, z);
  const d2 = dot(vx, vy, vz, x, y, z);
  if (d1 <= 0 && d2 <= 0) return squareAt(ax, ay, az);
  x = px - bx;
  y = py - by;
  z = pz - bz;
  const d3 = dot(ux, uy, uz, x, y, z);
  const d4 = dot(vx, vy, vz, x, y, z);
  if (d3 >= 0 && d4 <= d3) return squareAt(bx, by, bz);
  const c = d1 * d4 - d3 * d2;
  if (c <= 0 && d1 >= 0 && d3 <= 0 && d1 - d3 > 0) {
    const f = d1 / (d1 - d3);
    return squareAt(ax + ux * f, ay + uy * f, az + uz * f);
  }
  x = px - cx;
  y = py - cy;
  z = pz - cz;
  const d5 = dot(ux, uy, uz, x, y, z);
  const d6 = dot(vx, vy, vz, x, y, z);
  if (d6 >= 0 && d5 <= d6) return squareAt(cx, cy, cz);
  const b = d5 * d2 - d1 * d6;
  if (b <= 0 && d2 >= 0 && d6 <= 0) {
    const f = d2 / (d2 - d6);
    return squareAt(ax + vx * f, ay + vy * f, az + vz * f);
  }
  const a = d3 * d6 - d5 * d4;
  if (a <= 0 && d4 - d3 >= 0 && d5 - d6 >= 0) {
    const f = (d4 - d3) / (d4 - d3 + (d5 - d6));
    return squareAt(bx + (cx - bx) * f, by + (cy - by) * f, bz + (cz - bz) * f);
  }
  const part = 1 / (a + b + c);
  const f = b * part;
  const g = c * part;
  return squareAt(ax + ux * f + vx * g, ay + uy * f + vy * g, az + uz * f + vz * g);
}

function squareAt(x: f64, y: f64, z: f64): f64 {
  nearX = x;
  nearY = y;
  nearZ = z;
  return square(px - x, py - y, pz - z);
}
