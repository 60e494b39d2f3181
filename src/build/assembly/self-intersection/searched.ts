// AssemblyScript: the mesh being searched.
import { cornerOf, pointOf } from '../shared/mesh';
import { word } from '../shared/words';

let positions: usize = 0;
let triangles: usize = 0;
export let count: i32 = 0;

export function takeMesh(positionsAt: usize, trianglesAt: usize, n: i32): void {
  positions = positionsAt;
  triangles = trianglesAt;
  count = n;
}

/** The point of corner `k` of triangle `t`, and its vertex. */
export function corner(t: i32, k: i32): usize {
  return cornerOf(positions, triangles, 3 * t + k);
}

export function vertex(t: i32, k: i32): i32 {
  return word(triangles, 3 * t + k);
}

export function vertexAt(v: i32): usize {
  return pointOf(positions, v);
}
