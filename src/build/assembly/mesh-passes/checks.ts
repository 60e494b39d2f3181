// AssemblyScript: checks of a mesh before it is printed.
import { CORNERS, pointOf, setPoint, xOf, yOf, zOf } from '../shared/mesh';
import { dot, square } from '../shared/vector';
import { setWord } from '../shared/words';
import { a, b, c, layNormal, lookAt, nx, ny, nz } from './triangle';

/** Bytes of a row of `overhangs`: centre x y z, area, projected area. */
const ROW: usize = 40;

/** Writes the numbers of the triangles flatter than `ratio` to `out` and returns how many there are. */
export function slivers(positions: usize, triangles: usize, count: u32, ratio: f64, out: usize): u32 {
  let found: u32 = 0;
  for (let i: u32 = 0; i < count; i++) {
    lookAt(positions, triangles + <usize>i * CORNERS);
    const longestSquare = greatest(squareOf(a, b), squareOf(a, c), squareOf(b, c));
    const twice = layNormal();
    const longest = sqrt(longestSquare);
    const flat = longestSquare > 0 ? twice / (longest * longest) : 0;
    if (flat < ratio) {
      setWord(out, found, i);
      found++;
    }
  }
  return found;
}

function greatest(p: f64, q: f64, r: f64): f64 {
  return max<f64>(max<f64>(p, q), r);
}

function squareOf(p: usize, q: usize): f64 {
  return square(xOf(q) - xOf(p), yOf(q) - yOf(p), zOf(q) - zOf(p));
}

/** Writes to `out` the smallest and the largest height of points along a direction, and the numbers of the first points that have them. */
export function extent(positions: usize, count: u32, dx: f64, dy: f64, dz: f64, out: usize): void {
  let least: f64 = Infinity;
  let greatest: f64 = -Infinity;
  let low: u32 = 0;
  let high: u32 = 0;
  for (let v: u32 = 0; v < count; v++) {
    const d = height(pointOf(positions, v), dx, dy, dz);
    if (d < least) {
      least = d;
      low = v;
    }
    if (d > greatest) {
      greatest = d;
      high = v;
    }
  }
  store<f64>(out, least);
  store<f64>(out, greatest, 8);
  store<u32>(out, low, 16);
  store<u32>(out, high, 20);
}

/**
 * Writes a row for each triangle that faces down at less than the angle with the cosine `steep` from the horizontal and has a corner that
 * is not below `bed`; returns their number.
 */
export function overhangs(
  positions: usize,
  triangles: usize,
  count: u32,
  ux: f64,
  uy: f64,
  uz: f64,
  steep: f64,
  bed: f64,
  out: usize,
): u32 {
  let found: u32 = 0;
  const third: f64 = 1.0 / 3.0;
  const end = triangles + <usize>count * CORNERS;
  for (let t = triangles; t < end; t += CORNERS) {
    lookAt(positions, t);
    const twice = layNormal();
    const down = -dot(nx, ny, nz, ux, uy, uz);
    if (twice === 0 || down <= 0 || down < steep * twice) continue;
    if (height(a, ux, uy, uz) < bed && height(b, ux, uy, uz) < bed && height(c, ux, uy, uz) < bed) continue;
    const row = out + <usize>found * ROW;
    setPoint(
      row,
      (xOf(a) + xOf(b) + xOf(c)) * third,
      (yOf(a) + yOf(b) + yOf(c)) * third,
      (zOf(a) + zOf(b) + zOf(c)) * third,
    );
    store<f64>(row, twice / 2, 24);
    store<f64>(row, down / 2, 32);
    found++;
  }
  return found;
}

/** Height of a point along a direction. */
function height(p: usize, ux: f64, uy: f64, uz: f64): f64 {
  return dot(xOf(p), yOf(p), zOf(p), ux, uy, uz);
}
