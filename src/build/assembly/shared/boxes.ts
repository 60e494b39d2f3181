// AssemblyScript: the boxes of triangles, and their order. Four numbers are processed at once; the fourth, which is the first of the
// following values, is never used.

/** Bytes of a triangle's box: centre x y z, half side x y z. */
export const BOX: usize = 24;
/** Offset of the half sides. */
export const HALF: usize = 12;

/**
 * Writes to `out` the boxes around triangles and around their centres, from index `from` on: low and high corner of the first, then of the
 * second, 16 bytes each.
 */
export function around(boxes: usize, from: u32, count: u32, out: usize): void {
  let low = f32x4.splat(Infinity);
  let high = f32x4.splat(-Infinity);
  let first = low;
  let last = high;
  const end = boxes + <usize>(from + count) * BOX;
  for (let b = boxes + <usize>from * BOX; b < end; b += BOX) {
    const centre = v128.load(b);
    const half = v128.load(b, HALF);
    low = f32x4.pmin(low, f32x4.sub(centre, half));
    high = f32x4.pmax(high, f32x4.add(centre, half));
    first = f32x4.pmin(first, centre);
    last = f32x4.pmax(last, centre);
  }
  v128.store(out, low);
  v128.store(out, high, 16);
  v128.store(out, first, 32);
  v128.store(out, last, 48);
}

/**
 * Hoare's partition of triangles by whether their centre is before `middle` along an axis; returns the index of the first one that is not.
 */
export function parted(boxes: usize, order: usize, from: u32, count: u32, axis: u32, middle: f64): u32 {
  const along = (<usize>axis) << 2;
  let left = boxes + <usize>from * BOX;
  let right = left + <usize>count * BOX - BOX;
  while (true) {
    while (left <= right && <f64>load<f32>(left + along) < middle) left += BOX;
    while (left <= right && <f64>load<f32>(right + along) >= middle) right -= BOX;
    if (left >= right) break;
    const one = v128.load(left);
    const two = v128.load(right);
    const oneHalf = v128.load(left, 8);
    const twoHalf = v128.load(right, 8);
    v128.store(left, two);
    v128.store(left, twoHalf, 8);
    v128.store(right, one);
    v128.store(right, oneHalf, 8);
    swapOrder(order + (((left - boxes) / BOX) << 2), order + (((right - boxes) / BOX) << 2));
    left += BOX;
    right -= BOX;
  }
  return <u32>((left - boxes) / BOX);
}

function swapOrder(a: usize, b: usize): void {
  const t = load<u32>(a);
  store<u32>(a, load<u32>(b));
  store<u32>(b, t);
}
