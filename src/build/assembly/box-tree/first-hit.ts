// AssemblyScript: the first triangle along a ray.
import { component } from '../shared/vector';
import { AXIS, COUNT, FROM, HIGH, NODE, NONE, RAY } from './layout';
import { answer, BEYOND, dx, dy, dz, px, py, pz } from './query';
import { distanceAt, layRay } from './ray';
import { least, limitBoxes, meetsRay, narrowTo } from './ray-box';
import { placeOnRay } from './ray-triangle';
import { partsOf, root, triangleAt } from './tree';

/** Greatest distance that counts. */
let most: f64 = 0;
/** Distance of the nearest hit so far, its triangle, and its position along the ray. */
let best: f64 = 0;
let hit: i32 = -1;
let place: f64 = 0;
/** Position along the ray of the first hit in the box examined last. */
let own: f64 = 0;

/** The first triangle along a ray, or -1; its point and distance are written to the answer. */
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
  answer(px + dx * place, py + dy * place, pz + dz * place, best);
  return hit;
}

/** The same for `count` rays at `rays`: writes distance and triangle of each answer after the ray. */
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

function limitRay(leastMm: f64, mostMm: f64): void {
  limitBoxes(leastMm, mostMm);
  most = mostMm;
  best = Infinity;
  hit = -1;
}

/** Looks for a nearer hit in a box; sets the position along the ray of the box's own first hit, if it has one. */
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
    const triangle = triangleAt(i);
    const t = placeOnRay(triangle);
    if (!(t >= 0)) continue;
    const distance = distanceAt(t);
    if (!(distance < nearest) || distance < least || distance > most) continue;
    isHit = true;
    own = t;
    nearest = distance;
    if (distance >= best) continue;
    best = distance;
    narrowTo(min(most, distance * BEYOND));
    place = t;
    hit = <i32>triangle;
  }
  return isHit;
}
