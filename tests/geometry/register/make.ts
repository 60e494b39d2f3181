import { distance, type Vec3 } from '../../../src/foundation/vector.js';
import { registrationRules } from '../../../src/geometry/register/registration-rules.js';
import { posed, type RigidPose, type Rotation } from '../../../src/geometry/register/rigid-pose.js';
import type { TriangleMesh } from '../../../src/mesh/mesh.js';
import { moveMesh, movePoint, type RigidMotion, rotateVector } from '../../../src/phantoms/rigid.js';
import { seededRandom } from '../../../src/physiology/seeded-random.js';
import { loadRules } from '../../../src/rules/load-rules.js';

export const RULES = registrationRules(loadRules());

/** A moved copy with noise on every coordinate, mm. */
export function noisyCopy(
  mesh: TriangleMesh,
  motion: RigidMotion,
  noiseMm: number,
  seed: number,
): TriangleMesh {
  const random = seededRandom(seed);
  const moved = moveMesh(motion, mesh);
  return {
    positions: moved.positions.map((c) => c + noiseMm * random.normal()),
    triangles: moved.triangles,
  };
}

/** Only the triangles whose corners all satisfy `keep`. */
export function cutOff(mesh: TriangleMesh, keep: (p: Vec3) => boolean): TriangleMesh {
  const corner = (v: number): Vec3 => [
    mesh.positions[3 * v],
    mesh.positions[3 * v + 1],
    mesh.positions[3 * v + 2],
  ];
  const triangles: number[] = [];
  for (let t = 0; t < mesh.triangles.length; t += 3) {
    const corners = [...mesh.triangles.subarray(t, t + 3)];
    if (corners.every((v) => keep(corner(v)))) triangles.push(...corners);
  }
  return { positions: mesh.positions, triangles: Uint32Array.from(triangles) };
}

/** The mirror image across x = 0, still oriented outwards. */
export function mirrorImage(mesh: TriangleMesh): TriangleMesh {
  const positions = mesh.positions.map((c, i) => (i % 3 === 0 ? -c : c));
  const triangles = mesh.triangles.map((v, i, all) => (i % 3 === 0 ? v : all[i % 3 === 1 ? i + 1 : i - 1]));
  return { positions, triangles };
}

/**
 * How far a pose is from the motion's inverse: the largest distance of any vertex from its place, mm, and the angle, degrees.
 */
export function poseError(
  pose: RigidPose,
  motion: RigidMotion,
  mesh: TriangleMesh,
): { farthestMm: number; angleDeg: number } {
  let farthestMm = 0;
  for (let i = 0; i < mesh.positions.length; i += 3) {
    const p: Vec3 = [mesh.positions[i], mesh.positions[i + 1], mesh.positions[i + 2]];
    farthestMm = Math.max(farthestMm, distance(posed(pose, movePoint(motion, p)), p));
  }
  // pose.rotation times the motion's rotation is the remaining rotation
  const columns = ([0, 1, 2] as const).map((k) =>
    rotateVector(motion.rotation, [0, 1, 2].map((i) => (i === k ? 1 : 0)) as Vec3),
  );
  const left = columns.map((c) => posed({ rotation: pose.rotation, translationMm: [0, 0, 0] }, c));
  const trace = left[0][0] + left[1][1] + left[2][2];
  return { farthestMm, angleDeg: (Math.acos(Math.min(1, (trace - 1) / 2)) * 180) / Math.PI };
}

export const determinantOf = ([a, b, c]: Rotation): number =>
  a[0] * (b[1] * c[2] - b[2] * c[1]) -
  a[1] * (b[0] * c[2] - b[2] * c[0]) +
  a[2] * (b[0] * c[1] - b[1] * c[0]);
