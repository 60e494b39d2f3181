// AssemblyScript: boxes of the triangles, and a box tree around them.
import { triangleAt } from './order';
import { corner, count } from './searched';

/** Number of triangles in a box that has no parts. */
export const LEAF: i32 = 4;
const ROUNDED: f64 = 6e-8;
/** Bytes of a box: low x y z, high x y z. */
const BOX: usize = 24;
const HIGH: usize = 12;

let boxes: usize = 0;
let bounds: usize = 0;
/** The first box of the tree that has no parts; the parts of box `n` are 2 n and 2 n + 1. */
export let firstLeaf: i32 = 1;

/** The box of the triangle at index `i` of the order. */
export function boxAt(i: i32): usize {
  return boxes + BOX * <usize>i;
}

/** A box of the tree. */
export function boundAt(n: i32): usize {
  return bounds + BOX * <usize>n;
}

export function layBoxes(boxesAt: usize): void {
  boxes = boxesAt;
  for (let i = 0; i < count; i++) {
    const t = triangleAt(i);
    const b = boxAt(i);
    const p = corner(t, 0);
    const q = corner(t, 1);
    const r = corner(t, 2);
    const isPoint = p === q || q === r || r === p;
    for (let k: usize = 0; k < 3; k++) {
      const one = load<f64>(p + (k << 3));
      const two = load<f64>(q + (k << 3));
      const three = load<f64>(r + (k << 3));
      const low = min(min(one, two), three);
      const high = max(max(one, two), three);
      store<f32>(b + (k << 2), <f32>(isPoint ? NaN : low - ROUNDED * abs(low)));
      store<f32>(b + (k << 2), <f32>(isPoint ? NaN : high + ROUNDED * abs(high)), HIGH);
    }
  }
}

export function layBounds(boundsAt: usize): void {
  bounds = boundsAt;
  const leafCount = (count + LEAF - 1) / LEAF;
  firstLeaf = 1;
  while (firstLeaf < leafCount) {
    firstLeaf *= 2;
  }
  for (let n = 0; n < 2 * firstLeaf; n++) {
    const b = boundAt(n);
    for (let k: usize = 0; k < HIGH; k += 4) {
      store<f32>(b + k, <f32>Infinity);
      store<f32>(b + k, <f32>-Infinity, HIGH);
    }
  }
  for (let i = 0; i < count; i++) {
    const b = boundAt(firstLeaf + i / LEAF);
    const own = boxAt(i);
    for (let k: usize = 0; k < HIGH; k += 4) {
      const low = load<f32>(own + k);
      const high = load<f32>(own + k, HIGH);
      if (low < load<f32>(b + k)) store<f32>(b + k, low);
      if (high > load<f32>(b + k, HIGH)) store<f32>(b + k, high, HIGH);
    }
  }
  for (let n = firstLeaf - 1; n >= 1; n--) {
    const b = boundAt(n);
    const part = boundAt(2 * n);
    for (let k: usize = 0; k < HIGH; k += 4) {
      store<f32>(b + k, min(load<f32>(part + k), load<f32>(part + k, BOX)));
      store<f32>(b + k, max(load<f32>(part + k, HIGH), load<f32>(part + k, BOX + HIGH)), HIGH);
    }
  }
}

export function meets(a: usize, b: usize): bool {
  return (
    load<f32>(a) <= load<f32>(b, HIGH) &&
    load<f32>(a, HIGH) >= load<f32>(b) &&
    load<f32>(a, 4) <= load<f32>(b, HIGH + 4) &&
    load<f32>(a, HIGH + 4) >= load<f32>(b, 4) &&
    load<f32>(a, 8) <= load<f32>(b, HIGH + 8) &&
    load<f32>(a, HIGH + 8) >= load<f32>(b, 8)
  );
}
