import { finding } from '../foundation/finding.js';
import type { Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { layNormal } from '../mesh/triangle-normal.js';
import { extentAlong, type PrinterAxes, printerAxes } from './build-space.js';
import { DIRECTIONS, directionWord } from './cut-plane.js';
import type { PrintJob } from './print-job.js';
import { isBeside, type PrintedPart } from './printed-part.js';

/** The placement of a body on the printer's bed: its axes there, and the translation after the rotation, mm. */
export interface Placement {
  part: PrintedPart;
  axes: PrinterAxes;
  moveMm: Vec3;
  /** The direction that points up, in words. */
  up: string;
  /** Flat area on the bed, mm². */
  footMm2: number;
  /** The case states which side is up. */
  isAsked: boolean;
  /** The flat foot is too small. */
  isOnPoint: boolean;
}

/** Flat area on the bed below which the first layer does not adhere, mm². Common practice, no source. */
const LEAST_FOOT_MM2 = 4;
/** Faces this close to the lowest point count as on the bed, mm. */
const BED_MM = 0.05;
/** Gap around each body on the bed, mm. */
const ROOM_MM = 10;

/**
 * Places all bodies on the bed, side by side, with positive coordinates. The case states which side is up (`print.build_up`); otherwise the
 * patient's superior side is up if the body then has a flat foot; otherwise the side that gives the largest foot is used.
 */
export function standOnBed(job: PrintJob, parts: readonly PrintedPart[]): Placement[] {
  let left = ROOM_MM;
  return parts.map((part) => {
    const asked = job.input.print.buildUp;
    const foot = (direction: (typeof DIRECTIONS)[number]): number =>
      footOf(part.mesh, printerAxes(job, direction).up);
    let direction = asked ?? 'superior';
    let footMm2 = foot(direction);
    if (asked === undefined && footMm2 < LEAST_FOOT_MM2)
      for (const other of DIRECTIONS) {
        const area = foot(other);
        if (area > footMm2 + 1e-6) [direction, footMm2] = [other, area];
      }
    const axes = printerAxes(job, direction);
    const [width, depth, up] = [axes.width, axes.depth, axes.up].map((axis) => extentAlong(part.mesh, axis));
    const moveMm: Vec3 = [left - width.min, ROOM_MM - depth.min, -up.min];
    left += width.max - width.min + ROOM_MM;
    const word = directionWord(direction, job.input.frame);
    const isOnPoint = footMm2 < LEAST_FOOT_MM2;
    if (isOnPoint)
      job.findings.push(
        finding(
          isBeside(part) ? 'note' : 'caution',
          'print-foot-small',
          part.name,
          `It stands on a point, with no flat foot on the bed: the first layer holds nothing. Print it on a raft or on supports that reach the bed${asked === undefined ? '' : ', or leave print.build_up out'}.`,
        ),
      );
    return { part, axes, moveMm, up: word, footMm2, isAsked: asked !== undefined, isOnPoint };
  });
}

/** Area of the faces on the bed, mm². */
function footOf(mesh: TriangleMesh, up: Vec3): number {
  const { positions: p, triangles } = mesh;
  const [ux, uy, uz] = up;
  const heights = new Float64Array(p.length / 3);
  let low = Number.POSITIVE_INFINITY;
  for (let v = 0; v < heights.length; v++) {
    const height = p[3 * v] * ux + p[3 * v + 1] * uy + p[3 * v + 2] * uz;
    heights[v] = height;
    if (height < low) low = height;
  }
  const highest = low + BED_MM;
  const normal = new Float64Array(3);
  let area = 0;
  for (let t = 0; t < triangles.length; t += 3) {
    if (heights[triangles[t]] > highest) continue;
    if (heights[triangles[t + 1]] > highest || heights[triangles[t + 2]] > highest) continue;
    layNormal(mesh, t / 3, normal);
    area += Math.max(0, -(normal[0] * ux + normal[1] * uy + normal[2] * uz)) / 2;
  }
  return area;
}
