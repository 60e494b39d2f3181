// AssemblyScript, built by src/build/assemble.mjs: the tree of boxes around a mesh's triangles, with its queries.
// src/mesh/compiled-box-tree.ts lays out the memory; src/mesh/plain-box-tree.ts, box-order.ts and triangle-queries.ts hold the plain
// version of the same and explain it: boxes, order and every answer are the same in both, to the last bit.
import { around, parted } from './box-order';

const LEAF: u32 = 10;
const DEEPEST: u32 = 40;
const BEYOND: f64 = 1 + 1e-9;
const WIDER: f64 = 1 + 1e-6;
/** 2 ** -24. */
const ROUNDED: f64 = 5.9604644775390625e-8;

/** What `around` laid, and a query's answer: point x y z and distance. */
const LAID: usize = 0;
const ANSWER: usize = 64;

/** Bytes of a triangle's box: centre x y z, padded half side x y z. */
const BOX: usize = 24;
/**
 * Bytes of a box of the tree: min and max of x, of y, of z, where it is divided, its first triangle in the order, how many, the first
 * of its two parts (`NOT_YET` asked for, or `NONE`), axis of division, depth.
 */
const NODE: usize = 48;
const HIGH: usize = 4;
const MIDDLE: usize = 24;
const FROM: usize = 32;
const COUNT: usize = 36;
const PARTS: usize = 40;
const AXIS: usize = 44;
const DEPTH: usize = 46;
const NOT_YET: usize = 0;
const NONE: usize = 1;

/** Two 32-bit numbers in their order, and the other way round. */
const AS_LAID: v128 = i8x16(0, 1, 2, 3, 4, 5, 6, 7, -1, -1, -1, -1, -1, -1, -1, -1);
const SWAPPED: v128 = i8x16(4, 5, 6, 7, 0, 1, 2, 3, -1, -1, -1, -1, -1, -1, -1, -1);

/** Bytes of one of many rays: origin and direction in x y z, distance and triangle where it ended. */
const RAY: usize = 64;

let triangles: usize = 0;
let positions: usize = 0;
let boxes: usize = 0;
let order: usize = 0;
let root: usize = 0;
/** Where the next box of the tree will stand. */
let end: usize = 0;

/** Origin; of a ray its direction. */
let px: f64 = 0;
let py: f64 = 0;
let pz: f64 = 0;
let dx: f64 = 0;
let dy: f64 = 0;
let dz: f64 = 0;
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
/** The axes in which the ray is tested, the steepest last, with its origin and shear there. */
let kx: usize = 0;
let ky: usize = 0;
let kz: usize = 0;
let ox: f64 = 0;
let oy: f64 = 0;
let oz: f64 = 0;
let sx: f64 = 0;
let sy: f64 = 0;
let sz: f64 = 0;

/** Of a ray: least and greatest distance. Of a point: square of its reach, in `most`. */
let least: f64 = 0;
let most: f64 = 0;
/** Distance of the nearest answer so far, or its square, and beyond which something is of no use. */
let best: f64 = 0;
let useful: f64 = 0;
let hit: i32 = -1;
/** Place along the ray of the first hit of the box that was looked into last, and of the nearest. */
let own: f64 = 0;
let place: f64 = 0;
/** Point of a triangle that was looked at last, and the closest. */
let nearX: f64 = 0;
let nearY: f64 = 0;
let nearZ: f64 = 0;
let bestX: f64 = 0;
let bestY: f64 = 0;
let bestZ: f64 = 0;
let list: usize = 0;

/** Takes `count` triangles into use: lays their boxes, their order and the box around them all. */
export function enter(
  trianglesAt: usize,
  positionsAt: usize,
  boxesAt: usize,
  orderAt: usize,
  nodesAt: usize,
  count: u32,
): void {
  triangles = trianglesAt;
  positions = positionsAt;
  boxes = boxesAt;
  order = orderAt;
  root = nodesAt;
  end = root + NODE;
  for (let t: u32 = 0; t < count; t++) {
    store<u32>(order + ((<usize>t) << 2), t);
    const b = boxes + <usize>t * BOX;
    const p = corner(t, 0);
    const q = corner(t, 4);
    const r = corner(t, 8);
    layBox(b, load<f32>(p), load<f32>(q), load<f32>(r));
    layBox(b + 4, load<f32>(p, 4), load<f32>(q, 4), load<f32>(r, 4));
    layBox(b + 8, load<f32>(p, 8), load<f32>(q, 8), load<f32>(r, 8));
  }
  layNode(root, 0, count, 0);
}

function corner(triangle: u32, offset: usize): usize {
  return positions + 12 * <usize>load<u32>(triangles + 12 * <usize>triangle + offset);
}

function layBox(at: usize, a: f64, b: f64, c: f64): void {
  let low = min(a, b);
  if (c < low) low = c;
  let high = max(a, b);
  if (c > high) high = c;
  const half = (high - low) / 2;
  store<f32>(at, <f32>(low + half));
  store<f32>(at, <f32>(half + (abs(low) + half) * ROUNDED), 12);
}

function layNode(node: usize, from: u32, count: u32, depth: u32): void {
  around(boxes, from, count, LAID);
  for (let k: usize = 0; k < 12; k += 4) {
    store<f32>(node + 2 * k, load<f32>(LAID + k));
    store<f32>(node + 2 * k, load<f32>(LAID + k, 16), HIGH);
  }
  const x = <f64>load<f32>(LAID, 48) - <f64>load<f32>(LAID, 32);
  const y = <f64>load<f32>(LAID, 52) - <f64>load<f32>(LAID, 36);
  const z = <f64>load<f32>(LAID, 56) - <f64>load<f32>(LAID, 40);
  const axis: u32 = z > x && z > y ? 2 : y > x ? 1 : 0;
  const side = LAID + ((<usize>axis) << 2);
  store<f64>(node, (<f64>load<f32>(side, 32) + <f64>load<f32>(side, 48)) / 2, MIDDLE);
  store<u32>(node, from, FROM);
  store<u32>(node, count, COUNT);
  store<u32>(node, NOT_YET, PARTS);
  store<u16>(node, axis, AXIS);
  store<u16>(node, depth, DEPTH);
}

/** The first of the two parts of a box, or `NONE`; divides it if nothing has asked for it before. */
function partsOf(node: usize): usize {
  const parts = <usize>load<u32>(node, PARTS);
  return parts === NOT_YET ? divide(node) : parts;
}

function divide(node: usize): usize {
  const from = load<u32>(node, FROM);
  const count = load<u32>(node, COUNT);
  const depth = <u32>load<u16>(node, DEPTH);
  const cut =
    count <= LEAF || depth >= DEEPEST
      ? from
      : parted(boxes, order, from, count, load<u16>(node, AXIS), load<f64>(node, MIDDLE));
  if (cut === from || cut === from + count) {
    store<u32>(node, <u32>NONE, PARTS);
    return NONE;
  }
  const parts = end;
  end += 2 * NODE;
  store<u32>(node, <u32>parts, PARTS);
  layNode(parts, from, cut - from, depth + 1);
  layNode(parts + NODE, cut, from + count - cut, depth + 1);
  return parts;
}

/** The first triangle along a ray, or -1; its point and distance stand in the answer. */
export function first(
  fromX: f64,
  fromY: f64,
  fromZ: f64,
  alongX: f64,
  alongY: f64,
  alongZ: f64,
  leastMm: f64,
  mostMm: f64,
): i32 {
  layRay(fromX, fromY, fromZ, alongX, alongY, alongZ);
  limitRay(leastMm, mostMm);
  if (!meetsRay(root) || !firstIn(root) || hit < 0) return -1;
  store<f64>(ANSWER, px + dx * place);
  store<f64>(ANSWER, py + dy * place, 8);
  store<f64>(ANSWER, pz + dz * place, 16);
  store<f64>(ANSWER, best, 24);
  return hit;
}

/** The same for `count` rays at `rays`: writes distance and triangle of each answer behind the ray. */
export function firsts(rays: usize, count: u32, leastMm: f64, mostMm: f64): void {
  const last = rays + <usize>count * RAY;
  for (let r = rays; r < last; r += RAY) {
    layRay(
      load<f64>(r),
      load<f64>(r, 8),
      load<f64>(r, 16),
      load<f64>(r, 24),
      load<f64>(r, 32),
      load<f64>(r, 40),
    );
    limitRay(leastMm, mostMm);
    if (meetsRay(root)) firstIn(root);
    store<f64>(r, best, 48);
    store<f64>(r, <f64>hit, 56);
  }
}

/** Lists every triangle along a ray at `listAt`; returns how many. */
export function each(
  fromX: f64,
  fromY: f64,
  fromZ: f64,
  alongX: f64,
  alongY: f64,
  alongZ: f64,
  listAt: usize,
): u32 {
  layRay(fromX, fromY, fromZ, alongX, alongY, alongZ);
  limitRay(0, Infinity);
  list = listAt;
  if (meetsRay(root)) eachIn(root);
  return <u32>((list - listAt) >> 2);
}

/** The triangle with the closest point, or -1; the point and its distance stand in the answer. */
export function closest(x: f64, y: f64, z: f64, mostMm: f64): i32 {
  px = x;
  py = y;
  pz = z;
  most = mostMm * mostMm;
  best = Infinity;
  useful = Infinity;
  hit = -1;
  closestIn(root);
  store<f64>(ANSWER, bestX);
  store<f64>(ANSWER, bestY, 8);
  store<f64>(ANSWER, bestZ, 16);
  store<f64>(ANSWER, sqrt(best), 24);
  return hit;
}

function layRay(fromX: f64, fromY: f64, fromZ: f64, alongX: f64, alongY: f64, alongZ: f64): void {
  px = fromX;
  py = fromY;
  pz = fromZ;
  dx = alongX;
  dy = alongY;
  dz = alongZ;
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
  const x = abs(dx);
  const y = abs(dy);
  const z = abs(dz);
  const steep: u32 = x >= y && x >= z ? 0 : y >= z ? 1 : 2;
  const along = component(steep, dx, dy, dz);
  const turn: u32 = along < 0 ? 2 : 1;
  const one = (steep + turn) % 3;
  const two = (steep + 3 - turn) % 3;
  kx = (<usize>one) << 2;
  ky = (<usize>two) << 2;
  kz = (<usize>steep) << 2;
  ox = component(one, px, py, pz);
  oy = component(two, px, py, pz);
  oz = component(steep, px, py, pz);
  sx = component(one, dx, dy, dz) / along;
  sy = component(two, dx, dy, dz) / along;
  sz = 1 / along;
}

function component(k: u32, x: f64, y: f64, z: f64): f64 {
  return k === 0 ? x : k === 1 ? y : z;
}

function limitRay(leastMm: f64, mostMm: f64): void {
  least = leastMm;
  most = mostMm;
  best = Infinity;
  useful = mostMm;
  hit = -1;
}

function distanceAt(t: f64): f64 {
  const x = px - (px + dx * t);
  const y = py - (py + dy * t);
  const z = pz - (pz + dz * t);
  return sqrt(x * x + y * y + z * z);
}

/** Looks for a nearer hit in a box; lays the place along the ray of the box's own first hit, if it has one. */
function firstIn(node: usize): bool {
  const parts = partsOf(node);
  if (parts === NONE) return firstOf(load<u32>(node, FROM), load<u32>(node, COUNT));
  const axis = <u32>load<u16>(node, AXIS);
  const along = component(axis, dx, dy, dz);
  const forward = along >= 0;
  const one = forward ? parts : parts + NODE;
  const other = forward ? parts + NODE : parts;
  const hasOwn = meetsRay(one) && firstIn(one);
  const mine = own;
  if (hasOwn) {
    const at = component(axis, px, py, pz) + along * mine;
    const side = other + ((<usize>axis) << 3);
    if (forward ? at <= <f64>load<f32>(side) : at >= <f64>load<f32>(side, HIGH)) return true;
  }
  const hasOther = meetsRay(other) && firstIn(other);
  if (!hasOwn) return hasOther;
  if (!hasOther || distanceAt(mine) <= distanceAt(own)) own = mine;
  return true;
}

function firstOf(from: u32, count: u32): bool {
  let isHit = false;
  let nearest = Infinity;
  for (let i = from; i < from + count; i++) {
    const triangle = load<u32>(order + ((<usize>i) << 2));
    const t = placeOnRay(triangle);
    if (!(t >= 0)) continue;
    const distance = distanceAt(t);
    if (!(distance < nearest) || distance < least || distance > most) continue;
    isHit = true;
    own = t;
    nearest = distance;
    if (distance >= best) continue;
    best = distance;
    useful = min(most, distance * BEYOND);
    place = t;
    hit = <i32>triangle;
  }
  return isHit;
}

function eachIn(node: usize): void {
  const parts = partsOf(node);
  if (parts !== NONE) {
    if (meetsRay(parts)) eachIn(parts);
    if (meetsRay(parts + NODE)) eachIn(parts + NODE);
    return;
  }
  const from = load<u32>(node, FROM);
  const to = from + load<u32>(node, COUNT);
  for (let i = from; i < to; i++) {
    const triangle = load<u32>(order + ((<usize>i) << 2));
    if (!(placeOnRay(triangle) >= 0)) continue;
    store<u32>(list, triangle);
    list += 4;
  }
}

function closestIn(node: usize): void {
  const parts = partsOf(node);
  if (parts === NONE) {
    closestOf(load<u32>(node, FROM), load<u32>(node, COUNT));
    return;
  }
  const left = squareTo(parts);
  const right = squareTo(parts + NODE);
  const isRightFirst = right < left;
  const one = isRightFirst ? parts + NODE : parts;
  const other = isRightFirst ? parts : parts + NODE;
  const sooner = isRightFirst ? right : left;
  const later = isRightFirst ? left : right;
  if (sooner < best && sooner < most) closestIn(one);
  if (later < best && later < most) closestIn(other);
}

function closestOf(from: u32, count: u32): void {
  for (let i = from; i < from + count; i++) {
    const b = boxes + <usize>i * BOX;
    const x = max<f64>(0, abs(px - <f64>load<f32>(b)) - WIDER * <f64>load<f32>(b, 12));
    const y = max<f64>(0, abs(py - <f64>load<f32>(b, 4)) - WIDER * <f64>load<f32>(b, 16));
    const z = max<f64>(0, abs(pz - <f64>load<f32>(b, 8)) - WIDER * <f64>load<f32>(b, 20));
    if (x * x + y * y + z * z > useful) continue;
    const triangle = load<u32>(order + ((<usize>i) << 2));
    const square = layNearest(triangle);
    if (!(square < best)) continue;
    best = square;
    useful = square * BEYOND;
    bestX = nearX;
    bestY = nearY;
    bestZ = nearZ;
    hit = <i32>triangle;
  }
}

function squareTo(node: usize): f64 {
  const x = max<f64>(load<f32>(node), min<f64>(load<f32>(node, 4), px)) - px;
  const y = max<f64>(load<f32>(node, 8), min<f64>(load<f32>(node, 12), py)) - py;
  const z = max<f64>(load<f32>(node, 16), min<f64>(load<f32>(node, 20), pz)) - pz;
  return x * x + y * y + z * z;
}

/** Where the ray enters a box along one axis and, negative, where it leaves it. */
function slab(node: usize, swap: v128, from: v128, inverse: v128): v128 {
  const sides = f64x2.promote_low_f32x4(i8x16.swizzle(v128.load64_zero(node), swap));
  return f64x2.mul(f64x2.sub(sides, from), inverse);
}

/** Where a ray enters one slab after it has left the other. */
function past(one: v128, other: v128): v128 {
  return f64x2.gt(one, f64x2.neg(v128.shuffle<f64>(other, other, 1, 0)));
}

/** The later entry and the earlier exit; of the first, what is not a number does not count. */
function narrower(one: v128, other: v128): v128 {
  return v128.bitselect(other, one, v128.or(f64x2.gt(other, one), f64x2.ne(one, one)));
}

/** Without branches: on which side of a box a ray passes cannot be foreseen. */
function meetsRay(node: usize): bool {
  const x = slab(node, swapX, fromX2, inverseX2);
  const y = slab(node + 8, swapY, fromY2, inverseY2);
  const z = slab(node + 16, swapZ, fromZ2, inverseZ2);
  const xy = narrower(x, y);
  const misses = v128.or(past(x, y), past(xy, z));
  const isUseful = f64x2.le(narrower(xy, z), f64x2(useful, -least));
  return i64x2.all_true(v128.andnot(isUseful, misses));
}

function placeOnRay(triangle: u32): f64 {
  const p = corner(triangle, 0);
  const q = corner(triangle, 4);
  const r = corner(triangle, 8);
  const az = <f64>load<f32>(p + kz) - oz;
  const bz = <f64>load<f32>(q + kz) - oz;
  const cz = <f64>load<f32>(r + kz) - oz;
  const ax = <f64>load<f32>(p + kx) - ox - sx * az;
  const ay = <f64>load<f32>(p + ky) - oy - sy * az;
  const bx = <f64>load<f32>(q + kx) - ox - sx * bz;
  const by = <f64>load<f32>(q + ky) - oy - sy * bz;
  const cx = <f64>load<f32>(r + kx) - ox - sx * cz;
  const cy = <f64>load<f32>(r + ky) - oy - sy * cz;
  const u = cx * by - cy * bx;
  const v = ax * cy - ay * cx;
  const w = bx * ay - by * ax;
  if ((u < 0 || v < 0 || w < 0) && (u > 0 || v > 0 || w > 0)) return -1;
  const det = u + v + w;
  if (det === 0) return -1;
  const scaled = sz * (u * az + v * bz + w * cz);
  if (det > 0 ? scaled < 0 : scaled > 0) return -1;
  return scaled / det;
}

function layNearest(triangle: u32): f64 {
  const p = corner(triangle, 0);
  const q = corner(triangle, 4);
  const r = corner(triangle, 8);
  const ax = <f64>load<f32>(p);
  const ay = <f64>load<f32>(p, 4);
  const az = <f64>load<f32>(p, 8);
  const bx = <f64>load<f32>(q);
  const by = <f64>load<f32>(q, 4);
  const bz = <f64>load<f32>(q, 8);
  const cx = <f64>load<f32>(r);
  const cy = <f64>load<f32>(r, 4);
  const cz = <f64>load<f32>(r, 8);
  const ux = bx - ax;
  const uy = by - ay;
  const uz = bz - az;
  const vx = cx - ax;
  const vy = cy - ay;
  const vz = cz - az;
  let x = px - ax;
  let y = py - ay;
  let z = pz - az;
  const d1 = ux * x + uy * y + uz * z;
  const d2 = vx * x + vy * y + vz * z;
  if (d1 <= 0 && d2 <= 0) return squareAt(ax, ay, az);
  x = px - bx;
  y = py - by;
  z = pz - bz;
  const d3 = ux * x + uy * y + uz * z;
  const d4 = vx * x + vy * y + vz * z;
  if (d3 >= 0 && d4 <= d3) return squareAt(bx, by, bz);
  const c = d1 * d4 - d3 * d2;
  if (c <= 0 && d1 >= 0 && d3 <= 0 && d1 - d3 > 0) {
    const f = d1 / (d1 - d3);
    return squareAt(ax + ux * f, ay + uy * f, az + uz * f);
  }
  x = px - cx;
  y = py - cy;
  z = pz - cz;
  const d5 = ux * x + uy * y + uz * z;
  const d6 = vx * x + vy * y + vz * z;
  if (d6 >= 0 && d5 <= d6) return squareAt(cx, cy, cz);
  const b = d5 * d2 - d1 * d6;
  if (b <= 0 && d2 >= 0 && d6 <= 0) {
    const f = d2 / (d2 - d6);
    return squareAt(ax + vx * f, ay + vy * f, az + vz * f);
  }
  const a = d3 * d6 - d5 * d4;
  if (a <= 0 && d4 - d3 >= 0 && d5 - d6 >= 0) {
    const f = (d4 - d3) / (d4 - d3 + (d5 - d6));
    return squareAt(bx + (cx - bx) * f, by + (cy - by) * f, bz + (cz - bz) * f);
  }
  const part = 1 / (a + b + c);
  const f = b * part;
  const g = c * part;
  return squareAt(ax + ux * f + vx * g, ay + uy * f + vy * g, az + uz * f + vz * g);
}

function squareAt(x: f64, y: f64, z: f64): f64 {
  nearX = x;
  nearY = y;
  nearZ = z;
  const ex = px - x;
  const ey = py - y;
  const ez = pz - z;
  return ex * ex + ey * ey + ez * ez;
}
