// AssemblyScript: whether a ray meets a box of the tree.
import { dx, dy, dz, px, py, pz } from './query';

/** Two 32-bit numbers in their order, and in the reverse order. */
const AS_LAID: v128 = i8x16(0, 1, 2, 3, 4, 5, 6, 7, -1, -1, -1, -1, -1, -1, -1, -1);
const SWAPPED: v128 = i8x16(4, 5, 6, 7, 0, 1, 2, 3, -1, -1, -1, -1, -1, -1, -1, -1);

/** For each axis: the order of a box's sides as the ray meets them, its origin and inverse direction for both, the second negative. */
let swapX: v128 = i64x2(0, 0);
let swapY: v128 = i64x2(0, 0);
let swapZ: v128 = i64x2(0, 0);
let fromX2: v128 = i64x2(0, 0);
let fromY2: v128 = i64x2(0, 0);
let fromZ2: v128 = i64x2(0, 0);
let inverseX2: v128 = i64x2(0, 0);
let inverseY2: v128 = i64x2(0, 0);
let inverseZ2: v128 = i64x2(0, 0);

/** Least distance that counts, and the distance beyond which a box is of no use. */
export let least: f64 = 0;
let useful: f64 = 0;

export function aimAtBoxes(): void {
  const ix = 1 / dx;
  const iy = 1 / dy;
  const iz = 1 / dz;
  swapX = ix >= 0 ? AS_LAID : SWAPPED;
  swapY = iy >= 0 ? AS_LAID : SWAPPED;
  swapZ = iz >= 0 ? AS_LAID : SWAPPED;
  fromX2 = f64x2.splat(px);
  fromY2 = f64x2.splat(py);
  fromZ2 = f64x2.splat(pz);
  inverseX2 = f64x2(ix, -ix);
  inverseY2 = f64x2(iy, -iy);
  inverseZ2 = f64x2(iz, -iz);
}

export function limitBoxes(leastMm: f64, usefulMm: f64): void {
  least = leastMm;
  useful = usefulMm;
}

export function narrowTo(usefulMm: f64): void {
  useful = usefulMm;
}

/** Without branches, because the side on which a ray passes a box cannot be predicted. */
export function meetsRay(node: usize): bool {
  const x = slab(node, swapX, fromX2, inverseX2);
  const y = slab(node + 8, swapY, fromY2, inverseY2);
  const z = slab(node + 16, swapZ, fromZ2, inverseZ2);
  const xy = narrower(x, y);
  const misses = v128.or(past(x, y), past(xy, z));
  const isUseful = f64x2.le(narrower(xy, z), f64x2(useful, -least));
  return i64x2.all_true(v128.andnot(isUseful, misses));
}

/** Where the ray enters a box along one axis and, negative, where it leaves it. */
function slab(node: usize, swap: v128, from: v128, inverse: v128): v128 {
  const sides = f64x2.promote_low_f32x4(i8x16.swizzle(v128.load64_zero(node), swap));
  return f64x2.mul(f64x2.sub(sides, from), inverse);
}

/** Whether a ray enters one slab after it has left the other. */
function past(one: v128, other: v128): v128 {
  return f64x2.gt(one, f64x2.neg(v128.shuffle<f64>(other, other, 1, 0)));
}

/** The later entry and the earlier exit; NaN in the first does not count. */
function narrower(one: v128, other: v128): v128 {
  return v128.bitselect(other, one, v128.or(f64x2.gt(other, one), f64x2.ne(one, one)));
}
