// AssemblyScript: places triangles that are near each other in space next to each other in memory, by the digits of their centres.
import { setWord, word, wordAt } from '../shared/words';
import { corner, count } from './searched';

let order: usize = 0;

export function triangleAt(i: i32): i32 {
  return word(order, i);
}

/** `codes`: room for 3 numbers per triangle; `start`: room to count digits. */
export function layOrder(codes: usize, start: usize): void {
  let x0 = Infinity;
  let y0 = Infinity;
  let z0 = Infinity;
  let x1 = -Infinity;
  let y1 = -Infinity;
  let z1 = -Infinity;
  for (let t = 0; t < count; t++) {
    const cx = centre(t, 0);
    const cy = centre(t, 1);
    const cz = centre(t, 2);
    x0 = min(x0, cx);
    x1 = max(x1, cx);
    y0 = min(y0, cy);
    y1 = max(y1, cy);
    z0 = min(z0, cz);
    z1 = max(z1, cz);
  }
  const extent = max(max(x1 - x0, y1 - y0), z1 - z0);
  const factor = extent > 0 ? 1023.0 / extent : 0;
  const bytes = (<usize>count) << 2;
  let from = codes + bytes;
  let to = from + bytes;
  for (let t = 0; t < count; t++) {
    setWord(
      codes,
      t,
      spread(<i32>((centre(t, 0) - x0) * factor)) |
        (spread(<i32>((centre(t, 1) - y0) * factor)) << 1) |
        (spread(<i32>((centre(t, 2) - z0) * factor)) << 2),
    );
    setWord(from, t, t);
  }
  for (let shift = 0; shift < 30; shift += 10) {
    memory.fill(start, 0, 4100);
    for (let i = 0; i < count; i++) {
      const d = wordAt(start, digit(codes, i, shift) + 1);
      store<i32>(d, load<i32>(d) + 1);
    }
    for (let d: usize = 0; d < 4096; d += 4)
      store<i32>(start + d, load<i32>(start + d) + load<i32>(start + d, 4), 4);
    for (let i = 0; i < count; i++) {
      const t = word(from, i);
      const d = wordAt(start, digit(codes, t, shift));
      const place = load<i32>(d);
      store<i32>(d, place + 1);
      setWord(to, place, t);
    }
    const swap = from;
    from = to;
    to = swap;
  }
  order = from;
}

function centre(t: i32, k: i32): f64 {
  const o = (<usize>k) << 3;
  return load<f64>(corner(t, 0) + o) + load<f64>(corner(t, 1) + o) + load<f64>(corner(t, 2) + o);
}

function spread(value: i32): u32 {
  let v: u32 = value & 1023;
  v = (v | (v << 16)) & 0x30000ff;
  v = (v | (v << 8)) & 0x300f00f;
  v = (v | (v << 4)) & 0x30c30c3;
  return (v | (v << 2)) & 0x9249249;
}

function digit(codes: usize, t: i32, shift: i32): i32 {
  return (word(codes, t) >>> shift) & 1023;
}
