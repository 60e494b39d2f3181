import { cube } from '../foundation/power.js';
import { add, cross, dot, perpendicular, scale, subtract, type Vec3 } from '../foundation/vector.js';
import type { Curve } from './curve.js';
import { closestOnCurve, tubeBody } from './field.js';
import { type LandingTruth, landingTruth, TRUTH_DEFINITIONS } from './landing-truth.js';
import { fuseLesion, type LesionPlan, type Vessel, type VesselPlan, vesselsOf } from './lesion.js';
import { sacField, sacReachMm, sacVolumeMm3 } from './sac.js';
import { sectionOf } from './section.js';

/** Where a branch leaves its parent; arc lengths on the parent from its far end, mm. */
export interface BranchTruth {
  name: string;
  atMm: number;
  /** Edges of the opening on the parent's wall: away from the sac, and towards it. */
  farEdgeMm: number;
  sacEdgeMm: number;
}

/** The truth of one vessel. */
interface VesselTruth {
  name: string;
  role: VesselPlan['role'];
  /** From the far end to the neck (a branch: to its parent's axis), mm. */
  lengthMm: number;
  /** Equivalent calibre at `s` mm from the far end. */
  calibreAt(s: number): number;
  neckAtMm?: number;
  neckPointMm?: Vec3;
  /** A branch: where its axis enters the wall of its parent, mm from its far end. */
  parentWallAtMm?: number;
  branches: BranchTruth[];
  /** Feeders only; absent if no stretch qualifies. */
  landing?: LandingTruth;
}

export interface LesionTruth {
  vessels: Record<string, VesselTruth>;
  sacVolumeMl: number;
}

/** First arc length of `axis` at which `field` becomes negative, mm; undefined if it never does. */
function firstInside(field: (p: Vec3) => number, axis: Curve): number | undefined {
  let before = 0;
  for (let s = 0; s <= axis.lengthMm; s += 0.05) {
    if (field(axis.pointAt(s)) < 0) {
      let [low, high] = [before, s];
      for (let i = 0; i < 50; i++) {
        const middle = (low + high) / 2;
        if (field(axis.pointAt(middle)) < 0) high = middle;
        else low = middle;
      }
      return high;
    }
    before = s;
  }
  return undefined;
}

/** First place, from the far end, where the axis enters the sac, mm; undefined if it never does. */
export function sacEntryMm(lesion: LesionPlan, { axis }: Vessel): number | undefined {
  return firstInside(sacField(lesion.sac), axis);
}

/** Where the axis of `branch` enters the wall of `parent`, mm from the branch's far end. */
export function parentWallMm(parent: Vessel, branch: Vessel): number | undefined {
  return firstInside(tubeBody(parent.axis, parent.calibreAt, 0).value, branch.axis);
}

/** The opening of `branch` on the wall of `parent`: where the parent's wall is inside the branch. */
export function branchOpening(parent: Vessel, branch: Vessel): BranchTruth {
  const atMm = branch.plan.leavesAtMm as number;
  const inside = tubeBody(branch.axis, branch.calibreAt, 0).value;
  const reach = 2 * branch.calibreAt(branch.axis.lengthMm) + 2 * parent.calibreAt(atMm);
  const [from, to] = [Math.max(0, atMm - reach), Math.min(parent.axis.lengthMm, atMm + reach)];
  let farEdgeMm = Number.POSITIVE_INFINITY;
  let sacEdgeMm = Number.NEGATIVE_INFINITY;
  for (let s = from; s <= to; s += 0.02) {
    const [point, tangent] = [parent.axis.pointAt(s), parent.axis.tangentAt(s)];
    const u = perpendicular(tangent);
    const v = cross(tangent, u);
    const radius = parent.calibreAt(s) / 2;
    for (let j = 0; j < 120; j++) {
      const angle = (2 * Math.PI * j) / 120;
      const wall = add(point, add(scale(u, radius * Math.cos(angle)), scale(v, radius * Math.sin(angle))));
      if (inside(wall) >= 0) continue;
      farEdgeMm = Math.min(farEdgeMm, s);
      sacEdgeMm = Math.max(sacEdgeMm, s);
      break;
    }
  }
  return { name: branch.plan.name, atMm, farEdgeMm, sacEdgeMm };
}

function branchesOf(vessels: Map<string, Vessel>, parent: Vessel): BranchTruth[] {
  return [...vessels.values()]
    .filter((vessel) => vessel.plan.of === parent.plan.name)
    .map((branch) => branchOpening(parent, branch))
    .sort((a, b) => a.atMm - b.atMm);
}

function vesselTruth(
  vessels: Map<string, Vessel>,
  vessel: Vessel,
  calibreAt: (s: number) => number,
  neckAtMm: number | undefined,
): VesselTruth {
  const { plan, axis } = vessel;
  const branches = branchesOf(vessels, vessel);
  const truth: VesselTruth = {
    name: plan.name,
    role: plan.role,
    lengthMm: neckAtMm ?? axis.lengthMm,
    calibreAt,
    branches,
  };
  const parent = plan.of === undefined ? undefined : vessels.get(plan.of);
  if (parent) truth.parentWallAtMm = parentWallMm(parent, vessel);
  if (neckAtMm === undefined) return truth;
  truth.neckAtMm = neckAtMm;
  truth.neckPointMm = axis.pointAt(neckAtMm);
  if (plan.role !== 'feeder') return truth;
  const landing = landingTruth(calibreAt, neckAtMm, branches.at(-1)?.sacEdgeMm);
  if (landing) truth.landing = landing;
  return truth;
}

/** Truth of the form with one mesh for each structure: the neck is where the axis meets the sac's surface. */
export function truthOfParts(lesion: LesionPlan): LesionTruth {
  const vessels = vesselsOf(lesion);
  const truths = [...vessels].map(([name, vessel]): [string, VesselTruth] => {
    const neck = vessel.plan.role === 'branch' ? undefined : sacEntryMm(lesion, vessel);
    return [name, vesselTruth(vessels, vessel, vessel.calibreAt, neck)];
  });
  return { vessels: Object.fromEntries(truths), sacVolumeMl: sacVolumeMm3(lesion.sac) / 1000 };
}

interface Neck {
  atMm: number;
  point: Vec3;
  direction: Vec3;
  reachMm: number;
}

const STATION_MM = 0.25;

/**
 * Calibre of the fused body along a vessel's axis: sections filled near the sac and near branches, the bare tube's calibre elsewhere
 * (vessels keep farther apart than the rounding of creases reaches, so nothing else touches the wall there).
 */
function fusedCalibre(
  field: (p: Vec3) => number,
  vessel: Vessel,
  branches: readonly BranchTruth[],
  entryMm: number,
): (s: number) => number {
  const known = new Map<number, number>();
  const { axis } = vessel;
  return (s) => {
    const own = vessel.calibreAt(Math.min(s, axis.lengthMm));
    // no section through the flat far end
    if (s < STATION_MM) return own;
    const isBare =
      s < entryMm - 2 * own - 2 &&
      branches.every(
        ({ farEdgeMm, sacEdgeMm }) => s < farEdgeMm - 2 * own - 2 || s > sacEdgeMm + 2 * own + 2,
      );
    if (isBare) return own;
    let calibre = known.get(s);
    if (calibre === undefined) {
      // twice the square of the calibre is well above the area that makes a neck
      calibre = sectionOf(field, axis.pointAt(s), axis.tangentAt(s), own / 32, 2 * own * own).equivalentMm;
      known.set(s, calibre);
    }
    return calibre;
  };
}

const median = (values: number[]): number => {
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
};

/** First place beyond which the calibre stays above 1.25 times the median of the vessel from its far end up to there. */
function fusedNeck(calibreAt: (s: number) => number, lastMm: number): number | undefined {
  const stations = Array.from({ length: Math.floor(lastMm / STATION_MM) }, (_, i) => (i + 1) * STATION_MM);
  const profile = stations.map(calibreAt);
  for (let i = 1; i < profile.length; i++) {
    const limit = TRUTH_DEFINITIONS.neckCalibreRatio * median(profile.slice(0, i));
    if (!profile.slice(i).every((calibre) => calibre > limit)) continue;
    let [low, high] = [stations[i - 1], stations[i]];
    for (let round = 0; round < 8; round++) {
      const middle = (low + high) / 2;
      if (calibreAt(middle) > limit) high = middle;
      else low = middle;
    }
    return high;
  }
  return undefined;
}

/**
 * Truth of the fused form, from the implicit body alone: necks by the calibre rule on filled sections, sac volume by counting the
 * points of a lattice that can be reached from the sac's centre without crossing a neck.
 */
export function truthOfWhole(lesion: LesionPlan, latticeAcross = 100): LesionTruth {
  const vessels = vesselsOf(lesion);
  const { field, beyondMm } = fuseLesion(lesion);
  const necks: Neck[] = [];
  const truths = [...vessels].map(([name, vessel]): [string, VesselTruth] => {
    if (vessel.plan.role === 'branch')
      return [name, vesselTruth(vessels, vessel, vessel.calibreAt, undefined)];
    const own = vessel.calibreAt(vessel.axis.lengthMm);
    const entry = sacEntryMm(lesion, vessel) ?? vessel.axis.lengthMm;
    const lastMm = Math.min(vessel.axis.lengthMm + (beyondMm.get(name) as number), entry + own + 2);
    const calibreAt = fusedCalibre(field, vessel, branchesOf(vessels, vessel), entry);
    const atMm = fusedNeck(calibreAt, lastMm);
    if (atMm !== undefined) {
      const [point, direction] = [vessel.axis.pointAt(atMm), vessel.axis.tangentAt(atMm)];
      const section = sectionOf(field, point, direction, own / 36, 100 * own * own);
      necks.push({ atMm, point, direction, reachMm: section.reachMm + own / 18 });
    }
    // the landing search needs a calibre every 0.05 mm; the filled sections are smooth at that scale
    const every = (s: number): number => {
      const low = Math.floor(s / STATION_MM) * STATION_MM;
      const share = (s - low) / STATION_MM;
      return calibreAt(low) * (1 - share) + calibreAt(low + STATION_MM) * share;
    };
    return [name, vesselTruth(vessels, vessel, every, atMm)];
  });
  return {
    vessels: Object.fromEntries(truths),
    sacVolumeMl: volumeBeyondNecks(lesion, field, necks, latticeAcross) / 1000,
  };
}

/**
 * Lattice points inside the field that can be reached from the sac's centre without crossing a neck's piece of plane, times the cell, mm3.
 */
function volumeBeyondNecks(
  lesion: LesionPlan,
  field: (p: Vec3) => number,
  necks: readonly Neck[],
  across: number,
): number {
  const h = (2 * sacReachMm(lesion.sac)) / across;
  const seen = new Set<number>();
  const keyOf = (i: number, j: number, k: number): number =>
    ((i + 1024) * 2048 + (j + 1024)) * 2048 + (k + 1024);
  const pointOf = (i: number, j: number, k: number): Vec3 => add(lesion.sac.centreMm, [i * h, j * h, k * h]);
  const isCut = (p: Vec3, q: Vec3): boolean =>
    necks.some(({ point, direction, reachMm }) => {
      const a = dot(subtract(p, point), direction);
      const b = dot(subtract(q, point), direction);
      if (a < 0 === b < 0) return false;
      const crossing = subtract(add(p, scale(subtract(q, p), a / (a - b))), point);
      return dot(crossing, crossing) < reachMm * reachMm;
    });
  const stack: [number, number, number][] = [[0, 0, 0]];
  seen.add(keyOf(0, 0, 0));
  let count = 0;
  for (let at = stack.pop(); at !== undefined; at = stack.pop()) {
    count++;
    const here = pointOf(...at);
    for (let axis = 0; axis < 3; axis++) {
      for (const step of [-1, 1]) {
        const next: [number, number, number] = [...at];
        next[axis] += step;
        const key = keyOf(...next);
        if (seen.has(key)) continue;
        const there = pointOf(...next);
        if (field(there) >= 0) {
          seen.add(key);
        } else if (!isCut(here, there)) {
          seen.add(key);
          stack.push(next);
        }
      }
    }
  }
  return count * cube(h);
}

/** Least distance between the axes of two vessels over the given stretches, mm; for arranging lesions. */
export function axisGapMm(a: Vessel, b: Vessel, untilA: number, untilB: number): number {
  const closest = closestOnCurve(b.axis, 0, untilB);
  let gap = Number.POSITIVE_INFINITY;
  for (let s = 0; s <= untilA; s += 0.5) gap = Math.min(gap, closest(a.axis.pointAt(s)).distanceMm);
  return gap;
}
