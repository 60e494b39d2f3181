// AssemblyScript: operations on the vertices of a mesh before it is written.
import { isAt, POINT, pointOf, xOf, yOf, zOf } from '../shared/mesh';
import { isQuick, UNITS, unitsOf } from '../shared/units';
import { emptyWords, setWord, word } from '../shared/words';
import { hash } from './hash';

/**
 * `inOrderPlainly` of src/mesh/in-order-of-use.ts: numbers the vertices in the order in which `corners` corners use them and moves them to
 * `moved`. `numbers`: room for a number per vertex. Returns the number of vertices used.
 */
export function order(
  positions: usize,
  vertices: i32,
  triangles: usize,
  corners: i32,
  numbers: usize,
  moved: usize,
): i32 {
  emptyWords(numbers, vertices);
  let count = 0;
  for (let i = 0; i < corners; i++) {
    const v = word(triangles, i);
    let n = word(numbers, v);
    if (n < 0) {
      n = count++;
      setWord(numbers, v, n);
      memory.copy(pointOf(moved, n), pointOf(positions, v), POINT);
    }
    setWord(triangles, i, n);
  }
  return count;
}

/** `onGridPlainly` of src/page/quantise.ts: each coordinate in steps from the corner of the grid, at most 65 535, in 16 bits at `out`. */
export function grid(
  positions: usize,
  vertices: i32,
  ox: f64,
  oy: f64,
  oz: f64,
  step: f64,
  out: usize,
): void {
  for (let v = 0; v < vertices; v++) {
    const p = pointOf(positions, v);
    const o = out + 6 * <usize>v;
    store<u16>(o, stepOf((xOf(p) - ox) / step));
    store<u16>(o, stepOf((yOf(p) - oy) / step), 2);
    store<u16>(o, stepOf((zOf(p) - oz) / step), 4);
  }
}

/** Halves are rounded up. */
function stepOf(steps: f64): u16 {
  if (!(steps >= 0)) return 0;
  const whole = floor(steps);
  return <u16>(<i32>min(65535, steps - whole >= 0.5 ? whole + 1 : whole));
}

/**
 * `areApartPlainly` of src/mesh/write-3mf.ts with five digits: 1 if no two vertices get the same text, 0 if two do, 2 if a coordinate
 * needs another way of rounding. `table`: room for `slots` numbers, a power of two; the positions are overwritten.
 */
export function apart(positions: usize, vertices: i32, table: usize, slots: i32): i32 {
  emptyWords(table, slots);
  const mask = slots - 1;
  const end = pointOf(positions, vertices);
  for (let p = positions; p < end; p += 8) {
    const value = load<f64>(p);
    if (!isQuick(value)) return 2;
    store<f64>(p, copysign(unitsOf(abs(value)) / UNITS, value));
  }
  for (let v = 0; v < vertices; v++) {
    const p = pointOf(positions, v);
    const x = xOf(p);
    const y = yOf(p);
    const z = zOf(p);
    let slot = hash(x, y, z) & mask;
    for (let n = word(table, slot); n >= 0; n = word(table, slot)) {
      if (isAt(pointOf(positions, n), x, y, z)) return 0;
      slot = (slot + 1) & mask;
    }
    setWord(table, slot, v);
  }
  return 1;
}
