// AssemblyScript: sets the ray for the following queries.
import { square } from '../shared/vector';
import { askAlong, askAt, dx, dy, dz, px, py, pz } from './query';
import { aimAtBoxes } from './ray-box';
import { aimAtTriangles } from './ray-triangle';

export function layRay(fromX: f64, fromY: f64, fromZ: f64, alongX: f64, alongY: f64, alongZ: f64): void {
  askAt(fromX, fromY, fromZ);
  askAlong(alongX, alongY, alongZ);
  aimAtBoxes();
  aimAtTriangles();
}

/** Distance from the origin to the position `t` along the ray. */
export function distanceAt(t: f64): f64 {
  const x = px - (px + dx * t);
  const y = py - (py + dy * t);
  const z = pz - (pz + dz * t);
  return sqrt(square(x, y, z));
}
