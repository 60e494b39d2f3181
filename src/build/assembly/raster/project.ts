// AssemblyScript: positions of points in the picture.
import { POINT, setPoint, xOf, yOf, zOf } from '../shared/mesh';

/**
 * Replaces points in mm by right, down and away in samples, by 3 rows of 4 numbers, and widens the bounds: smallest x and y, largest x, y
 * and away.
 */
export function project(points: usize, count: u32, projection: usize, bounds: usize): void {
  let x0 = load<f64>(bounds);
  let y0 = load<f64>(bounds, 8);
  let x1 = load<f64>(bounds, 16);
  let y1 = load<f64>(bounds, 24);
  let z1 = load<f64>(bounds, 32);
  const end = points + <usize>count * POINT;
  for (let p = points; p < end; p += POINT) {
    const a = xOf(p);
    const b = yOf(p);
    const c = zOf(p);
    const x = along(projection, a, b, c);
    const y = along(projection + 32, a, b, c);
    const z = along(projection + 64, a, b, c);
    setPoint(p, x, y, z);
    if (x < x0) x0 = x;
    if (x > x1) x1 = x;
    if (y < y0) y0 = y;
    if (y > y1) y1 = y;
    if (z > z1) z1 = z;
  }
  store<f64>(bounds, x0);
  store<f64>(bounds, y0, 8);
  store<f64>(bounds, x1, 16);
  store<f64>(bounds, y1, 24);
  store<f64>(bounds, z1, 32);
}

/** Two samples per pixel. */
function along(row: usize, a: f64, b: f64, c: f64): f64 {
  return 2 * (load<f64>(row) * a + load<f64>(row, 8) * b + load<f64>(row, 16) * c + load<f64>(row, 24));
}
