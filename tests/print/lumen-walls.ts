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

/**
 * A side of the lumen lies at most this fraction of the wall from the corners of the surfaces; the outside lies one wall
 * away.
 */
const LUMEN_SIDE = 0.75;
/** Walls end at cut far ends, mm beyond the vessel's own radius. */
const END_MM = 4;
/** Sides that face each other within 60 degrees have a wall between them. */
const FACING = 0.5;
/** Walls thicker than this, less the longest edge, are not searched for. */
const LOOK_MM = 6;

/**
 * Thickness of the wall of a hollow print, by rays from the middles of the lumen's triangles, one in `stride`, straight into
 * the solid; every triangle nearby is tried for every ray. Shares no code with the code that builds the walls.
 */
export function lumenWalls(
  { positions, triangles }: TriangleMesh,
  input: PrintInput,
  stride: number,
): { at: Vec3; thicknessMm: number; areaMm2: number }[] {
  const vertex = (v: number): Vec3 => [positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]];
  const factor = input.print.scale;
  const lumenSideMm = LUMEN_SIDE * (input.print.wallMm ?? 1.2);
  const corners = new Buckets(lumenSideMm);
  for (const { role, mesh } of input.parts)
    if (BLOOD.has(role))
      for (let p = 0; p < mesh.positions.length; p += 3)
        corners.add([0, 1, 2].map((k) => factor * mesh.positions[p + k]) as Vec3);
  const ends = input.lesion.vessels.map((v) => ({
    at: scale(v.centrelineMm[0], factor),
    reach: (factor * v.calibreMm.max) / 2 + END_MM,
  }));
  const isLumen = (at: Vec3): boolean =>
    !ends.some((e) => distance(e.at, at) < e.reach) &&
    corners.about(at).some((i) => distance(corners.places[i], at) < lumenSideMm);
  // A triangle by its first corner: no edge is long enough for one farther away to count.
  const firsts = new Buckets(LOOK_MM);
  for (let t = 0; t < triangles.length; t += 3) firsts.add(vertex(triangles[t]));
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
    for (const s of firsts.about(at).map((i) => 3 * i)) {
      if (s === t) continue;
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

/** Positions in cubes of one edge length. */
class Buckets {
  readonly places: Vec3[] = [];
  private readonly cubes = new Map<string, number[]>();
  private readonly edgeMm: number;

  constructor(edgeMm: number) {
    this.edgeMm = edgeMm;
  }

  add(at: Vec3): void {
    const key = this.cube(at).join();
    const cube = this.cubes.get(key);
    if (cube) cube.push(this.places.length);
    else this.cubes.set(key, [this.places.length]);
    this.places.push(at);
  }

  /** Indices of all positions within one edge length, and of some farther ones. */
  about(at: Vec3): number[] {
    const [x, y, z] = this.cube(at);
    const near = [-1, 0, 1];
    return near.flatMap((i) =>
      near.flatMap((j) => near.flatMap((k) => this.cubes.get(`${x + i},${y + j},${z + k}`) ?? [])),
    );
  }

  private cube(at: Vec3): Vec3 {
    return at.map((c) => Math.floor(c / this.edgeMm)) as Vec3;
  }
}
