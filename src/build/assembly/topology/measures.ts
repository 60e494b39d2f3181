// AssemblyScript: measures of a whole mesh.
import { cornerOf, POINT, pointOf, setPoint, xOf, yOf, zOf } from '../shared/mesh';
import { dot, square } from '../shared/vector';
import { word } from '../shared/words';

/** `boxPlainly` of src/mesh/measures.ts: low and high corner at `out`. `isUsed`: a byte per vertex. */
export function boxOf(
  positions: usize,
  vertices: i32,
  triangles: usize,
  corners: i32,
  isUsed: usize,
  out: usize,
): void {
  memory.fill(isUsed, corners === 0 ? 1 : 0, vertices);
  for (let i = 0; i < corners; i++) store<u8>(isUsed + <usize>word(triangles, i), 1);
  let x0 = Infinity;
  let y0 = Infinity;
  let z0 = Infinity;
  let x1 = -Infinity;
  let y1 = -Infinity;
  let z1 = -Infinity;
  for (let v = 0; v < vertices; v++) {
    if (!load<u8>(isUsed + <usize>v)) continue;
    const p = pointOf(positions, v);
    const x = xOf(p);
    const y = yOf(p);
    const z = zOf(p);
    if (x < x0) x0 = x;
    if (x > x1) x1 = x;
    if (y < y0) y0 = y;
    if (y > y1) y1 = y;
    if (z < z0) z0 = z;
    if (z > z1) z1 = z;
  }
  setPoint(out, x0, y0, z0);
  setPoint(out + POINT, x1, y1, z1);
}

/** `measurePlainly` of src/mesh/measures.ts for all triangles: six times the volume and twice the area, at `out`. */
export function measured(
  positions: usize,
  triangles: usize,
  corners: i32,
  ox: f64,
  oy: f64,
  oz: f64,
  out: usize,
): void {
  let six: f64 = 0;
  let twice: f64 = 0;
  for (let t = 0; t < corners; t += 3) {
    const a = cornerOf(positions, triangles, t);
    const b = cornerOf(positions, triangles, t + 1);
    const c = cornerOf(positions, triangles, t + 2);
    const ax = xOf(a) - ox;
    const ay = yOf(a) - oy;
    const az = zOf(a) - oz;
    const ux = xOf(b) - ox - ax;
    const uy = yOf(b) - oy - ay;
    const uz = zOf(b) - oz - az;
    const vx = xOf(c) - ox - ax;
    const vy = yOf(c) - oy - ay;
    const vz = zOf(c) - oz - az;
    const nx = uy * vz - uz * vy;
    const ny = uz * vx - ux * vz;
    const nz = ux * vy - uy * vx;
    six += dot(ax, ay, az, nx, ny, nz);
    twice += sqrt(square(nx, ny, nz));
  }
  store<f64>(out, six);
  store<f64>(out, twice, 8);
}

/** `crowdingPlainly` of src/mesh/winding-field.ts. */
export function crowded(positions: usize, triangles: usize, corners: i32): f64 {
  let x0 = Infinity;
  let y0 = Infinity;
  let z0 = Infinity;
  let x1 = -Infinity;
  let y1 = -Infinity;
  let z1 = -Infinity;
  let sum: f64 = 0;
  for (let t = 0; t < corners; t += 3) {
    const a = cornerOf(positions, triangles, t);
    const b = cornerOf(positions, triangles, t + 1);
    const c = cornerOf(positions, triangles, t + 2);
    const left = min(min(xOf(a), xOf(b)), xOf(c));
    const right = max(max(xOf(a), xOf(b)), xOf(c));
    const front = min(min(yOf(a), yOf(b)), yOf(c));
    const back = max(max(yOf(a), yOf(b)), yOf(c));
    const low = min(min(zOf(a), zOf(b)), zOf(c));
    const high = max(max(zOf(a), zOf(b)), zOf(c));
    if (left < x0) x0 = left;
    if (right > x1) x1 = right;
    if (front < y0) y0 = front;
    if (back > y1) y1 = back;
    if (low < z0) z0 = low;
    if (high > z1) z1 = high;
    sum += boxArea(right - left, back - front, high - low);
  }
  const whole = boxArea(x1 - x0, y1 - y0, z1 - z0);
  return whole > 0 ? sum / whole : 0;
}

function boxArea(x: f64, y: f64, z: f64): f64 {
  return x * y + y * z + z * x;
}
