import {
  add,
  cross,
  dot,
  normalize,
  perpendicular,
  scale,
  subtract,
  type Vec3,
} from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { type Curve, splineCurve } from './curve.js';
import { type Rim, type Septum, sacBody, tubeBody, unionOf } from './field.js';
import { CELLS_PAST_RIM } from './flat-end.js';
import { polygonise } from './implicit.js';
import { type CalibreProfile, calibreFunction } from './radius.js';
import { type SacShape, sacField, sacMesh, sacPoint } from './sac.js';
import { roundTube, sweptTube } from './tube.js';

/** One vessel of a described lesion. Its axis runs from the far end towards the sac (a branch: towards its parent's axis). */
export interface VesselPlan {
  name: string;
  role: 'feeder' | 'systemic-feeder' | 'drain' | 'branch';
  /** The axis is the natural cubic spline through these points, mm. */
  axisMm: Vec3[];
  calibre: CalibreProfile;
  /** A branch: its parent, and where on the parent's axis it leaves, mm from the parent's far end. */
  of?: string;
  leavesAtMm?: number;
}

/** A structure next to the lesion, for distances: a tube or a rounded body. */
type NeighbourPlan =
  | { name: string; role: 'airway' | 'heart' | 'chest-wall'; axisMm: Vec3[]; calibre: CalibreProfile }
  | { name: string; role: 'airway' | 'heart' | 'chest-wall'; body: SacShape };

/** A lesion as plain data, from which everything else is derived. */
export interface LesionPlan {
  name: string;
  sac: SacShape;
  /** Thin walls across the sac; only the fused surface has them. */
  septa?: Septum[];
  vessels: VesselPlan[];
  neighbours: NeighbourPlan[];
  /** Rounding of the creases where the fused surface's bodies meet, mm. */
  blendMm: number;
}

/** A vessel with its prepared curve and calibre. */
export interface Vessel {
  plan: VesselPlan;
  axis: Curve;
  calibreAt(s: number): number;
}

/** The vessels of a lesion by name. */
export function vesselsOf(lesion: LesionPlan): Map<string, Vessel> {
  return new Map(
    lesion.vessels.map((plan) => {
      const axis = splineCurve(plan.axisMm);
      return [plan.name, { plan, axis, calibreAt: calibreFunction(plan.calibre, axis.lengthMm) }];
    }),
  );
}

/**
 * Axis of a vessel that meets the sac head-on: it comes along `towards` (a direction from the sac's centre, body axes of the sac)
 * and ends `pastMm` inside the surface. `farther` are points further out, the farthest first, mm.
 */
export function axisIntoSac(sac: SacShape, towards: Vec3, farther: readonly Vec3[], pastMm: number): Vec3[] {
  const surface = sacPoint(sac, normalize(towards));
  const outwards = normalize(subtract(surface, sac.centreMm));
  const straight = [8, 0, -pastMm].map((far) => add(surface, scale(outwards, far)));
  return [...farther, ...straight];
}

/**
 * Axis of a branch that leaves `parent` at arc length `leavesAtMm` by `angle` radians away from the parent's course to the sac, turned
 * about it by `turn`, bending a little further away; ends on the parent's axis.
 */
export function axisOfBranch(
  parent: Curve,
  leavesAtMm: number,
  angle: number,
  turn: number,
  lengthMm: number,
): Vec3[] {
  const origin = parent.pointAt(leavesAtMm);
  const along = parent.tangentAt(leavesAtMm);
  const u = perpendicular(along);
  const v = cross(along, u);
  const side = add(scale(u, Math.cos(turn)), scale(v, Math.sin(turn)));
  const at = (far: number, a: number): Vec3 =>
    add(origin, add(scale(along, far * Math.cos(a)), scale(side, far * Math.sin(a))));
  return [at(lengthMm, angle * 1.12), at(lengthMm * 0.6, angle * 1.04), at(lengthMm * 0.3, angle), origin];
}

/** Resolution of the part meshes. */
export interface PartResolution {
  around: number;
  stepMm: number;
  /** Subdivision of the sac's icosahedron: 20·f^2 triangles. */
  sacFrequency: number;
}

const PART_RESOLUTION: PartResolution = { around: 32, stepMm: 1, sacFrequency: 16 };

/** One structure's own surface. */
export interface PartMesh {
  name: string;
  role: VesselPlan['role'] | 'sac' | 'airway' | 'heart' | 'chest-wall';
  of?: string;
  mesh: TriangleMesh;
}

/**
 * One closed mesh for each structure. Vessels end flat, feeders and drains inside the sac, branches on the axis of their parent; their
 * polygons have the area of the smooth section.
 */
export function partMeshes(lesion: LesionPlan, resolution: PartResolution = PART_RESOLUTION): PartMesh[] {
  const { around, stepMm, sacFrequency } = resolution;
  const options = { around, stepMm, areaTrue: true };
  const parts: PartMesh[] = [];
  for (const { plan, axis, calibreAt } of vesselsOf(lesion).values()) {
    const part: PartMesh = {
      name: plan.name,
      role: plan.role,
      mesh: sweptTube(roundTube(axis, calibreAt), options),
    };
    parts.push(plan.of === undefined ? part : { ...part, of: plan.of });
  }
  parts.push({ name: 'sac', role: 'sac', mesh: sacMesh(lesion.sac, sacFrequency) });
  for (const plan of lesion.neighbours) {
    if ('body' in plan) {
      parts.push({ name: plan.name, role: plan.role, mesh: sacMesh(plan.body, Math.ceil(sacFrequency / 2)) });
    } else {
      const axis = splineCurve(plan.axisMm);
      const tube = roundTube(axis, calibreFunction(plan.calibre, axis.lengthMm));
      parts.push({ name: plan.name, role: plan.role, mesh: sweptTube(tube, options) });
    }
  }
  return parts;
}

/** The fused lesion as one implicit body. */
export interface FusedLesion {
  field(p: Vec3): number;
  /** The same, with vessels extended past their rims, mm. */
  fieldPast(mm: number): (p: Vec3) => number;
  rims: Rim[];
  /** How far each feeder's or drain's axis continues inside the sac, mm past the end of its described axis. */
  beyondMm: Map<string, number>;
  /** Points on or near every piece of the surface. */
  seeds: Vec3[];
}

/** How far a vessel's axis can continue straight inside the sac before it is closest to its centre, mm. */
function depthInSac(sac: SacShape, axis: Curve): number {
  const field = sacField(sac);
  const end = axis.pointAt(axis.lengthMm);
  const depth = dot(subtract(sac.centreMm, end), axis.tangentAt(axis.lengthMm));
  return field(end) < 0 ? Math.max(0, depth) : 0;
}

/** Implicit body of the whole blood pool: the sac and every vessel, creases rounded by `blendMm`. */
export function fuseLesion(lesion: LesionPlan): FusedLesion {
  // the sac first: it is the cheapest to query, and most queries are near it
  const sac = sacBody(lesion.sac, lesion.septa);
  const tubes: ReturnType<typeof tubeBody>[] = [];
  const rims: Rim[] = [];
  const beyondMm = new Map<string, number>();
  const seeds: Vec3[] = [sacPoint(lesion.sac, [0, 0, 1]), sacPoint(lesion.sac, [0, 0, -1])];
  for (const { plan, axis, calibreAt } of vesselsOf(lesion).values()) {
    const beyond = plan.role === 'branch' ? 0 : depthInSac(lesion.sac, axis);
    beyondMm.set(plan.name, beyond);
    const body = tubeBody(axis, calibreAt, plan.role === 'branch' ? 0 : Math.min(beyond, 1));
    tubes.push(body);
    rims.push(body.rim);
    seeds.push(add(body.rim.centre, scale(perpendicular(body.rim.inwards), body.rim.radiusMm)));
  }
  const fieldPast = (mm: number): ((p: Vec3) => number) =>
    unionOf([sac, ...tubes.map((tube) => tube.past(mm))], lesion.blendMm);
  return { field: fieldPast(0), fieldPast, rims, beyondMm, seeds };
}

/** One surface of the whole blood pool and the points that name its ends. */
export interface WholeMesh {
  mesh: TriangleMesh;
  ends: { name: string; role: VesselPlan['role']; of?: string; at: Vec3 }[];
  sac: Vec3;
}

/** Distance of each end point on the vessel's axis from the vessel's far end. */
const LABEL_DEPTH_MM = 1.5;

/**
 * Mesh of the fused lesion, cells of `cellMm`; far ends flat and closed, or open.
 * @throws RangeError if a vessel is thinner than 2.5 cells at its far end and thus not resolved
 */
export function wholeMesh(lesion: LesionPlan, cellMm: number, openEnds = false): WholeMesh {
  const { fieldPast, rims, seeds } = fuseLesion(lesion);
  const ends = [...vesselsOf(lesion).values()].map(({ plan, axis, calibreAt }) => {
    if (calibreAt(0) < 2.5 * cellMm) {
      throw new RangeError(
        `${plan.name}: a calibre of ${calibreAt(0)} mm needs cells smaller than ${cellMm} mm`,
      );
    }
    const end = { name: plan.name, role: plan.role, at: axis.pointAt(LABEL_DEPTH_MM) };
    return plan.of === undefined ? end : { ...end, of: plan.of };
  });
  return {
    mesh: polygonise(fieldPast(CELLS_PAST_RIM * cellMm), { cellMm, seeds, rims, openEnds, relaxations: 2 }),
    ends,
    sac: lesion.sac.centreMm,
  };
}
