// AssemblyScript: colours, and the pixels of a picture.
import { POINT, xOf, yOf, zOf } from '../shared/mesh';
import { columns, LIGHTS, left, PART_SHIFT, rows, seen, top } from './picture';

const OUTLINE_LIGHT: f64 = 0.3;

/**
 * The colours of everything that a sample of these parts can show, off a mark of the pattern and on one, from red, green and blue of both
 * inks of each part.
 */
export function mix(inks: usize, parts: i32, paints: usize): void {
  store<i32>(paints, (255 << 20) | (255 << 10) | 255);
  let to = paints + 2048;
  for (let part = 0; part < parts; part++, inks += 2 * POINT) {
    for (let outlined = 0; outlined < 2; outlined++) {
      const darker = outlined ? OUTLINE_LIGHT : 1;
      for (let step: f64 = 0; step <= LIGHTS; step++, to += 8) {
        const light = (darker * step) / LIGHTS;
        store<i32>(to, packed(inks, light));
        store<i32>(to, packed(inks + POINT, light), 4);
      }
    }
  }
}

/** Ten bits for each of red, green and blue, so that the sum of four fits. */
function packed(ink: usize, light: f64): i32 {
  return (rounded(light * xOf(ink)) << 20) | (rounded(light * yOf(ink)) << 10) | rounded(light * zOf(ink));
}

/** Rounds halves up. */
function rounded(value: f64): i32 {
  const below = floor<f64>(value);
  return <i32>below + i32(value - below >= 0.5);
}

/** The mean of each pixel's samples, two by two: white if all are empty. `channels`: 1 or 3 bytes for each. */
export function average(paints: usize, marks: usize, pixels: usize, channels: i32): void {
  memory.fill(pixels, 255, <usize>(channels * ((columns * rows) >> 2)));
  const line = (<usize>columns) << 2;
  let to = pixels;
  for (let y = 0; y < rows; y += 2) {
    const markLine = ((top + y) & 15) << 4;
    let at = seen + ((<usize>(y * columns)) << 2);
    for (let x = 0; x < columns; x += 2, at += 8, to += channels) {
      if ((load<u64>(at) | load<u64>(at + line)) === 0) continue;
      const mark = marks + (markLine | ((left + x) & 15));
      const sum =
        ink(paints, mark, load<u32>(at)) +
        ink(paints, mark + 1, load<u32>(at, 4)) +
        ink(paints, mark + 16, load<u32>(at + line)) +
        ink(paints, mark + 17, load<u32>(at + line, 4));
      store<u8>(to, ((sum >> 20) + 2) >> 2);
      if (channels === 1) continue;
      store<u8>(to, (((sum >> 10) & 1023) + 2) >> 2, 1);
      store<u8>(to, ((sum & 1023) + 2) >> 2, 2);
    }
  }
}

function ink(paints: usize, mark: usize, what: u32): i32 {
  const isMarked = <u32>load<u8>(mark + ((what >> PART_SHIFT) << 8));
  return load<i32>(paints + ((2 * what + isMarked) << 2));
}
