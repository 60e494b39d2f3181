import type { TriangleMesh } from './mesh.js';
import type { Topology } from './topology.js';

/** Ray tests at most; each costs one pass over the triangles. Above it, a component counts as not inside. */
const MOST_TESTS = 64;

/**
 * Of the closed components asked for, those whose first vertex lies inside another closed component, by the parity
 * of crossings of a skew ray. One pass over the triangles for each, at most 64 components (largest first).
 */
export function isInsideComponents(
  mesh: TriangleMesh,
  topology: Topology,
  asked: readonly number[],
  open: Uint8Array,
): number[] {
  if (asked.length === 0) return [];
  const { positions, triangles } = mesh;
  const { component, componentSizes } = topology;
  const firstTriangle = new Int32Array(componentSizes.length).fill(-1);
  for (let t = 0; t < component.length; t++)
    if (firstTriangle[component[t]] < 0) firstTriangle[component[t]] = t;
  const tested = [...asked]
    .sort((a, b) => componentSizes[b] - componentSizes[a] || a - b)
    .slice(0, MOST_TESTS);
  const inside: number[] = [];
  const crossings = new Uint32Array(componentSizes.length);
  for (const c of tested) {
    crossings.fill(0);
    const p = 3 * triangles[3 * firstTriangle[c]];
    for (let t = 0; t < component.length; t++) {
      if (component[t] === c || open[component[t]]) continue;
      if (rayCrosses(positions, triangles, 3 * t, positions[p], positions[p + 1], positions[p + 2])) {
        crossings[component[t]]++;
      }
    }
    let depth = 0;
    for (const n of crossings) depth += n & 1;
    if (depth % 2 === 1) inside.push(c);
  }
  return inside.sort((a, b) => a - b);
}

// A direction with no simple ratios, so that rays do not run along faces and edges of gridded models.
const DX = 0.5377672;
const DY = 0.3188765;
const DZ = 0.7805184;

/** Ray against triangle, by signs of the volumes with its sides (Möller and Trumbore's test, from memory). */
function rayCrosses(
  positions: Float64Array,
  triangles: Uint32Array,
  at: number,
  x: number,
  y: number,
  z: number,
): boolean {
  const a = 3 * triangles[at];
  const b = 3 * triangles[at + 1];
  const c = 3 * triangles[at + 2];
  const e1x = positions[b] - positions[a];
  const e1y = positions[b + 1] - positions[a + 1];
  const e1z = positions[b + 2] - positions[a + 2];
  const e2x = positions[c] - positions[a];
  const e2y = positions[c + 1] - positions[a + 1];
  const e2z = positions[c + 2] - positions[a + 2];
  const px = DY * e2z - DZ * e2y;
  const py = DZ * e2x - DX * e2z;
  const pz = DX * e2y - DY * e2x;
  const det = e1x * px + e1y * py + e1z * pz;
  if (det === 0) return false;
  const sx = x - positions[a];
  const sy = y - positions[a + 1];
  const sz = z - positions[a + 2];
  const u = (sx * px + sy * py + sz * pz) / det;
  if (u < 0 || u > 1) return false;
  const qx = sy * e1z - sz * e1y;
  const qy = sz * e1x - sx * e1z;
  const qz = sx * e1y - sy * e1x;
  const v = (DX * qx + DY * qy + DZ * qz) / det;
  if (v < 0 || u + v > 1) return false;
  return (e2x * qx + e2y * qy + e2z * qz) / det > 0;
}
