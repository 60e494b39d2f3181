// AssemblyScript, built by src/build/assemble.mjs: joins the equal corners of the triangles of a binary STL. src/mesh/read/stl-welder.ts
// lays out the memory and contains the plain version: numbers, order and coordinates are the same in both.
import { CORNERS, POINT_32 } from './shared/mesh';
import { STL_NORMAL, STL_TRIANGLE } from './shared/stl';
import { EMPTY, emptyWords, setWord, word, wordAt } from './shared/words';

/** All bits of the exponent: infinite or NaN. */
const EXPONENT: u32 = 0x7f800000;

/** The most recent points, by the low bits of their hash: they stay in the processor's cache when the table has become larger than it. */
const RECENT_SLOTS: u32 = 1 << 14;

/** Number of triangles whose hashes are computed before the first of them is looked up. */
const AHEAD: i32 = 16;

/** Hashes of the next corners, after the most recent points. */
let ahead: usize = 0;
let recent: usize = 0;
/** For each slot: the point's number and above it, where the mask ends, the bits of its hash that do not select the slot. */
let table: usize = 0;
let mask: u32 = 0;
let points: usize = 0;
let room: u32 = 0;
let count: u32 = 0;

/**
 * Starts to use a table of `slots` (a power of two) and room for `capacity` points, and enters the first `known` points again. The content
 * at `recentAt` (2^14 numbers, and 48 for the hashes of the next corners) does not matter: each entry is checked before it is used.
 */
export function use(
  recentAt: usize,
  tableAt: usize,
  slots: u32,
  pointsAt: usize,
  capacity: u32,
  known: u32,
): void {
  recent = recentAt;
  ahead = wordAt(recentAt, RECENT_SLOTS);
  table = tableAt;
  mask = slots - 1;
  points = pointsAt;
  room = capacity;
  count = known;
  emptyWords(table, slots);
  for (let v: u32 = 0; v < known; v++) {
    const p = points + POINT_32 * <usize>v;
    const h = hash(load<u32>(p), load<u32>(p, 4), load<u32>(p, 8));
    let slot = h & mask;
    while (entry(slot) !== EMPTY) slot = (slot + 1) & mask;
    setWord(table, slot, (h & ~mask) | v);
  }
}

/** Points so far. */
export function pointCount(): u32 {
  return count;
}

/**
 * Writes the numbers of the corners of `triangles` triangles at `from` to `to`. Returns how many were processed: fewer if there is no room
 * for three more points, or before a triangle with a coordinate that is not finite.
 */
export function take(from: usize, triangles: i32, to: usize): i32 {
  let into = to;
  for (let t: i32 = 0; t < triangles; ) {
    const some = min(AHEAD, triangles - t);
    hashAhead(from + <usize>t * STL_TRIANGLE + STL_NORMAL, some);
    for (let i: i32 = 0; i < some; i++, t++) {
      if (count + 3 > room) return t;
      let p = from + <usize>t * STL_TRIANGLE + STL_NORMAL;
      for (let k = 0; k < 9; k++) if ((word(p, k) & EXPONENT) === EXPONENT) return t;
      const h = ahead + CORNERS * <usize>i;
      store<u32>(into, numberOf(p, load<u32>(h)));
      p += POINT_32;
      store<u32>(into, numberOf(p, load<u32>(h, 4)), 4);
      p += POINT_32;
      store<u32>(into, numberOf(p, load<u32>(h, 8)), 8);
      into += CORNERS;
    }
  }
  return triangles;
}

/**
 * Computes the hashes of the corners of some triangles and reads their slots, so that the processor fetches these from a large table in
 * parallel and not one after the other.
 */
function hashAhead(first: usize, triangles: i32): void {
  let p = first;
  let out = ahead;
  let seen: u32 = 0;
  for (let i: i32 = 0; i < triangles; i++, p += STL_TRIANGLE) {
    for (let k: usize = 0; k < 3 * POINT_32; k += POINT_32) {
      const q = p + k;
      const h = hash(load<u32>(q), load<u32>(q, 4), load<u32>(q, 8));
      store<u32>(out, h);
      out += 4;
      seen |= entry(h & mask);
    }
  }
  // otherwise the compiler would remove the reads
  store<u32>(out, seen);
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

/** `h`: the hash of the point at p. */
function numberOf(p: usize, h: u32): u32 {
  const x = load<f32>(p);
  const y = load<f32>(p, 4);
  const z = load<f32>(p, 8);
  const late = wordAt(recent, h & (RECENT_SLOTS - 1));
  let v = load<u32>(late);
  if (v < count && isAt(v, x, y, z)) return v;
  let slot = h & mask;
  for (let e = entry(slot); e !== EMPTY; e = entry(slot)) {
    v = e & mask;
    if (((e ^ h) & ~mask) === 0 && isAt(v, x, y, z)) {
      store<u32>(late, v);
      return v;
    }
    slot = (slot + 1) & mask;
  }
  v = count++;
  const q = points + POINT_32 * <usize>v;
  store<f32>(q, x);
  store<f32>(q, y, 4);
  store<f32>(q, z, 8);
  setWord(table, slot, (h & ~mask) | v);
  store<u32>(late, v);
  return v;
}

function entry(slot: u32): i32 {
  return word(table, slot);
}

/** Whether point v is at this position. */
function isAt(v: u32, x: f32, y: f32, z: f32): bool {
  const q = points + POINT_32 * <usize>v;
  return load<f32>(q) === x && load<f32>(q, 4) === y && load<f32>(q, 8) === z;
}
