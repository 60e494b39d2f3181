// AssemblyScript: every triangle along a ray.
import { COUNT, FROM, NODE, NONE } from './layout';
import { layRay } from './ray';
import { limitBoxes, meetsRay } from './ray-box';
import { placeOnRay } from './ray-triangle';
import { partsOf, root, triangleAt } from './tree';

/** Where the next triangle is written. */
let list: usize = 0;

/** Lists every triangle along a ray at `listAt`; returns their number. */
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
  limitBoxes(0, Infinity);
  list = listAt;
  if (meetsRay(root)) eachIn(root);
  return <u32>((list - listAt) >> 2);
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
    const triangle = triangleAt(i);
    if (!(placeOnRay(triangle) >= 0)) continue;
    store<u32>(list, triangle);
    list += 4;
  }
}
