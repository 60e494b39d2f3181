// AssemblyScript: draws triangles.
import { CORNERS, pointOf, xOf, yOf, zOf } from '../shared/mesh';
import { square } from '../shared/vector';
import { columns, farthest, LIGHTS, left, near, PART_SHIFT, rows, seen, top } from './picture';

/** Draws `count` triangles of points that `project` transformed; for a closed part only those that face the viewer. */
export function drawPart(screen: usize, triangles: usize, count: u32, number: i32, isClosed: bool): void {
  const end = triangles + <usize>count * CORNERS;
  for (let t = triangles; t < end; t += CORNERS) {
    const a = pointOf(screen, load<u32>(t));
    const b = pointOf(screen, load<u32>(t, 4));
    const c = pointOf(screen, load<u32>(t, 8));
    if (isClosed && twiceArea(a, b, c) > 0) continue;
    drawTriangle(a, b, c, number);
  }
}

function twiceArea(a: usize, b: usize, c: usize): f64 {
  return (xOf(b) - xOf(a)) * (yOf(c) - yOf(a)) - (xOf(c) - xOf(a)) * (yOf(b) - yOf(a));
}

/** The first sample whose middle is at or past a position, within bounds. */
function sampleFrom(place: f64, low: i32, high: i32): i32 {
  if (!(place > <f64>low)) return low;
  return place < <f64>high ? <i32>ceil<f64>(place - 0.5) : high;
}

/** Row by row, between the left and the right edge. */
function drawTriangle(first: usize, second: usize, third: usize, number: i32): void {
  // a is the highest corner, c the lowest
  let a = first;
  let b = second;
  let c = third;
  let t: usize;
  if (yOf(a) > yOf(b)) {
    t = a;
    a = b;
    b = t;
  }
  if (yOf(b) > yOf(c)) {
    t = b;
    b = c;
    c = t;
  }
  if (yOf(a) > yOf(b)) {
    t = a;
    a = b;
    b = t;
  }
  const ay = yOf(a);
  const by = yOf(b);
  const cy = yOf(c);
  const firstRow = sampleFrom(ay, top, top + rows);
  const lastRow = sampleFrom(cy, top, top + rows);
  if (firstRow === lastRow) return;
  const area = twiceArea(a, b, c);
  // neither infinite nor NaN
  if (area === 0 || !(abs(area) < Infinity)) return;
  const ax = xOf(a);
  const bx = xOf(b);
  const cx = xOf(c);
  const az = zOf(a);
  const bz = zOf(b) - az;
  const cz = zOf(c) - az;
  const nx = bz * (cy - ay) - cz * (by - ay);
  const ny = cz * (bx - ax) - bz * (cx - ax);
  // lit by the cosine of the angle between triangle and screen: its projected area over its area
  const light = 0.3 + (0.7 * abs(area)) / sqrt(square(nx, ny, area));
  const paint = (number << PART_SHIFT) | <i32>(LIGHTS * light + 0.5);
  const nearPerColumn = -nx / area;
  const nearPerRow = -ny / area;
  const long = (cx - ax) / (cy - ay);
  const upper = (bx - ax) / (by - ay);
  const lower = (cx - bx) / (cy - by);
  const middleRow = sampleFrom(by, firstRow, lastRow);
  const x0 = left;
  const x1 = left + columns;
  const away = farthest - az;
  for (let y = firstRow; y < lastRow; y++) {
    const middle = <f64>y + 0.5;
    const down = middle - ay;
    const onLong = ax + down * long;
    // between the long edge and the upper one above the middle corner, and the lower one below it
    const onShort = y < middleRow ? ax + down * upper : bx + (middle - by) * lower;
    const from = sampleFrom(area > 0 ? onLong : onShort, x0, x1);
    const to = sampleFrom(area > 0 ? onShort : onLong, x0, x1);
    const row = (y - top) * columns - x0;
    let here = away + down * nearPerRow + (<f64>from + 0.5 - ax) * nearPerColumn;
    let at = near + ((<usize>(row + from)) << 2);
    let mark = seen + ((<usize>(row + from)) << 2);
    for (let x = from; x < to; x++) {
      const value = <f32>here;
      if (value > load<f32>(at)) {
        store<f32>(at, value);
        store<i32>(mark, paint);
      }
      here += nearPerColumn;
      at += 4;
      mark += 4;
    }
  }
}
