// AssemblyScript, built by src/build/assemble.mjs: single passes over the corners or triangles of a mesh. src/mesh/mesh-passes.ts and
// src/mesh/point-set.ts lay out the memory; each pass has a plain version in TypeScript, named there, with the same result to the last bit.
// A mesh lies in memory as its coordinates (64-bit floats) and its corners (32-bit vertex numbers).

/** Bytes of a point, and of a row of `overhangs`: centre x y z, area, shadow. */
const POINT: usize = 24;
const ROW: usize = 40;
/** Bytes of a triangle's corners. */
const CORNERS: usize = 12;

/** Of the triangle looked at last: its corners, and its normal with a length of twice the area. */
let a: usize = 0;
let b: usize = 0;
let c: usize = 0;
let nx: f64 = 0;
let ny: f64 = 0;
let nz: f64 = 0;

function lookAt(positions: usize, t: usize): void {
  a = positions + <usize>load<u32>(t) * POINT;
  b = positions + <usize>load<u32>(t, 4) * POINT;
  c = positions + <usize>load<u32>(t, 8) * POINT;
}

/** Lays the normal of the triangle whose corners were looked at, and returns its length. */
function layNormal(): f64 {
  const ux = load<f64>(b) - load<f64>(a);
  const uy = load<f64>(b, 8) - load<f64>(a, 8);
  const uz = load<f64>(b, 16) - load<f64>(a, 16);
  const vx = load<f64>(c) - load<f64>(a);
  const vy = load<f64>(c, 8) - load<f64>(a, 8);
  const vz = load<f64>(c, 16) - load<f64>(a, 16);
  nx = uy * vz - uz * vy;
  ny = uz * vx - ux * vz;
  nz = ux * vy - uy * vx;
  return Math.sqrt(nx * nx + ny * ny + nz * nz);
}

function greatest(p: f64, q: f64, r: f64): f64 {
  return max<f64>(max<f64>(p, q), r);
}

/** Writes the numbers of the triangles flatter than `ratio` to `out` and returns how many there are. */
export function slivers(positions: usize, triangles: usize, count: u32, ratio: f64, out: usize): u32 {
  let found: u32 = 0;
  for (let i: u32 = 0; i < count; i++) {
    lookAt(positions, triangles + <usize>i * CORNERS);
    const square = greatest(squareOf(a, b), squareOf(a, c), squareOf(b, c));
    const twice = layNormal();
    const longest = Math.sqrt(square);
    const flat = square > 0 ? twice / (longest * longest) : 0;
    if (flat < ratio) {
      store<u32>(out + ((<usize>found) << 2), i);
      found++;
    }
  }
  return found;
}

function squareOf(p: usize, q: usize): f64 {
  const x = load<f64>(q) - load<f64>(p);
  const y = load<f64>(q, 8) - load<f64>(p, 8);
  const z = load<f64>(q, 16) - load<f64>(p, 16);
  return x * x + y * y + z * z;
}

/** Lays at `out` the least and the greatest height of points along a direction, and the numbers of the first points that have them. */
export function extent(positions: usize, count: u32, dx: f64, dy: f64, dz: f64, out: usize): void {
  let least: f64 = Infinity;
  let greatest: f64 = -Infinity;
  let low: u32 = 0;
  let high: u32 = 0;
  for (let v: u32 = 0; v < count; v++) {
    const p = positions + <usize>v * POINT;
    const d = load<f64>(p) * dx + load<f64>(p, 8) * dy + load<f64>(p, 16) * dz;
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
 * Writes a row for each triangle that faces down at less than the angle with the cosine `steep` from the horizontal and has a corner that is
 * not below `bed`; returns how many there are.
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
    const down = -(nx * ux + ny * uy + nz * uz);
    if (twice === 0 || down <= 0 || down < steep * twice) continue;
    if (height(a, ux, uy, uz) < bed && height(b, ux, uy, uz) < bed && height(c, ux, uy, uz) < bed) continue;
    const row = out + <usize>found * ROW;
    store<f64>(row, (load<f64>(a) + load<f64>(b) + load<f64>(c)) * third);
    store<f64>(row, (load<f64>(a, 8) + load<f64>(b, 8) + load<f64>(c, 8)) * third, 8);
    store<f64>(row, (load<f64>(a, 16) + load<f64>(b, 16) + load<f64>(c, 16)) * third, 16);
    store<f64>(row, twice / 2, 24);
    store<f64>(row, down / 2, 32);
    found++;
  }
  return found;
}

function height(p: usize, ux: f64, uy: f64, uz: f64): f64 {
  return load<f64>(p) * ux + load<f64>(p, 8) * uy + load<f64>(p, 16) * uz;
}

/** Bytes of a triangle in a binary STL file. */
const STL: usize = 50;

/** Writes the triangles of a binary STL: normal and corners as 32-bit floats, and a 16-bit zero. */
export function stl(positions: usize, triangles: usize, count: u32, out: usize): void {
  for (let i: u32 = 0; i < count; i++) {
    lookAt(positions, triangles + <usize>i * CORNERS);
    const twice = layNormal();
    const row = out + <usize>i * STL;
    const unit = 1 / twice;
    store<f32>(row, <f32>(twice > 0 ? nx * unit : 0));
    store<f32>(row, <f32>(twice > 0 ? ny * unit : 0), 4);
    store<f32>(row, <f32>(twice > 0 ? nz * unit : 0), 8);
    storePoint(row + 12, a);
    storePoint(row + 24, b);
    storePoint(row + 36, c);
    store<u16>(row, 0, 48);
  }
}

function storePoint(at: usize, p: usize): void {
  store<f32>(at, <f32>load<f64>(p));
  store<f32>(at, <f32>load<f64>(p, 8), 4);
  store<f32>(at, <f32>load<f64>(p, 16), 8);
}

/** Coordinates below this times 10^5 are integers, or half integers, that a double represents exactly. */
const MOST_QUICK: f64 = 20000;
const UNITS: f64 = 1e5;

/**
 * Lays the coordinates of points in units of the fifth decimal, halves rounded away from zero, as 32-bit integers at `units`. False if one
 * is no 32-bit float or too large for that.
 */
export function inUnits(positions: usize, count: u32, units: usize): bool {
  for (let i: u32 = 0; i < 3 * count; i++) {
    const value = load<f64>(positions + ((<usize>i) << 3));
    const size = Math.abs(value);
    if (!(size < MOST_QUICK) || <f64>(<f32>value) !== value) return false;
    const whole = <i32>Math.floor(size * UNITS + 0.5);
    store<i32>(units + ((<usize>i) << 2), value < 0 ? -whole : whole);
  }
  return true;
}

/** Writes a 3MF element for each point, its coordinates in units of the fifth decimal; returns the end of the text. */
export function vertexRows(units: usize, count: u32, out: usize): usize {
  let at = out;
  const end = units + <usize>count * CORNERS;
  for (let u = units; u < end; u += CORNERS) {
    // <vertex x="
    store<u32>(at, 0x7265763c);
    store<u32>(at, 0x20786574, 4);
    store<u16>(at, 0x3d78, 8);
    store<u8>(at, QUOTE, 10);
    at = coordinate(load<i32>(u), at + 11);
    // " y="
    store<u32>(at, 0x3d792022);
    store<u8>(at, QUOTE, 4);
    at = coordinate(load<i32>(u, 4), at + 5);
    // " z="
    store<u32>(at, 0x3d7a2022);
    store<u8>(at, QUOTE, 4);
    at = coordinate(load<i32>(u, 8), at + 5);
    store<u32>(at, CLOSED);
    at += 4;
  }
  return at;
}

/** Writes a 3MF element for each triangle with three different corners; returns the end of the text. */
export function triangleRows(triangles: usize, count: u32, out: usize): usize {
  let at = out;
  const end = triangles + <usize>count * CORNERS;
  for (let t = triangles; t < end; t += CORNERS) {
    const one = load<u32>(t);
    const two = load<u32>(t, 4);
    const three = load<u32>(t, 8);
    if (one === two || two === three || three === one) continue;
    // <triangle v1="
    store<u32>(at, 0x6972743c);
    store<u32>(at, 0x6c676e61, 4);
    store<u32>(at, 0x31762065, 8);
    store<u16>(at, 0x223d, 12);
    at = digits(one, 1, at + 14);
    // " v2="
    store<u32>(at, 0x32762022);
    store<u16>(at, 0x223d, 4);
    at = digits(two, 1, at + 6);
    // " v3="
    store<u32>(at, 0x33762022);
    store<u16>(at, 0x223d, 4);
    at = digits(three, 1, at + 6);
    store<u32>(at, CLOSED);
    at += 4;
  }
  return at;
}

const ZERO: u32 = 48;
const QUOTE: u8 = 0x22;
/** "/> and a line feed. */
const CLOSED: u32 = 0x0a3e2f22;

/** Writes units of the fifth decimal as a number without zeros at its end; returns the end of the text. */
function coordinate(units: i32, out: usize): usize {
  let at = out;
  if (units < 0) store<u8>(at++, 0x2d);
  const size = <u32>abs<i32>(units);
  const whole = size / 100000;
  at = digits(whole, 1, at);
  let rest = size - 100000 * whole;
  if (rest === 0) return at;
  let width: u32 = 5;
  for (; rest % 10 === 0; rest /= 10) width--;
  store<u8>(at++, 0x2e);
  return digits(rest, width, at);
}

/** Writes a whole number, with zeros in front up to a width; returns the end of the text. */
function digits(value: u32, width: u32, out: usize): usize {
  let count: u32 = 1;
  for (let limit: u64 = 10; limit <= value; limit *= 10) count++;
  if (count < width) count = width;
  let rest = value;
  for (let at = out + count; at > out; ) {
    at--;
    store<u8>(at, ZERO + (rest % 10));
    rest /= 10;
  }
  return out + count;
}
