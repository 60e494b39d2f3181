import {
  add,
  cross,
  distance,
  dot,
  length,
  normalize,
  otherAxes,
  scale,
  subtract,
  type Vec3,
} from '../foundation/vector.js';
import type { VesselMeasure } from '../geometry/measure.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { WindingField } from '../mesh/winding-field.js';

/** A point of the wall and the unit normal that points out of the lumen; mm LPS. */
export interface WallPoint {
  at: Vec3;
  outward: Vec3;
}

/** A structure of the blood pool, mm, in the axes of its file. */
export interface BloodSurface {
  name: string;
  mesh: TriangleMesh;
}

/** Vessels with known far ends, beyond which the vessel continues in the scan. */
export type EndedVessel = Pick<VesselMeasure, 'centrelineMm' | 'calibreMm'>;

/** Number of points examined. */
const MOST_POINTS = 1000;
/** Distance outside a wall within which another structure makes it an internal wall of the blood pool, mm. */
const OUTSIDE_MM = 0.6;

/**
 * Points spread evenly over the walls of all structures, by area, the same for the same surfaces. Walls inside other structures and the
 * cut far ends of vessels are left out, since the scan shows no wall there.
 */
export function wallPoints(
  surfaces: readonly BloodSurface[],
  vessels: readonly EndedVessel[],
  isRas: boolean,
): WallPoint[] {
  const areas = surfaces.map(({ mesh }) => triangleAreas(mesh));
  const total = areas.reduce((sum, list) => sum + list.reduce((a, b) => a + b, 0), 0);
  if (!(total > 0)) return [];
  const fields = surfaces.map(({ mesh }) => (surfaces.length > 1 ? new WindingField(mesh) : undefined));
  const step = total / MOST_POINTS;
  const points: WallPoint[] = [];
  let due = step / 2;
  surfaces.forEach(({ mesh }, s) => {
    let passed = 0;
    let number = 0;
    areas[s].forEach((area, t) => {
      passed += area;
      while (due < passed) {
        due += step;
        const point = pointOf(mesh, t, number++);
        if (!point || isCutEnd(point, vessels) || isInsideOther(point, s, fields)) continue;
        points.push(isRas ? { at: otherAxes(point.at), outward: otherAxes(point.outward) } : point);
      }
    });
    due -= passed;
  });
  return points;
}

const corner = ({ positions, triangles }: TriangleMesh, i: number): Vec3 => {
  const v = 3 * triangles[i];
  return [positions[v], positions[v + 1], positions[v + 2]];
};

function triangleAreas(mesh: TriangleMesh): Float64Array {
  return Float64Array.from({ length: mesh.triangles.length / 3 }, (_, t) => {
    const a = corner(mesh, 3 * t);
    return length(cross(subtract(corner(mesh, 3 * t + 1), a), subtract(corner(mesh, 3 * t + 2), a))) / 2;
  });
}

/** A point within a triangle, spread by a sequence that does not repeat (R2 of the plastic number). */
function pointOf(mesh: TriangleMesh, t: number, number: number): WallPoint | undefined {
  const [a, b, c] = [0, 1, 2].map((k) => corner(mesh, 3 * t + k));
  const across = cross(subtract(b, a), subtract(c, a));
  if (!(length(across) > 0)) return undefined;
  let u = (0.5 + number * 0.7548776662466927) % 1;
  let v = (0.5 + number * 0.5698402909980532) % 1;
  if (u + v > 1) [u, v] = [1 - u, 1 - v];
  const at = add(add(scale(a, 1 - u - v), scale(b, u)), scale(c, v));
  return { at, outward: normalize(across) };
}

function isCutEnd({ at, outward }: WallPoint, vessels: readonly EndedVessel[]): boolean {
  return vessels.some(({ centrelineMm, calibreMm }) => {
    const [end, ...rest] = centrelineMm;
    const inwards = rest.find((p) => distance(p, end) > 0.5 * calibreMm.mean) ?? rest[rest.length - 1];
    if (!inwards || distance(at, end) > calibreMm.max) return false;
    return dot(outward, normalize(subtract(end, inwards))) > 0.5;
  });
}

function isInsideOther(
  { at, outward }: WallPoint,
  own: number,
  fields: readonly (WindingField | undefined)[],
): boolean {
  const outside = add(at, scale(outward, OUTSIDE_MM));
  return fields.some((field, s) => s !== own && field !== undefined && field.winding(outside) > 0);
}
