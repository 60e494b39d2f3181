import { add, type Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { randomStream } from './random.js';

/** Unit quaternion [w, x, y, z]. */
export type Quaternion = readonly [number, number, number, number];

export const NO_TURN: Quaternion = [1, 0, 0, 0];

/** A rotation followed by a translation, mm. */
export interface RigidMotion {
  rotation: Quaternion;
  translationMm: Vec3;
}

/** Uniformly distributed rotation from a seed (Shoemake, Graphics Gems III 1992, from memory). */
export function seededRotation(seed: number): Quaternion {
  const random = randomStream(seed);
  const [u1, u2, u3] = [random.next(), random.next() * 2 * Math.PI, random.next() * 2 * Math.PI];
  const a = Math.sqrt(1 - u1);
  const b = Math.sqrt(u1);
  return [a * Math.sin(u2), a * Math.cos(u2), b * Math.sin(u3), b * Math.cos(u3)];
}

/** Seeded rotation and a translation of up to `reachMm` along each axis. */
export function seededMotion(seed: number, reachMm: number): RigidMotion {
  const random = randomStream(seed ^ 0x5bd1e995);
  const shift = (): number => random.between(-reachMm, reachMm);
  return { rotation: seededRotation(seed), translationMm: [shift(), shift(), shift()] };
}

/** Rotates a vector by a unit quaternion. */
export function rotateVector([w, x, y, z]: Quaternion, p: Vec3): Vec3 {
  const tx = 2 * (y * p[2] - z * p[1]);
  const ty = 2 * (z * p[0] - x * p[2]);
  const tz = 2 * (x * p[1] - y * p[0]);
  return [p[0] + w * tx + y * tz - z * ty, p[1] + w * ty + z * tx - x * tz, p[2] + w * tz + x * ty - y * tx];
}

/** The inverse rotation. */
export function inverseRotation([w, x, y, z]: Quaternion): Quaternion {
  return [w, -x, -y, -z];
}

/** Point after the motion, mm. */
export function movePoint(motion: RigidMotion, p: Vec3): Vec3 {
  return add(rotateVector(motion.rotation, p), motion.translationMm);
}

/** A moved copy of a mesh; the triangles are shared. */
export function moveMesh(motion: RigidMotion, mesh: TriangleMesh): TriangleMesh {
  const positions = new Float64Array(mesh.positions.length);
  for (let i = 0; i < positions.length; i += 3) {
    const p = movePoint(motion, [mesh.positions[i], mesh.positions[i + 1], mesh.positions[i + 2]]);
    positions.set(p, i);
  }
  return { positions, triangles: mesh.triangles };
}
