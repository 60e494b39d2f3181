import { add, cross, dot, length, scale, subtract, type Vec3 } from '../../src/foundation/vector.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { polygonise } from '../../src/phantoms/implicit.js';
import { keyOf } from '../../src/phantoms/lattice.js';

/** Signed distance to a body, mm, negative inside; at least near its wall. */
export type Body = (x: number, y: number, z: number) => number;

/** A scan's voxels: in-plane spacing, slice spacing along z, and the position of the voxel corner (0, 0, 0), mm. */
export interface VoxelGrid {
  inPlaneMm: number;
  sliceMm: number;
  originMm: Vec3;
}

/** Sample points along each side of a voxel for its partial volume. */
const PROBES = 3;

/** The fraction of a voxel inside the body, 0..1: what a scanner with a box as its point spread function would show. */
function partialVolume(body: Body, centre: Vec3, { inPlaneMm: p, sliceMm: s }: VoxelGrid): number {
  const [x, y, z] = centre;
  const middle = body(x, y, z);
  const reach = Math.hypot(p, p, s) / 2;
  if (middle > reach) return 0;
  if (middle < -reach) return 1;
  const probeMm = Math.cbrt(p * p * s) / PROBES;
  const [dp, ds] = [p / PROBES, s / PROBES];
  const first = -(PROBES - 1) / 2;
  let sum = 0;
  for (let i = 0; i < PROBES; i++)
    for (let j = 0; j < PROBES; j++)
      for (let k = 0; k < PROBES; k++) {
        const d = body(x + (first + i) * dp, y + (first + j) * dp, z + (first + k) * ds);
        sum += Math.min(1, Math.max(0, 0.5 - d / probeMm));
      }
  return sum / PROBES ** 3;
}

/**
 * Surface of a body as segmented from a scan. From a label: a voxel is inside where more than `threshold` of it is; one
 * vertex in each cell of eight voxel centres that the label's edge crosses, at the mean of its crossings ("surface nets":
 * Gibson, MICCAI 1998, LNCS 1496:888, from memory); then smoothing without shrinking (Taubin, SIGGRAPH 1995:351, from
 * memory). From grey values: the same cells, but the crossings lie where the partial volume between two voxel centres passes
 * `threshold`, and nothing is smoothed. `within` is any point well inside the body.
 */
export function resurfaced(
  body: Body,
  within: Vec3,
  grid: VoxelGrid,
  from: 'label' | 'grey',
  threshold: number,
): TriangleMesh {
  const side: Vec3 = [grid.inPlaneMm, grid.inPlaneMm, grid.sliceMm];
  // polygonise samples at whole numbers plus a fixed shift: the whole number is the voxel
  const centreOf = (index: Vec3): Vec3 =>
    [0, 1, 2].map((k) => grid.originMm[k] + (Math.floor(index[k]) + 0.5) * side[k]) as Vec3;
  // polygonise samples each voxel several times; all of it has one value
  const known = new Map<number, number>();
  const value = (index: Vec3): number => {
    const voxel = keyOf(Math.floor(index[0]), Math.floor(index[1]), Math.floor(index[2]));
    let part = known.get(voxel);
    if (part === undefined) {
      part = partialVolume(body, centreOf(index), grid);
      known.set(voxel, part);
    }
    const outside = threshold - part;
    return from === 'grey' ? outside : outside < 0 ? -1 : 1;
  };
  const seed = [0, 1, 2].map((k) => Math.floor((within[k] - grid.originMm[k]) / side[k]) + 0.5) as Vec3;
  if (value(seed) >= 0) throw new RangeError('the seed lies in no voxel of the body');
  while (value([seed[0] + 1, seed[1], seed[2]]) < 0) seed[0]++;
  const net = polygonise(value, { cellMm: 1, seeds: [seed], rims: [], openEnds: false, relaxations: 0 });
  const positions = net.positions.slice();
  for (let i = 0; i < positions.length; i++) {
    const k = i % 3;
    positions[i] = grid.originMm[k] + (positions[i] - LATTICE_SHIFT + 0.5) * side[k];
  }
  const mesh = { positions, triangles: net.triangles };
  return from === 'label' ? smoothed(mesh, SMOOTHINGS) : mesh;
}

/** Rounds of smoothing for a label. */
const SMOOTHINGS = 10;

/** Where `polygonise` places its lattice between whole numbers. */
const LATTICE_SHIFT = 0.3719;

/** Taubin's pair of steps, `rounds` times: halfway to the mean of the neighbours, then slightly farther back. */
function smoothed({ positions, triangles }: TriangleMesh, rounds: number): TriangleMesh {
  const neighbours: number[][] = Array.from({ length: positions.length / 3 }, () => []);
  for (let i = 0; i < triangles.length; i++)
    neighbours[triangles[i]].push(triangles[i % 3 === 2 ? i - 2 : i + 1]);
  let now = positions;
  for (let round = 0; round < 2 * rounds; round++) {
    const share = round % 2 === 0 ? 0.5 : -0.53;
    const next = now.slice();
    neighbours.forEach((around, v) => {
      for (let k = 0; k < 3; k++) {
        let sum = 0;
        for (const w of around) sum += now[3 * w + k];
        next[3 * v + k] += share * (sum / around.length - now[3 * v + k]);
      }
    });
    now = next;
  }
  return { positions: now, triangles };
}

/** A bar of round cross-section along an arc in the plane of `along` and `aside`, flat at both ends. */
export function arcBar(
  start: Vec3,
  along: Vec3,
  aside: Vec3,
  bendMm: number,
  lengthMm: number,
  radiusMm: number,
): Body {
  const up = cross(along, aside);
  const [px, py, pz] = start;
  return (x, y, z) => {
    const [rx, ry, rz] = [x - px, y - py, z - pz];
    const a = rx * along[0] + ry * along[1] + rz * along[2];
    const b = rx * aside[0] + ry * aside[1] + rz * aside[2];
    const c = rx * up[0] + ry * up[1] + rz * up[2];
    const s = Math.atan2(a, bendMm - b) * bendMm;
    const across = bendMm - Math.sqrt(a * a + (bendMm - b) ** 2);
    return Math.max(Math.sqrt(across * across + c * c) - radiusMm, -s, s - lengthMm);
  };
}

/** Distance to an ellipsoid about the origin with semi-axes along the frame, to first order, exact for a sphere. */
export function ellipsoid(frame: readonly [Vec3, Vec3, Vec3], semi: Vec3): Body {
  return (x, y, z) => {
    let [square, slope] = [0, 0];
    for (let k = 0; k < 3; k++) {
      const q = (x * frame[k][0] + y * frame[k][1] + z * frame[k][2]) / semi[k];
      square += q * q;
      slope += (q / semi[k]) ** 2;
    }
    const n = Math.sqrt(square);
    return slope > 0 ? (n * (n - 1)) / Math.sqrt(slope) : -Math.min(...semi);
  };
}

/** Three orthogonal unit vectors, the first along `first`. */
export function frameAlong(first: Vec3, second: Vec3): [Vec3, Vec3, Vec3] {
  const b = subtract(second, scale(first, dot(first, second)));
  const v = scale(b, 1 / length(b));
  return [first, v, cross(first, v)];
}

export const along = (p: Vec3, direction: Vec3, mm: number): Vec3 => add(p, scale(direction, mm));
