// AssemblyScript: searches for pairs of boxes that overlap, then for pairs of their triangles that cross.
import { setPoint } from '../shared/mesh';
import { boundAt, boxAt, firstLeaf, LEAF, layBounds, layBoxes, meets } from './boxes';
import { cross } from './crossing';
import { x, y, z } from './local';
import { layOrder, triangleAt } from './order';
import { isOnOneSide, layPlane, setNoise } from './planes';
import { OTHER, PLANE } from './scratch';
import { count, takeMesh } from './searched';

/** Bytes of a pending pair of boxes, and of a crossing: two triangles and a point. */
const PAIR: usize = 8;
const FOUND: usize = 32;

/** 1: more crossing pairs than requested; 2: abandoned. */
let ended: i32 = 0;

export function endedEarly(): i32 {
  return ended;
}

/**
 * Searches `n` triangles. `codesAt`: room for 3 numbers per triangle; `boxesAt`, `boundsAt`: for 6 floats per triangle and per box of the
 * tree; `stackAt`: pending pairs; `foundAt`: room for `most` crossings, two triangles and a point each. Returns the number found.
 */
export function search(
  positionsAt: usize,
  vertices: i32,
  trianglesAt: usize,
  n: i32,
  codesAt: usize,
  boxesAt: usize,
  boundsAt: usize,
  stackAt: usize,
  foundAt: usize,
  most: i32,
  pairs: f64,
): i32 {
  takeMesh(positionsAt, trianglesAt, n);
  setNoise(positionsAt, vertices);
  ended = 0;
  // the boxes are written later; until then their memory is used for counting digits
  layOrder(codesAt, boxesAt);
  layBoxes(boxesAt);
  layBounds(boundsAt);
  return visit(stackAt, foundAt, most, pairs);
}

/** Pushes a pair on the stack; returns the new top. */
function pushed(top: usize, p: i32, q: i32): usize {
  store<i32>(top, p);
  store<i32>(top, q, 4);
  return top + PAIR;
}

function visit(stack: usize, foundAt: usize, most: i32, pairs: f64): i32 {
  let found = 0;
  let budget = pairs;
  let planeOf = -1;
  let top = pushed(stack, 1, 1);
  while (top > stack) {
    top -= PAIR;
    const a = load<i32>(top);
    const b = load<i32>(top, 4);
    if (a < firstLeaf) {
      for (let p = 2 * a + 1; p >= 2 * a; p--)
        for (let q = 2 * b + 1; q >= (a === b ? p : 2 * b); q--) {
          if (!meets(boundAt(p), boundAt(q))) continue;
          top = pushed(top, p, q);
        }
      continue;
    }
    const from = LEAF * (a - firstLeaf);
    const to = min(count, from + LEAF);
    const otherFrom = LEAF * (b - firstLeaf);
    const otherTo = min(count, otherFrom + LEAF);
    budget -= <f64>((to - from) * (otherTo - otherFrom));
    if (budget < 0) {
      ended = 2;
      return found;
    }
    for (let i = from; i < to; i++) {
      const own = boxAt(i);
      if (a !== b && !meets(boundAt(b), own)) continue;
      const s = triangleAt(i);
      for (let j = a === b ? i + 1 : otherFrom; j < otherTo; j++) {
        if (!meets(own, boxAt(j))) continue;
        const t = triangleAt(j);
        if (planeOf !== s) layPlane(s, PLANE);
        planeOf = s;
        if (isOnOneSide(PLANE, s, t)) continue;
        layPlane(t, OTHER);
        if (isOnOneSide(OTHER, t, s)) continue;
        const low = min(s, t);
        const high = max(s, t);
        if (!cross(low, high)) continue;
        if (found === most) {
          ended = 1;
          return found;
        }
        const f = foundAt + FOUND * <usize>found;
        found++;
        store<i32>(f, low);
        store<i32>(f, high, 4);
        setPoint(f + 8, x, y, z);
      }
    }
  }
  return found;
}
