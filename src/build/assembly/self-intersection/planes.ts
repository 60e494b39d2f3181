// AssemblyScript: the quick answer for most pairs: one triangle is on one side of the other's plane.
import { POINT, setPoint, xOf, yOf, zOf } from '../shared/mesh';
import { dot } from '../shared/vector';
import { corner, vertex } from './searched';

/** Rounding of a normal's product with a corner, relative to the normal. */
let noise: f64 = 0;

export function setNoise(positions: usize, vertices: i32): void {
  let reach: f64 = 0;
  for (let i = 0; i < 3 * vertices; i++) reach = max(reach, abs(load<f64>(positions + ((<usize>i) << 3))));
  noise = 1e-14 * reach;
}

/** Normal, and its product with a corner. */
export function layPlane(t: i32, plane: usize): void {
  const p = corner(t, 0);
  const q = corner(t, 1);
  const r = corner(t, 2);
  const px = xOf(p);
  const py = yOf(p);
  const pz = zOf(p);
  const ux = xOf(q) - px;
  const uy = yOf(q) - py;
  const uz = zOf(q) - pz;
  const vx = xOf(r) - px;
  const vy = yOf(r) - py;
  const vz = zOf(r) - pz;
  const nx = uy * vz - uz * vy;
  const ny = uz * vx - ux * vz;
  const nz = ux * vy - uy * vx;
  setPoint(plane, nx, ny, nz);
  store<f64>(plane, dot(nx, ny, nz, px, py, pz), POINT);
}

/** Whether the corners of `t` that `s` does not share are clearly on one side of its plane. */
export function isOnOneSide(plane: usize, s: i32, t: i32): bool {
  const a = vertex(s, 0);
  const b = vertex(s, 1);
  const c = vertex(s, 2);
  const nx = xOf(plane);
  const ny = yOf(plane);
  const nz = zOf(plane);
  const d = load<f64>(plane, POINT);
  const least = noise * (abs(nx) + abs(ny) + abs(nz));
  let side = 0;
  for (let k = 0; k < 3; k++) {
    const v = vertex(t, k);
    if (v === a || v === b || v === c) continue;
    const p = corner(t, k);
    const h = dot(nx, ny, nz, xOf(p), yOf(p), zOf(p)) - d;
    if (h > least && side >= 0) side = 1;
    else if (h < -least && side <= 0) side = -1;
    else return false;
  }
  return true;
}
