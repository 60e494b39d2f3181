// AssemblyScript: the point of a mesh that is closest to another point.
import { BOX, HALF } from '../shared/boxes';
import { square } from '../shared/vector';
import { COUNT, FROM, NODE, NONE } from './layout';
import { layNearest, nearX, nearY, nearZ } from './nearest-in-triangle';
import { answer, askAt, BEYOND, px, py, pz } from './query';
import { boxes, partsOf, root, triangleAt } from './tree';

/** A factor for the half sides of a triangle's box: more than their rounding. */
const WIDER: f64 = 1 + 1e-6;

/** Square of the distance within which a point is searched for. */
let most: f64 = 0;
/** Square of the closest distance so far, and the square beyond which a triangle is of no use; the triangle and its point. */
let best: f64 = 0;
let useful: f64 = 0;
let hit: i32 = -1;
let bestX: f64 = 0;
let bestY: f64 = 0;
let bestZ: f64 = 0;

/** The triangle with the closest point, or -1; the point and its distance are written to the answer. */
export function closest(x: f64, y: f64, z: f64, mostMm: f64): i32 {
  askAt(x, y, z);
  most = mostMm * mostMm;
  best = Infinity;
  useful = Infinity;
  hit = -1;
  closestIn(root);
  answer(bestX, bestY, bestZ, sqrt(best));
  return hit;
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
    const x = max<f64>(0, abs(px - <f64>load<f32>(b)) - WIDER * <f64>load<f32>(b, HALF));
    const y = max<f64>(0, abs(py - <f64>load<f32>(b, 4)) - WIDER * <f64>load<f32>(b, HALF + 4));
    const z = max<f64>(0, abs(pz - <f64>load<f32>(b, 8)) - WIDER * <f64>load<f32>(b, HALF + 8));
    if (square(x, y, z) > useful) continue;
    const triangle = triangleAt(i);
    const nearest = layNearest(triangle);
    if (!(nearest < best)) continue;
    best = nearest;
    useful = nearest * BEYOND;
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
  return square(x, y, z);
}
