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
import {
  axisIntoSac,
  axisOfBranch,
  type LesionPlan,
  type Vessel,
  type VesselPlan,
  vesselsOf,
} from './lesion.js';
import { type CalibreProfile, calibreFunction } from './radius.js';
import { type RandomStream, randomStream } from './random.js';
import { seededRotation } from './rigid.js';
import { type SacShape, sacPoint } from './sac.js';
import { axisGapMm, sacEntryMm } from './truth.js';

/** Fixed properties of a random lesion; the others are drawn from the seed. */
export interface RandomLesionOptions {
  feeders?: number;
  drains?: number;
  /** Mean radius of the sac, mm. */
  sacRadiusMm?: number;
  /** Give feeders side branches. */
  branches?: boolean;
}

const LEAST_CALIBRE_MM = 1.5;
const LARGEST_CALIBRE_MM = 16;
const CLEARANCE_MM = 1.5;

const logBetween = (random: RandomStream, low: number, high: number): number =>
  low * Math.exp(random.next() * Math.log(high / low));

function randomDirection(random: RandomStream): Vec3 {
  const z = random.between(-1, 1);
  const angle = random.between(0, 2 * Math.PI);
  const flat = Math.sqrt(1 - z * z);
  return [flat * Math.cos(angle), flat * Math.sin(angle), z];
}

function randomProfile(random: RandomStream, calibreMm: number, lengthMm: number): CalibreProfile {
  const kind = random.next();
  if (kind < 0.55) return { kind: 'constant', calibreMm };
  if (kind < 0.8) return { kind: 'cone', fromMm: calibreMm * random.between(1, 1.25), toMm: calibreMm };
  if (kind < 0.9) {
    const narrowestMm = Math.max(1, calibreMm * random.between(0.6, 0.8));
    return {
      kind: 'stenosis',
      calibreMm,
      narrowestMm,
      atMm: lengthMm * 0.4,
      widthMm: Math.max(6, 1.5 * calibreMm),
    };
  }
  return { kind: 'funnel', calibreMm, mouthMm: calibreMm * random.between(1.1, 1.2), overMm: 8 };
}

/** A gently bent axis from `lengthMm` outside the sac to 1.5 mm inside its surface. */
function randomAxis(random: RandomStream, sac: SacShape, towards: Vec3, lengthMm: number): Vec3[] {
  const surface = sacPoint(sac, towards);
  const outwards = normalize(subtract(surface, sac.centreMm));
  const u = perpendicular(outwards);
  const turn = random.between(0, 2 * Math.PI);
  const side = add(scale(u, Math.cos(turn)), scale(cross(outwards, u), Math.sin(turn)));
  const bend = random.between(0, 0.5) * lengthMm;
  const at = (out: number, across: number): Vec3 =>
    add(surface, add(scale(outwards, out), scale(side, across)));
  const farther = [
    at(lengthMm * 0.95, bend),
    at(lengthMm * 0.7, bend * 0.5),
    at(lengthMm * 0.4, bend * 0.12),
  ];
  return axisIntoSac(sac, towards, farther, 1.5);
}

const vesselOf = (plan: VesselPlan): Vessel => {
  const axis = splineCurve(plan.axisMm);
  return { plan, axis, calibreAt: calibreFunction(plan.calibre, axis.lengthMm) };
};

function widest({ axis, calibreAt }: Vessel): number {
  let calibre = 0;
  for (let s = 0; s <= axis.lengthMm; s += 1) calibre = Math.max(calibre, calibreAt(s));
  return calibre;
}

/** Whether two vessels are clear of each other along their whole length. */
const isClear = (a: Vessel, b: Vessel): boolean =>
  axisGapMm(a, b, a.axis.lengthMm, b.axis.lengthMm) > (widest(a) + widest(b)) / 2 + CLEARANCE_MM;

function addBranches(random: RandomStream, lesion: LesionPlan): void {
  let number = 0;
  for (const parent of [...vesselsOf(lesion).values()].filter(({ plan }) => plan.role === 'feeder')) {
    if (random.next() < 0.5) continue;
    const neck = sacEntryMm(lesion, parent);
    if (neck === undefined) continue;
    const own = widest(parent);
    const before = random.between(Math.max(9, 1.6 * own), Math.max(12, 2.2 * own));
    const leavesAtMm = neck - before;
    if (leavesAtMm < own) continue;
    const calibreMm = Math.max(1.2, own * random.between(0.35, 0.65));
    for (let attempt = 0; attempt < 8; attempt++) {
      const [angle, turn] = [random.between(0.8, 1.3), random.between(0, 2 * Math.PI)];
      const branch = vesselOf({
        name: `B${number + 1}`,
        role: 'branch',
        axisMm: axisOfBranch(parent.axis, leavesAtMm, angle, turn, own / 2 + 12),
        calibre: { kind: 'constant', calibreMm },
        of: parent.plan.name,
        leavesAtMm,
      });
      const others = [...vesselsOf(lesion).values()].filter(({ plan }) => plan.name !== parent.plan.name);
      const reach = lesion.sac.semiAxesMm.reduce((most, axis) => Math.max(most, axis)) * 1.35 + calibreMm;
      const isOutside = branch.plan.axisMm.every((p) => distance(p, lesion.sac.centreMm) > reach);
      if (!isOutside || !others.every((other) => isClear(branch, other))) continue;
      lesion.vessels.push(branch.plan);
      number++;
      break;
    }
  }
}

/**
 * A lesion drawn from a seed: 1 to 6 feeders, 1 to 3 drains, calibres of 1.5 to 16 mm, a sac of 6 to 90 mm, gentle bends. Vessels are
 * clear of each other; if a drawn sac has no room for them it is enlarged.
 */
export function randomLesion(seed: number, options: RandomLesionOptions = {}): LesionPlan {
  const random = randomStream(seed);
  const feeders = options.feeders ?? random.whole(1, 6);
  const drains = options.drains ?? random.whole(1, 3);
  let radius = options.sacRadiusMm ?? logBetween(random, 3.5, 38);
  for (;;) {
    const stretch = (): number => radius * random.between(0.88, 1.12);
    const sac: SacShape = {
      centreMm: [random.between(-60, 60), random.between(-40, 40), random.between(-50, 50)],
      semiAxesMm: [stretch(), stretch(), stretch()],
      rotation: seededRotation(random.whole(1, 1e6)),
      lobes: Array.from({ length: random.whole(0, 2) }, () => ({
        direction: randomDirection(random),
        height: random.between(0.06, 0.16),
        sharpness: random.between(3, 6),
      })),
    };
    const lesion: LesionPlan = { name: `random-${seed}`, sac, vessels: [], neighbours: [], blendMm: 0.8 };
    const placed: Vessel[] = [];
    const most = Math.min(LARGEST_CALIBRE_MM, 0.75 * radius);
    for (let attempt = 0; attempt < 60 * (feeders + drains) && placed.length < feeders + drains; attempt++) {
      const isFeeder = placed.length < feeders;
      const calibreMm = logBetween(
        random,
        LEAST_CALIBRE_MM,
        Math.max(LEAST_CALIBRE_MM, isFeeder ? 0.75 * most : most),
      );
      const lengthMm = random.between(26, 48) + calibreMm;
      const vessel = vesselOf({
        name: isFeeder ? `A${placed.length + 1}` : `V${placed.length - feeders + 1}`,
        role: isFeeder ? 'feeder' : 'drain',
        axisMm: randomAxis(random, sac, randomDirection(random), lengthMm),
        calibre: randomProfile(random, calibreMm, lengthMm),
      });
      if (placed.every((other) => isClear(vessel, other))) placed.push(vessel);
    }
    lesion.vessels = placed.map(({ plan }) => plan);
    if (placed.length === feeders + drains) {
      if (options.branches !== false) addBranches(random, lesion);
      return lesion;
    }
    radius *= 1.25;
  }
}
