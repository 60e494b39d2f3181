import { Matrix, SingularValueDecomposition } from 'ml-matrix';
import { add, distance, length, subtract, type Vec3 } from '../../foundation/vector.js';

/** Rows of a 3x3 rotation matrix: determinant +1, never a reflection. */
export type Rotation = readonly [Vec3, Vec3, Vec3];

/** A rotation followed by a translation: x' = rotation·x + translationMm. */
export interface RigidPose {
  rotation: Rotation;
  translationMm: Vec3;
}

export const turned = (r: Rotation, [x, y, z]: Vec3): Vec3 => [
  r[0][0] * x + r[0][1] * y + r[0][2] * z,
  r[1][0] * x + r[1][1] * y + r[1][2] * z,
  r[2][0] * x + r[2][1] * y + r[2][2] * z,
];

/** The transformed point, mm. */
export const posed = (pose: RigidPose, point: Vec3): Vec3 =>
  add(turned(pose.rotation, point), pose.translationMm);

/** The inverse rotation. */
export const transposed = (r: Rotation): Rotation => [
  [r[0][0], r[1][0], r[2][0]],
  [r[0][1], r[1][1], r[2][1]],
  [r[0][2], r[1][2], r[2][2]],
];

/** The rotation `first` followed by the rotation `second`. */
export function chainedTurns(first: Rotation, second: Rotation): Rotation {
  const columns = transposed(first);
  const row = (r: Vec3): Vec3 => columns.map((c) => r[0] * c[0] + r[1] * c[1] + r[2] * c[2]) as Vec3;
  return [row(second[0]), row(second[1]), row(second[2])];
}

/** The inverse of a pose. */
export function inverted(pose: RigidPose): RigidPose {
  const rotation = transposed(pose.rotation);
  return { rotation, translationMm: turned(rotation, pose.translationMm).map((c) => -c) as Vec3 };
}

/** Angle of a rotation, degrees, 0 to 180: half the squared norm of R - 1 is 4·sin²(angle/2), also exact for small angles. */
export function turnDeg(r: Rotation): number {
  let squares = 0;
  for (let i = 0; i < 3; i++) for (let k = 0; k < 3; k++) squares += (r[i][k] - (i === k ? 1 : 0)) ** 2;
  return (2 * Math.asin(Math.min(1, Math.sqrt(squares / 8))) * 180) / Math.PI;
}

/** Rotation by a rotation vector (axis times angle, radians): Rodrigues's formula. */
export function turnOf(vector: Vec3): Rotation {
  const angle = length(vector);
  if (angle === 0)
    return [
      [1, 0, 0],
      [0, 1, 0],
      [0, 0, 1],
    ];
  const [x, y, z] = vector.map((c) => c / angle);
  const [s, c] = [Math.sin(angle), Math.cos(angle)];
  const k = 1 - c;
  return [
    [c + k * x * x, k * x * y - s * z, k * x * z + s * y],
    [k * x * y + s * z, c + k * y * y, k * y * z - s * x],
    [k * x * z - s * y, k * y * z + s * x, c + k * z * z],
  ];
}

/** Rotation of a unit quaternion [w, x, y, z]. */
export function turnOfQuaternion([w, x, y, z]: readonly [number, number, number, number]): Rotation {
  return [
    [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
    [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
    [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
  ];
}

/** Sums over pairs of points that determine the best pose of one set on the other. */
export interface PairSums {
  count: number;
  from: Vec3;
  to: Vec3;
  /** Sum of to_i·from_k. */
  products: [Vec3, Vec3, Vec3];
}

export const emptyPairSums = (): PairSums => ({
  count: 0,
  from: [0, 0, 0],
  to: [0, 0, 0],
  products: [
    [0, 0, 0],
    [0, 0, 0],
    [0, 0, 0],
  ],
});

/**
 * The rotation and translation that bring paired points together in the least-squares sense; never a reflection.
 *
 * Formula   H = Σ(to - mean)(from - mean)ᵀ = U·S·Vᵀ, R = U·diag(1, 1, det U·det V)·Vᵀ, t = mean(to) - R·mean(from)
 * Source    Kabsch, Acta Cryst A 1976;32:922; Horn, J Opt Soc Am A 1987;4:629 (both from memory)
 * Checked   tests/geometry/register/rigid-pose.test.ts
 */
export function closestPose({ count, from, to, products }: PairSums): RigidPose {
  const meanFrom = from.map((c) => c / count) as Vec3;
  const meanTo = to.map((c) => c / count) as Vec3;
  const covariance = products.map((row, i) => row.map((c, k) => c - count * meanTo[i] * meanFrom[k]));
  const svd = new SingularValueDecomposition(new Matrix(covariance));
  const u = svd.leftSingularVectors.to2DArray() as [Vec3, Vec3, Vec3];
  const v = svd.rightSingularVectors.to2DArray() as [Vec3, Vec3, Vec3];
  const sign = determinant(u) * determinant(v) < 0 ? -1 : 1;
  const weights = [1, 1, sign];
  const row = (i: number): Vec3 =>
    [0, 1, 2].map((k) => weights.reduce((sum, w, j) => sum + w * u[i][j] * v[k][j], 0)) as Vec3;
  const rotation: Rotation = [row(0), row(1), row(2)];
  return { rotation, translationMm: subtract(meanTo, turned(rotation, meanFrom)) };
}

const determinant = ([a, b, c]: Rotation): number =>
  a[0] * (b[1] * c[2] - b[2] * c[1]) -
  a[1] * (b[0] * c[2] - b[2] * c[0]) +
  a[2] * (b[0] * c[1] - b[1] * c[0]);

/**
 * Distance between the images of a point under two poses, root mean square over points at `radiusMm` from the centre in all directions.
 */
export function poseGapMm(a: RigidPose, b: RigidPose, radiusMm: number): number {
  // mean over directions of |(Ra - Rb)·p|² = r²·Σ(Ra - Rb)²/3
  const squares = a.rotation.reduce((sum, row, i) => sum + distance(row, b.rotation[i]) ** 2, 0);
  return Math.sqrt((radiusMm ** 2 * squares) / 3 + distance(a.translationMm, b.translationMm) ** 2);
}
