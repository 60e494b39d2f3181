// AssemblyScript: the corners of two triangles, relative to the first corner and in units of their size.
import { pointOf, setPoint, xOf, yOf, zOf } from '../shared/mesh';
import { dot } from '../shared/vector';
import { setWord, word } from '../shared/words';
import { CORNERS_AT, NORMAL, VERTICES_AT } from './scratch';
import { vertex, vertexAt } from './searched';

/** Below this a volume, or a component of a normal, counts as zero. */
export const FLAT: f64 = 1e-12;

let originX: f64 = 0;
let originY: f64 = 0;
let originZ: f64 = 0;
let size: f64 = 0;
/** Point of the crossing found last. */
export let x: f64 = 0;
export let y: f64 = 0;
export let z: f64 = 0;

/** Sets the corners of two triangles: 0 to 2 of `s`, 3 to 5 of `t`. */
export function takeVertices(s: i32, t: i32): void {
  for (let i = 0; i < 3; i++) {
    setWord(VERTICES_AT, i, vertex(s, i));
    setWord(VERTICES_AT, 3 + i, vertex(t, i));
  }
}

export function cornerVertex(i: i32): i32 {
  return word(VERTICES_AT, i);
}

/** Coordinate `k` of corner `i`. */
export function local(i: i32, k: i32): f64 {
  return load<f64>(CORNERS_AT + ((<usize>(3 * i + k)) << 3));
}

export function layLocal(): void {
  const first = vertexAt(cornerVertex(0));
  originX = xOf(first);
  originY = yOf(first);
  originZ = zOf(first);
  size = 0;
  for (let i = 0; i < 6; i++) {
    const v = vertexAt(cornerVertex(i));
    const p = pointOf(CORNERS_AT, i);
    const lx = xOf(v) - originX;
    const ly = yOf(v) - originY;
    const lz = zOf(v) - originZ;
    setPoint(p, lx, ly, lz);
    size = max(max(size, abs(lx)), max(abs(ly), abs(lz)));
  }
  if (size > 0) for (let i: usize = CORNERS_AT; i < VERTICES_AT; i += 8) store<f64>(i, load<f64>(i) / size);
}

export function layPoint(lx: f64, ly: f64, lz: f64): bool {
  x = originX + size * lx;
  y = originY + size * ly;
  z = originZ + size * lz;
  return true;
}

/** Six times the volume of the tetrahedron of four corners. */
export function volume(a: i32, b: i32, c: i32, d: i32): f64 {
  layCross(NORMAL, a, b, c);
  const w = dot(
    xOf(NORMAL),
    yOf(NORMAL),
    zOf(NORMAL),
    local(d, 0) - local(a, 0),
    local(d, 1) - local(a, 1),
    local(d, 2) - local(a, 2),
  );
  return abs(w) < FLAT ? 0 : w;
}

/** Normal of the triangle of three corners. */
export function layCross(into: usize, a: i32, b: i32, c: i32): void {
  const ux = local(b, 0) - local(a, 0);
  const uy = local(b, 1) - local(a, 1);
  const uz = local(b, 2) - local(a, 2);
  const vx = local(c, 0) - local(a, 0);
  const vy = local(c, 1) - local(a, 1);
  const vz = local(c, 2) - local(a, 2);
  setPoint(into, uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx);
}
