import type { Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from './mesh.js';

// Rays and nearest points of single triangles. The current query is kept in arrays of the module, so that a search through thousands of
// triangles creates no objects.

/** The current query: the origin and, for a ray, the direction and its inverse, as x y z. */
export const asked = new Float64Array(9);
/** For a ray: the indices in a box of the sides that it meets first; the axes in which it is tested, the steepest last. */
export const sides = new Int32Array(3);
const axes = new Int32Array(3);
/** The ray's shear towards the steepest axis. */
const shear = new Float64Array(3);
/** Closest point of the triangle that `layNearest` examined. */
export const near = new Float64Array(3);

/** Sets the point for the following queries. */
export function layPoint(point: Vec3): void {
  asked[0] = point[0];
  asked[1] = point[1];
  asked[2] = point[2];
}

/** Sets the ray for the following queries. */
export function layRay(from: Vec3, direction: Vec3): void {
  for (let k = 0; k < 3; k++) {
    asked[k] = from[k];
    asked[3 + k] = direction[k];
    asked[6 + k] = 1 / direction[k];
    sides[k] = asked[6 + k] >= 0 ? k : k + 3;
  }
  const x = Math.abs(direction[0]);
  const y = Math.abs(direction[1]);
  const z = Math.abs(direction[2]);
  const steep = x >= y && x >= z ? 0 : y >= z ? 1 : 2;
  // swapped if the ray runs backwards, so that the triangle's orientation is kept
  const turn = direction[steep] < 0 ? 2 : 1;
  axes[0] = (steep + turn) % 3;
  axes[1] = (steep + 3 - turn) % 3;
  axes[2] = steep;
  shear[0] = direction[axes[0]] / direction[steep];
  shear[1] = direction[axes[1]] / direction[steep];
  shear[2] = 1 / direction[steep];
}

/** Distance from the ray's origin to its position t. */
export function distanceAt(t: number): number {
  const dx = asked[0] - (asked[0] + asked[3] * t);
  const dy = asked[1] - (asked[1] + asked[4] * t);
  const dz = asked[2] - (asked[2] + asked[5] * t);
  return Math.sqrt(dx * dx + dy * dy + dz * dz);
}

/**
 * Position along the ray where it meets a triangle; negative or NaN if it does not. No ray passes between two triangles that share an edge
 * (Woop, Benthin and Wald, Watertight Ray/Triangle Intersection, JCGT 2 (1) 2013).
 */
export function placeOnRay({ positions, triangles }: TriangleMesh, triangle: number): number {
  const p = 3 * triangles[3 * triangle];
  const q = 3 * triangles[3 * triangle + 1];
  const r = 3 * triangles[3 * triangle + 2];
  const kx = axes[0];
  const ky = axes[1];
  const kz = axes[2];
  const ox = asked[kx];
  const oy = asked[ky];
  const oz = asked[kz];
  const sx = shear[0];
  const sy = shear[1];
  const az = Math.fround(positions[p + kz]) - oz;
  const bz = Math.fround(positions[q + kz]) - oz;
  const cz = Math.fround(positions[r + kz]) - oz;
  const ax = Math.fround(positions[p + kx]) - ox - sx * az;
  const ay = Math.fround(positions[p + ky]) - oy - sy * az;
  const bx = Math.fround(positions[q + kx]) - ox - sx * bz;
  const by = Math.fround(positions[q + ky]) - oy - sy * bz;
  const cx = Math.fround(positions[r + kx]) - ox - sx * cz;
  const cy = Math.fround(positions[r + ky]) - oy - sy * cz;
  const u = cx * by - cy * bx;
  const v = ax * cy - ay * cx;
  const w = bx * ay - by * ax;
  if ((u < 0 || v < 0 || w < 0) && (u > 0 || v > 0 || w > 0)) return -1;
  const det = u + v + w;
  if (det === 0) return -1;
  const scaled = shear[2] * (u * az + v * bz + w * cz);
  if (det > 0 ? scaled < 0 : scaled > 0) return -1;
  return scaled / det;
}

/**
 * Writes the point of a triangle that is closest to the query point and returns the square of its distance (C. Ericson, Real-Time Collision
 * Detection, 2005, 5.1.5).
 */
export function layNearest({ positions, triangles }: TriangleMesh, triangle: number): number {
  const p = 3 * triangles[3 * triangle];
  const q = 3 * triangles[3 * triangle + 1];
  const r = 3 * triangles[3 * triangle + 2];
  const ax = Math.fround(positions[p]);
  const ay = Math.fround(positions[p + 1]);
  const az = Math.fround(positions[p + 2]);
  const bx = Math.fround(positions[q]);
  const by = Math.fround(positions[q + 1]);
  const bz = Math.fround(positions[q + 2]);
  const cx = Math.fround(positions[r]);
  const cy = Math.fround(positions[r + 1]);
  const cz = Math.fround(positions[r + 2]);
  const ux = bx - ax;
  const uy = by - ay;
  const uz = bz - az;
  const vx = cx - ax;
  const vy = cy - ay;
  const vz = cz - az;
  let x = asked[0] - ax;
  let y = asked[1] - ay;
  let z = asked[2] - az;
  const d1 = ux * x + uy * y + uz * z;
  const d2 = vx * x + vy * y + vz * z;
  if (d1 <= 0 && d2 <= 0) return squareAt(ax, ay, az);
  x = asked[0] - bx;
  y = asked[1] - by;
  z = asked[2] - bz;
  const d3 = ux * x + uy * y + uz * z;
  const d4 = vx * x + vy * y + vz * z;
  if (d3 >= 0 && d4 <= d3) return squareAt(bx, by, bz);
  const c = d1 * d4 - d3 * d2;
  if (c <= 0 && d1 >= 0 && d3 <= 0 && d1 - d3 > 0) {
    const f = d1 / (d1 - d3);
    return squareAt(ax + ux * f, ay + uy * f, az + uz * f);
  }
  x = asked[0] - cx;
  y = asked[1] - cy;
  z = asked[2] - cz;
  const d5 = ux * x + uy * y + uz * z;
  const d6 = vx * x + vy * y + vz * z;
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

function squareAt(x: number, y: number, z: number): number {
  near[0] = x;
  near[1] = y;
  near[2] = z;
  const dx = asked[0] - x;
  const dy = asked[1] - y;
  const dz = asked[2] - z;
  return dx * dx + dy * dy + dz * dz;
}
