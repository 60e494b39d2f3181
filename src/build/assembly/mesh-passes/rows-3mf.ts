// AssemblyScript: the elements of a mesh in a 3MF file.
import { CORNERS } from '../shared/mesh';
import { isQuick, unitsOf } from '../shared/units';
import { setWord } from '../shared/words';

const ZERO: u32 = 48;
const QUOTE: u8 = 0x22;
/** "/> and a line feed. */
const CLOSED: u32 = 0x0a3e2f22;

/**
 * Writes the coordinates of points in units of the fifth decimal, halves rounded away from zero, as 32-bit integers to `units`. False if a
 * coordinate is not a 32-bit float or is too large for that.
 */
export function inUnits(positions: usize, count: u32, units: usize): bool {
  for (let i: u32 = 0; i < 3 * count; i++) {
    const value = load<f64>(positions + ((<usize>i) << 3));
    if (!isQuick(value)) return false;
    const whole = <i32>unitsOf(abs(value));
    setWord(units, i, value < 0 ? -whole : whole);
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

/** Writes units of the fifth decimal as a number without trailing zeros; returns the end of the text. */
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

/** Writes a whole number, padded with zeros to a width; returns the end of the text. */
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
