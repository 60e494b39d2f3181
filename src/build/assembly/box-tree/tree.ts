// AssemblyScript: builds a box tree. A box is divided when a query first needs its parts.
import { around, BOX, HALF, parted } from '../shared/boxes';
import { CORNERS, POINT_32 } from '../shared/mesh';
import { setWord, word } from '../shared/words';
import { AXIS, COUNT, DEPTH, FROM, HIGH, LAID, MIDDLE, NODE, NONE, NOT_YET, PARTS } from './layout';

const LEAF: u32 = 10;
const DEEPEST: u32 = 40;
/** 2 ** -24. */
const ROUNDED: f64 = 5.9604644775390625e-8;

let triangles: usize = 0;
let positions: usize = 0;
export let boxes: usize = 0;
let order: usize = 0;
export let root: usize = 0;
/** Where the next box of the tree will be written. */
let end: usize = 0;

/** Starts a tree of `count` triangles: computes their boxes, their order and the box around all of them. */
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
    setWord(order, t, t);
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

/** The point of the corner that is `offset` bytes after the first. */
export function corner(triangle: u32, offset: usize): usize {
  return positions + POINT_32 * <usize>load<u32>(triangles + CORNERS * <usize>triangle + offset);
}

/** The triangle at index `i` of the order. */
export function triangleAt(i: u32): u32 {
  return word(order, i);
}

function layBox(at: usize, a: f64, b: f64, c: f64): void {
  let low = min(a, b);
  if (c < low) low = c;
  let high = max(a, b);
  if (c > high) high = c;
  const half = (high - low) / 2;
  store<f32>(at, <f32>(low + half));
  store<f32>(at, <f32>(half + (abs(low) + half) * ROUNDED), HALF);
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

/** The first of the two parts of a box, or `NONE`; divides the box if this has not been done yet. */
export function partsOf(node: usize): usize {
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
