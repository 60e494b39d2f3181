import {
  add,
  cross,
  distance,
  dot,
  length,
  normalize,
  scale,
  subtract,
  type Vec3,
} from '../../src/foundation/vector.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { BLOOD } from '../../src/print/prepare-print.js';
import { meets } from './caliper.js';
import type { PrintInput } from '../../src/print/print-job.js';

/** A side of the lumen lies at most so far from the corners of the surfaces, mm; the outside lies a wall away. */
const LUMEN_SIDE_MM = 0.9;
/** Walls end at cut far ends, mm beside the vessel's own radius. */
const END_MM = 4;
/** Sides that face each other within 60 degrees have a wall between them. */
const FACING = 0.5;
/** Walls thicker than this, less the longest edge, are not looked for. */
const LOOK_MM = 6;

/**
 * Thickness of the wall of a hollow print, by rays from the middles of the lumen's triangles, one in `stride`, straight into the
 * solid; every triangle nearby is tried for every ray. Shares no code with what lays the walls. At print scale 1.
 */
export function lumenWalls(
  { positions, triangles }: TriangleMesh,
  input: PrintInput,
  stride: number,
): { at: Vec3; thicknessMm: number; areaMm2: number }[] {
  const vertex = (v: number): Vec3 => [positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]];
  const surfaces = input.parts.filter((p) => BLOOD.has(p.role)).map((p) => p.mesh.positions);
  const ends = input.lesion.vessels.map((v) => ({
    at: v.centrelineMm[0],
    reach: v.calibreMm.max / 2 + END_MM,
  }));
  const isLumen = (at: Vec3): boolean =>
    !ends.some((e) => distance(e.at, at) < e.reach) &&
    surfaces.some((corners) => {
      for (let p = 0; p < corners.length; p += 3)
        if (Math.hypot(corners[p] - at[0], corners[p + 1] - at[1], corners[p + 2] - at[2]) < LUMEN_SIDE_MM)
          return true;
      return false;
    });
  const found: { at: Vec3; thicknessMm: number; areaMm2: number }[] = [];
  for (let t = 0; t < triangles.length; t += 3 * stride) {
    const [a, b, c] = [0, 1, 2].map((k) => vertex(triangles[t + k]));
    const normal = cross(subtract(b, a), subtract(c, a));
    const areaMm2 = length(normal) / 2;
    const at = scale(add(add(a, b), c), 1 / 3);
    if (areaMm2 < 1e-6 || !isLumen(at)) continue;
    const inwards = scale(normalize(normal), -1);
    let thicknessMm = Infinity;
    let facing = 0;
    for (let s = 0; s < triangles.length; s += 3) {
      const p = 3 * triangles[s];
      // A corner that is far away in x, y or z: no edge is that long.
      if (
        s === t ||
        Math.abs(positions[p] - at[0]) > LOOK_MM ||
        Math.abs(positions[p + 1] - at[1]) > LOOK_MM ||
        Math.abs(positions[p + 2] - at[2]) > LOOK_MM
      )
        continue;
      const hit = meets(
        at,
        inwards,
        vertex(triangles[s]),
        vertex(triangles[s + 1]),
        vertex(triangles[s + 2]),
      );
      if (hit && hit.distance > 1e-4 && hit.distance < thicknessMm)
        [thicknessMm, facing] = [hit.distance, dot(hit.normal, inwards)];
    }
    if (facing >= FACING) found.push({ at, thicknessMm, areaMm2 });
  }
  return found;
}
