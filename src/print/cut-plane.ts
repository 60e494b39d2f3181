import type { Manifold } from 'manifold-3d/manifold';
import type { PatientDirection } from '../case/case.js';
import { finding } from '../foundation/finding.js';
import { dot, normalize, perpendicular, scale, subtract, type Vec3 } from '../foundation/vector.js';
import { Polyline } from '../geometry/polyline.js';
import { pointToPrint } from './hollow.js';
import type { PrintJob } from './print-job.js';
import { place } from './repair-part.js';
import type { Frame } from './tag.js';

/** The plane of a cut, print coordinates. */
export interface CutPlane {
  point: Vec3;
  /** Unit vector into half A. */
  normal: Vec3;
  /** Descriptions of half A and half B. */
  sides: [string, string];
  /** A cut at a neck separates only this vessel, not everything beyond the plane. */
  vessel?: string;
}

const LPS: Record<PatientDirection, Vec3> = {
  left: [1, 0, 0],
  right: [-1, 0, 0],
  posterior: [0, 1, 0],
  anterior: [0, -1, 0],
  superior: [0, 0, 1],
  inferior: [0, 0, -1],
};

const OPPOSITE: Record<PatientDirection, PatientDirection> = {
  left: 'right',
  right: 'left',
  posterior: 'anterior',
  anterior: 'posterior',
  superior: 'inferior',
  inferior: 'superior',
};

/** All six, the usual side up first. */
export const DIRECTIONS: readonly PatientDirection[] = [
  'superior',
  'inferior',
  'left',
  'right',
  'anterior',
  'posterior',
];

/** A patient direction in the axes of the surfaces; unknown axes are treated as LPS. */
export function directionOf(direction: PatientDirection, frame: Frame): Vec3 {
  const [x, y, z] = LPS[direction];
  return frame === 'RAS' ? [-x || 0, -y || 0, z] : [x, y, z];
}

/** The direction in words; for unknown axes, the axis of the surfaces: `+z`. */
export function directionWord(direction: PatientDirection, frame: Frame): string {
  if (frame !== 'unknown') return direction;
  const axis = LPS[direction].findIndex((c) => c !== 0);
  return `${LPS[direction][axis] > 0 ? '+' : '-'}${'xyz'[axis]}`;
}

/**
 * The plane requested in the case; undefined if there is none or, with a finding, if it is not possible. `outside` is the model: a cut at
 * a neck is moved along the vessel, away from the sac, until its section contains only the vessel.
 */
export function cutPlane(job: PrintJob, outside: Manifold): CutPlane | undefined {
  const { cut } = job.input.print;
  if (!cut) return undefined;
  if (cut.by === 'plane') {
    return {
      point: pointToPrint(cut.pointMm, job.originMm, job.scale),
      normal: normalize(cut.normal),
      sides: ['on the side of the normal', 'on the other side'],
    };
  }
  if (cut.by === 'axis') {
    const normal = directionOf(cut.axis, job.input.frame);
    return {
      point: pointToPrint(scale(normal, cut.atMm), job.originMm, job.scale),
      normal,
      sides: [`towards ${cut.axis}`, `towards ${OPPOSITE[cut.axis]}`],
    };
  }
  return neckPlane(job, outside, cut.vessel);
}

/** Steps away from the neck, in calibres. */
const STEPS = [0, 0.25, 0.5, 0.75, 1, 1.5];
/** A section up to this multiple of the calibre at the neck is that of the vessel; the sac's is larger. Definition of this tool. */
const OWN_SECTION = 1.3;

function neckPlane(job: PrintJob, outside: Manifold, name: string): CutPlane | undefined {
  const vessel = job.lesion.vessels.find((v) => v.name === name);
  const neck = vessel?.neck;
  if (!vessel || !neck || vessel.centrelineMm.length < 2) {
    job.findings.push(
      finding(
        'caution',
        'print-cut-absent',
        name,
        `The model was not cut: the neck of ${name} was not found. Cut by point and normal.`,
      ),
    );
    return undefined;
  }
  const line = new Polyline(vessel.centrelineMm);
  const calibre = neck.calibreMm + 2 * job.wallMm;
  for (const step of STEPS) {
    const at = neck.atMm - step * calibre;
    if (at < calibre) break;
    const plane: CutPlane = {
      point: line.pointAt(at),
      normal: line.directionAt(at, Math.max(1, calibre / 2)),
      sides: ['the sac and the rest', name],
      vessel: name,
    };
    const section = sectionAbout(job, outside, plane);
    if (section !== undefined && section <= OWN_SECTION * calibre) return plane;
  }
  job.findings.push(
    finding(
      'caution',
      'print-cut-absent',
      name,
      `The model was not cut: within one and a half calibres of its neck at ${place(neck.pointMm)} of the print no section is that of ${name} alone. Cut by point and normal.`,
    ),
  );
  return undefined;
}

/** Diameter of the circle with the area of the section's region around the plane's point, mm. */
function sectionAbout(job: PrintJob, outside: Manifold, plane: CutPlane): number | undefined {
  const islands = inPlane(job, outside, plane).slice(0).decompose();
  const own = islands.find((island) => island.toPolygons().some((outline) => isInside(outline, 0, 0)));
  const area = own?.area();
  for (const island of islands) island.delete();
  return area === undefined ? undefined : 2 * Math.sqrt(area / Math.PI);
}

/** Whether a point is inside one closed outline, by ray crossings. */
export function isInside(outline: readonly (readonly [number, number])[], x: number, y: number): boolean {
  let inside = false;
  for (let i = 0, j = outline.length - 1; i < outline.length; j = i++) {
    const [ax, ay] = outline[i];
    const [bx, by] = outline[j];
    if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) inside = !inside;
  }
  return inside;
}

/** Axes of the plane: two in it and its normal, right-handed. */
export function planeAxes({ normal }: Pick<CutPlane, 'normal'>): { u: Vec3; v: Vec3; n: Vec3 } {
  const u = perpendicular(normal);
  const v: Vec3 = [
    normal[1] * u[2] - normal[2] * u[1],
    normal[2] * u[0] - normal[0] * u[2],
    normal[0] * u[1] - normal[1] * u[0],
  ];
  return { u, v, n: normal };
}

/** The solid transformed so that the plane is z = 0 with half A above it. */
export function inPlane(job: PrintJob, solid: Manifold, plane: CutPlane): Manifold {
  const { u, v, n } = planeAxes(plane);
  const p = plane.point;
  return job.workshop.keep(
    solid.transform([
      u[0],
      v[0],
      n[0],
      0,
      u[1],
      v[1],
      n[1],
      0,
      u[2],
      v[2],
      n[2],
      0,
      -dot(u, p),
      -dot(v, p),
      -dot(n, p),
      1,
    ]),
  );
}

/** Distance of a point from the plane, mm; above 0 in half A. */
export const heightAbove = (plane: CutPlane, p: Vec3): number => dot(subtract(p, plane.point), plane.normal);
