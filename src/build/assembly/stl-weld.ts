// AssemblyScript, built by src/build/assemble.mjs: joins the equal corners of the triangles of a binary STL. src/mesh/read/stl-welder.ts
// lays out the memory, and holds the plain version of the same. Numbers, order and coordinates are the same in both.

/** Bytes of a triangle in the file, and of what stands before its corners. */
const TRIANGLE: usize = 50;
const NORMAL: usize = 12;
/** Bytes of a point: three 32-bit floats. */
const POINT: usize = 12;
const EMPTY: i32 = -1;
/** All bits of the exponent: infinite or not a number. */
const EXPONENT: u32 = 0x7f800000;

let table: usize = 0;
let mask: u32 = 0;
let points: usize = 0;
let room: i32 = 0;
let count: i32 = 0;

/** Takes a table of `slots` (a power of two) and room for `capacity` points into use, and enters the `known` first points again. */
export function use(tableAt: usize, slots: u32, pointsAt: usize, capacity: i32, known: i32): void {
  table = tableAt;
  mask = slots - 1;
  points = pointsAt;
  room = capacity;
  count = known;
  memory.fill(table, 0xff, (<usize>slots) << 2);
  for (let v: i32 = 0; v < known; v++) {
    const p = points + <usize>v * POINT;
    let slot = hash(load<u32>(p), load<u32>(p, 4), load<u32>(p, 8)) & mask;
    while (load<i32>(table + ((<usize>slot) << 2)) !== EMPTY) slot = (slot + 1) & mask;
    store<i32>(table + ((<usize>slot) << 2), v);
  }
}

/** Points so far. */
export function pointCount(): i32 {
  return count;
}

/**
 * Writes the numbers of the corners of `triangles` triangles at `from` to `to`. Returns how many were taken: fewer where there is no
 * room for three more points, or before a triangle with a coordinate that is not finite.
 */
export function take(from: usize, triangles: i32, to: usize): i32 {
  let into = to;
  for (let t: i32 = 0; t < triangles; t++) {
    if (count + 3 > room) return t;
    let p = from + <usize>t * TRIANGLE + NORMAL;
    for (let k = 0; k < 9; k++) if ((load<u32>(p + ((<usize>k) << 2)) & EXPONENT) === EXPONENT) return t;
    store<i32>(into, numberOf(p));
    p += POINT;
    store<i32>(into, numberOf(p), 4);
    p += POINT;
    store<i32>(into, numberOf(p), 8);
    into += 12;
  }
  return triangles;
}

function hash(x: u32, y: u32, z: u32): u32 {
  // the sign of a zero does not count
  let h = (x === 0x80000000 ? 0 : x) * 0x9e3779b1;
  h ^= h >>> 15;
  h = (h ^ (y === 0x80000000 ? 0 : y)) * 0x85ebca6b;
  h ^= h >>> 13;
  h = (h ^ (z === 0x80000000 ? 0 : z)) * 0xc2b2ae35;
  return h ^ (h >>> 16);
}

function numberOf(p: usize): i32 {
  const x = load<f32>(p);
  const y = load<f32>(p, 4);
  const z = load<f32>(p, 8);
  let slot = hash(load<u32>(p), load<u32>(p, 4), load<u32>(p, 8)) & mask;
  let v = load<i32>(table + ((<usize>slot) << 2));
  while (v !== EMPTY) {
    const q = points + <usize>v * POINT;
    if (load<f32>(q) === x && load<f32>(q, 4) === y && load<f32>(q, 8) === z) return v;
    slot = (slot + 1) & mask;
    v = load<i32>(table + ((<usize>slot) << 2));
  }
  v = count++;
  const q = points + <usize>v * POINT;
  store<f32>(q, x);
  store<f32>(q, y, 4);
  store<f32>(q, z, 8);
  store<i32>(table + ((<usize>slot) << 2), v);
  return v;
}
