import { subtract, type Vec3 } from '../../foundation/vector.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import type { Surface } from '../surface.js';
import { inverted, posed, type RigidPose } from './rigid-pose.js';
import { type DistanceStatistics, distanceStatistics, signedDistanceTo } from './surface-distance.js';
import { sampleSurface } from './surface-samples.js';

const SAMPLES = 8000;
/** Greatest number of vertices also used for the largest distance. */
const VERTICES = 8000;

/** Points that each represent the same area, with signed distances, mm. */
export interface SignedPoints {
  /** 3 numbers per point, mm, in the coordinates of the fixed surface. */
  points: Float64Array;
  signedMm: Float64Array;
}

export interface DistancesBothWays {
  /** From the moving surface to the fixed one; positive if the moving one is outside. */
  movingToFixed: DistanceStatistics;
  /** From the fixed surface to the moving one; positive if the moving one is outside. */
  fixedToMoving: DistanceStatistics;
  /** Over all points used, in both directions, mm. */
  hausdorffMm: number;
  fixedPoints: SignedPoints;
  movingPoints: SignedPoints;
}

/** A mesh, and the same as a surface for queries. */
export interface AskedMesh {
  mesh: TriangleMesh;
  surface: Surface;
}

/** Distances of a moving surface under a pose from a fixed one, and back, from a bounded number of points. Both must have area. */
export function distancesBothWays(fixed: AskedMesh, moving: AskedMesh, pose: RigidPose): DistancesBothWays {
  const back = inverted(pose);
  const there = signedFrom(moving.mesh, (p) => distanceTo(fixed.surface, posed(pose, p)));
  // a point of the fixed surface is inside a moving surface that is outside the fixed one
  const here = signedFrom(fixed.mesh, (p) => -distanceTo(moving.surface, posed(back, p)));
  const placed = there.points.slice();
  for (let i = 0; i < placed.length; i += 3) placed.set(posed(pose, pointAt(there.points, i)), i);
  const movingToFixed = distanceStatistics(there.signedMm, there.ofVertices);
  const fixedToMoving = distanceStatistics(here.signedMm, here.ofVertices);
  return {
    movingToFixed,
    fixedToMoving,
    hausdorffMm: Math.max(movingToFixed.largestMm, fixedToMoving.largestMm),
    fixedPoints: { points: here.points, signedMm: here.signedMm },
    movingPoints: { points: placed, signedMm: there.signedMm },
  };
}

const pointAt = (points: Float64Array, i: number): Vec3 => [points[i], points[i + 1], points[i + 2]];

const distanceTo = (surface: Surface, p: Vec3): number =>
  signedDistanceTo(surface, subtract(p, surface.originMm));

/** Signed distances from samples and some vertices of a mesh, all in the coordinates of its file. */
function signedFrom(
  mesh: TriangleMesh,
  distanceOf: (p: Vec3) => number,
): SignedPoints & { ofVertices: number[] } {
  const samples = sampleSurface(mesh, SAMPLES)!;
  const points = samples.points.map((c, i) => c + samples.centreMm[i % 3]);
  const signedMm = Float64Array.from({ length: samples.count }, (_, i) => distanceOf(pointAt(points, 3 * i)));
  const corners = mesh.triangles.length;
  const step = Math.max(1, Math.floor(corners / VERTICES));
  const ofVertices: number[] = [];
  for (let c = 0; c < corners; c += step)
    ofVertices.push(distanceOf(pointAt(mesh.positions, 3 * mesh.triangles[c])));
  return { points, signedMm, ofVertices };
}
