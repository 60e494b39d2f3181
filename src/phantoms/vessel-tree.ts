import {
  add,
  cross,
  distance,
  normalize,
  perpendicular,
  scale,
  subtract,
  type Vec3,
} from '../foundation/vector.js';
import { splineCurve } from './curve.js';
import { closestOnCurve } from './field.js';
import { axisOfBranch, type LesionPlan, type VesselPlan, vesselsOf } from './lesion.js';
import { type RandomStream, randomStream } from './random.js';
import { axisGapMm } from './truth.js';
import { fourthPower, power } from '../foundation/power.js';

/** Growth laws, r in mm. */
const LAW = {
  /** `r0^x = r1^x + r2^x`; human pulmonary arteries 2.92 +- 1.07, n = 16 (Am J Physiol Heart Circ Physiol 2020;319:H432). */
  exponent: 2.92,
  /** Segment length 12.4 r^1.1 mm (Olufsen 2012, from the arterial orders of Huang, J Appl Physiol 1996;81:2123). */
  lengthMm: (r: number): number => 12.4 * power(r, 1.1),
} as const;

/** Options of a tree. */
export interface TreeOptions {
  seed: number;
  /** Number of forks of the artery, and of the vein, on the way to the sac. */
  forks: number;
  /** Least gap between vessels that do not join, mm. */
  gapMm: number;
  /** Overlap of the walls of an artery and a vein running along it, mm; default: no such vein. */
  overlapMm?: number;
  /** Each side branch has a sub-branch, if there is room for it. */
  twigs?: boolean;
}

/** Angle between the parent's course and the daughter `r1`, radians (Murray, J Gen Physiol 1926;9:835). */
function angleOf(r0: number, r1: number, r2: number): number {
  return Math.acos(
    Math.min(1, (fourthPower(r0) + fourthPower(r1) - fourthPower(r2)) / (2 * r0 ** 2 * r1 ** 2)),
  );
}

/** The path from the hilum to the sac with a side branch at each fork; it starts at the origin along `direction`. */
interface Stem {
  points: Vec3[];
  radiiMm: number[];
  sides: { radiusMm: number; angle: number }[];
}

/** `direction` turned by `angle` about a seeded side. */
function turned(direction: Vec3, angle: number, random: RandomStream): Vec3 {
  const u = perpendicular(direction);
  const v = cross(direction, u);
  const turn = random.between(0, 2 * Math.PI);
  const side = add(scale(u, Math.cos(turn)), scale(v, Math.sin(turn)));
  return normalize(add(scale(direction, Math.cos(angle)), scale(side, Math.sin(angle))));
}

function stemOf(random: RandomStream, forks: number): Stem {
  const stem: Stem = { points: [[0, 0, 0]], radiiMm: [random.between(3.2, 4.6)], sides: [] };
  let d = normalize([random.between(-1, 1), random.between(-1, 1), random.between(-1, 1)]);
  for (let i = 0; ; i++) {
    const r0 = stem.radiiMm[i];
    const lengthMm = LAW.lengthMm(r0) * random.between(0.4, 0.7);
    const from = stem.points[stem.points.length - 1];
    // slightly bowed, as vessels are
    stem.points.push(add(from, scale(turned(d, 0.12, random), lengthMm / 2)), add(from, scale(d, lengthMm)));
    if (i === forks) return stem;
    const share = random.between(0.6, 0.85);
    const r1 = r0 * power(share, 1 / LAW.exponent);
    const r2 = r0 * power(1 - share, 1 / LAW.exponent);
    const own = angleOf(r0, r1, r2);
    stem.radiiMm.push(r1);
    stem.sides.push({ radiusMm: r2, angle: own + angleOf(r0, r2, r1) });
    d = turned(d, own, random);
  }
}

/** A stem moved so that it meets the sac (centred at the origin) head-on and continues into it. */
function placed(stem: Stem, sacMm: number): { stem: Stem; axisMm: Vec3[] } {
  const [before, last] = stem.points.slice(-2);
  const wall = scale(normalize(subtract(before, last)), 0.93 * sacMm);
  return { stem, axisMm: [...stem.points.map((p) => add(p, subtract(wall, last))), scale(wall, 0.8)] };
}

function areApart(a: { axisMm: Vec3[] }, b: { axisMm: Vec3[] }, sacMm: number, gapMm: number): boolean {
  const least = 2 * 4.6 + gapMm;
  const far = (p: Vec3): boolean => distance(p, [0, 0, 0]) > 0.9 * sacMm;
  const [p, q] = [a, b].map(({ axisMm }) => {
    const axis = splineCurve(axisMm);
    return Array.from({ length: Math.ceil(axis.lengthMm) }, (_, i) => axis.pointAt(i)).filter(far);
  });
  // and neither turns back into the sac
  const isClear = [p, q].every((points) =>
    points.slice(0, -Math.ceil(sacMm)).every((x) => distance(x, [0, 0, 0]) > sacMm + 5),
  );
  return isClear && p.every((x) => q.every((y) => distance(x, y) > least));
}

/**
 * A lesion at the ends of an arterial and a venous tree, from a seed. The stems are `A1` (feeder) and `V1` (drain), from the
 * hilum to the sac, thinner past each fork; side branches leave them by the growth laws; those that would come closer than `gapMm` to
 * another vessel are rotated about their parent or left out. With `twigs`, the side branches fork once more. With `overlapMm`, a vein
 * `V2` runs along the artery and
 * is fused with it.
 */
export function treeLesion({ seed, forks, gapMm, overlapMm, twigs = false }: TreeOptions): LesionPlan {
  const random = randomStream(seed);
  const sacMm = random.between(8, 13);
  const artery = placed(stemOf(random, forks), sacMm);
  let vein = artery;
  for (let attempt = 0; attempt < 200 && !areApart(artery, vein, sacMm, gapMm); attempt++)
    vein = placed(stemOf(random, forks), sacMm);
  if (!areApart(artery, vein, sacMm, gapMm)) throw new RangeError(`seed ${seed}: no room for a vein`);
  const vessels: VesselPlan[] = [];
  const sides: { of: string; leavesAtMm: number; radiusMm: number; angle: number }[] = [];
  for (const [name, role, { axisMm, stem }] of [
    ['A1', 'feeder', artery],
    ['V1', 'drain', vein],
  ] as const) {
    const axis = splineCurve(axisMm);
    const along = closestOnCurve(axis, 0, axis.lengthMm);
    const atMm = stem.sides.map((_, i) => along(axisMm[2 * i + 2]).s);
    const calibresMm = stem.radiiMm.map((r) => 2 * r);
    vessels.push({ name, role, axisMm, calibre: { kind: 'steps', calibresMm, atMm, overMm: calibresMm[0] } });
    stem.sides.forEach((side, i) => {
      sides.push({ of: name, leavesAtMm: atMm[i], ...side });
    });
  }
  const plan: LesionPlan = {
    name: `tree ${seed}`,
    sac: { centreMm: [0, 0, 0], semiAxesMm: [sacMm, sacMm * random.between(0.85, 1), sacMm] },
    vessels,
    neighbours: [],
    blendMm: 0.6,
  };
  sides.forEach((side, i) => {
    growBranch(plan, `B${i + 1}`, side, gapMm, random);
  });
  if (twigs)
    for (const parent of vessels.filter(({ role }) => role === 'branch')) {
      const r0 = vesselsOf(plan).get(parent.name)!.calibreAt(0) / 2;
      const share = random.between(0.6, 0.8);
      const [r1, r2] = [share, 1 - share].map((part) => r0 * power(part, 1 / LAW.exponent));
      const leavesAtMm = splineCurve(parent.axisMm).lengthMm * random.between(0.35, 0.5);
      const angle = angleOf(r0, r1, r2) + angleOf(r0, r2, r1);
      growBranch(
        plan,
        `${parent.name}a`,
        { of: parent.name, leavesAtMm, radiusMm: r2, angle },
        gapMm,
        random,
      );
    }
  if (overlapMm !== undefined) vessels.push(veinAlong(plan, overlapMm, random));
  return plan;
}

/** Adds a branch by the growth laws; one that would come too close to another vessel is rotated about its parent, or left out. */
function growBranch(
  plan: LesionPlan,
  name: string,
  { of, leavesAtMm, radiusMm, angle }: { of: string; leavesAtMm: number; radiusMm: number; angle: number },
  gapMm: number,
  random: RandomStream,
): void {
  const lengthMm = LAW.lengthMm(radiusMm) * random.between(0.6, 1);
  const parent = vesselsOf(plan).get(of)!;
  for (let attempt = 0; attempt < 12; attempt++) {
    const branch: VesselPlan = {
      name,
      role: 'branch',
      axisMm: axisOfBranch(parent.axis, leavesAtMm, angle, random.between(0, 2 * Math.PI), lengthMm),
      calibre: { kind: 'constant', calibreMm: 2 * radiusMm },
      of,
      leavesAtMm,
    };
    if (!isFree(plan, branch, gapMm)) continue;
    plan.vessels.push(branch);
    return;
  }
}

/** Whether a branch is clear of the sac and of all vessels, and of its parent past the fork. */
function isFree(plan: LesionPlan, branch: VesselPlan, gapMm: number): boolean {
  const all = vesselsOf({ ...plan, vessels: [...plan.vessels, branch] });
  const own = all.get(branch.name)!;
  const radius = own.calibreAt(0) / 2;
  const reach = Math.max(...plan.sac.semiAxesMm) + radius + gapMm;
  if (branch.axisMm.some((p) => distance(p, plan.sac.centreMm) < reach)) return false;
  for (const [name, other] of all) {
    if (name === branch.name) continue;
    const widest = other.calibreAt(0) / 2;
    // near the fork it touches its parent
    const until = name === branch.of ? own.axis.lengthMm - 2.2 * widest - 2 * radius : own.axis.lengthMm;
    if (until <= 0) return false;
    if (axisGapMm(own, other, until, other.axis.lengthMm) < widest + radius + gapMm) return false;
  }
  return true;
}

/** A vein next to the artery's middle third, fused with it along some millimetres; it joins no other vessel. */
function veinAlong(plan: LesionPlan, overlapMm: number, random: RandomStream): VesselPlan {
  const { axis, calibreAt } = vesselsOf(plan).get('A1')!;
  const at = axis.lengthMm * random.between(0.35, 0.55);
  const along = axis.tangentAt(at);
  const side = turned(along, Math.PI / 2, random);
  const calibreMm = random.between(3.5, 5);
  const off = (calibreAt(at) + calibreMm) / 2 - overlapMm;
  const place = (far: number, aside: number): Vec3 =>
    add(axis.pointAt(at), add(scale(along, far), scale(side, aside)));
  return {
    name: 'V2',
    role: 'branch',
    axisMm: [place(-18, off + 9), place(-7, off + 1), place(0, off), place(7, off + 1), place(18, off + 9)],
    calibre: { kind: 'constant', calibreMm },
    of: 'A1',
    leavesAtMm: at,
  };
}
