import { add, normalize, scale, type Vec3 } from '../../src/foundation/vector.js';
import {
  axisIntoSac,
  axisOfBranch,
  type LesionPlan,
  type VesselPlan,
  vesselsOf,
} from '../../src/phantoms/lesion.js';
import type { CalibreProfile } from '../../src/phantoms/radius.js';
import type { SacShape } from '../../src/phantoms/sac.js';
import { sacEntryMm } from '../../src/phantoms/truth.js';

/** How far every axis continues past the sac's surface, mm. */
const PAST_SURFACE_MM = 1.5;

const constant = (calibreMm: number): CalibreProfile => ({ kind: 'constant', calibreMm });

/** A vessel straight out of the centre of a sac at the origin, up to `farMm` from there. */
function straight(sac: SacShape, name: string, calibreMm: number, towards: Vec3, farMm: number): VesselPlan {
  const out = normalize(towards);
  const farther = [farMm, (farMm + sac.semiAxesMm[0] + 8) / 2].map((far) => scale(out, far));
  return {
    name,
    role: name.startsWith('A') ? 'feeder' : 'drain',
    axisMm: axisIntoSac(sac, towards, farther, PAST_SURFACE_MM),
    calibre: constant(calibreMm),
  };
}

const ball = (radiusMm: number): SacShape => ({
  centreMm: [0, 0, 0],
  semiAxesMm: [radiusMm, radiusMm, radiusMm],
});

const lesion = (
  name: string,
  sac: SacShape,
  vessels: VesselPlan[],
  more: Partial<LesionPlan> = {},
): LesionPlan => ({
  name,
  sac,
  vessels,
  neighbours: [],
  blendMm: 0.8,
  ...more,
});

/** Adds a branch whose axis leaves its feeder this far before the sac's surface. */
function addBranch(
  plan: LesionPlan,
  {
    name,
    of,
    calibreMm,
    beforeSacMm,
    turn,
  }: { name: string; of: string; calibreMm: number; beforeSacMm: number; turn: number },
): void {
  const parent = vesselsOf(plan).get(of)!;
  const leavesAtMm = sacEntryMm(plan, parent)! - beforeSacMm;
  plan.vessels.push({
    name,
    role: 'branch',
    axisMm: axisOfBranch(parent.axis, leavesAtMm, Math.PI / 2, turn, 18),
    calibre: constant(calibreMm),
    of,
    leavesAtMm,
  });
}

/** Two feeders that run 0.6 mm apart over their whole length, both curved the same way. */
function sideBySide(): LesionPlan {
  const sac = ball(10);
  const course = (z: number): Vec3[] => [
    [-46, 6, z],
    [-38, 1, z],
    [-30, -2, z],
    [-22, 0, z],
    [-14, 0, z],
    [-8, 0, z],
  ];
  const feeder = (name: string, calibreMm: number, z: number): VesselPlan => ({
    name,
    role: 'feeder',
    axisMm: course(z),
    calibre: constant(calibreMm),
  });
  const vessels = [feeder('A1', 4, 2.4), feeder('A2', 5, -2.7), straight(sac, 'V1', 6, [1, 0.2, 0], 38)];
  return lesion('two feeders 0.6 mm apart', sac, vessels, { blendMm: 0.5 });
}

/** A feeder with a full loop 14 mm across, and a drain that bends by 100 degrees over less than its own calibre. */
function loopAndBend(): LesionPlan {
  const sac = ball(9);
  const turn = Array.from({ length: 17 }, (_, i): Vec3 => {
    const a = (2 * Math.PI * i) / 16;
    return [-17 - 7 * Math.sin(a), 7 - 7 * Math.cos(a), (8 * i) / 16];
  });
  const loop: Vec3[] = [[-7.5, 0, 0], [-12, 0, 0], ...turn, [-21, 0, 9], [-27, 0, 10], [-37, 0, 10.5]];
  const bendRadiusMm = 4.5;
  const arc = Array.from({ length: 9 }, (_, i): Vec3 => {
    const a = (((100 * Math.PI) / 180) * i) / 8;
    return [18 + bendRadiusMm * Math.sin(a), bendRadiusMm * (1 - Math.cos(a)), 0];
  });
  const end = arc[arc.length - 1];
  const onwards: Vec3 = [Math.cos((100 * Math.PI) / 180), Math.sin((100 * Math.PI) / 180), 0];
  const bend: Vec3[] = [
    [7.5, 0, 0],
    [11, 0, 0],
    [15, 0, 0],
    ...arc,
    ...[3, 8, 20].map((far) => add(end, scale(onwards, far))),
  ];
  const along = (name: string, role: 'feeder' | 'drain', calibreMm: number, axisMm: Vec3[]): VesselPlan => ({
    name,
    role,
    axisMm: axisMm.reverse(),
    calibre: constant(calibreMm),
  });
  return lesion('a loop and a sharp bend', sac, [
    along('A1', 'feeder', 4, loop),
    along('V1', 'drain', 5, bend),
  ]);
}

/** A branch whose axis leaves 5 mm before the sac, and on another feeder one whose opening leaves 7 mm. */
function earlyBranch(): LesionPlan {
  const sac = ball(9);
  const plan = lesion('a branch 5 mm before the sac', sac, [
    straight(sac, 'A1', 5, [-1, 0, 0], 40),
    straight(sac, 'A2', 4, [0.3, 1, 0], 40),
    straight(sac, 'V1', 6, [0.5, -0.6, 0.5], 38),
  ]);
  addBranch(plan, { name: 'B1', of: 'A1', calibreMm: 2.4, beforeSacMm: 5, turn: 0.4 });
  addBranch(plan, { name: 'B2', of: 'A2', calibreMm: 2, beforeSacMm: 9, turn: 2 });
  return plan;
}

/** Calibres from 1.5 to 16 mm on one sac. */
function allCalibres(): LesionPlan {
  const sac: SacShape = { centreMm: [0, 0, 0], semiAxesMm: [17, 15, 19] };
  return lesion('calibres from 1.5 to 16 mm', sac, [
    straight(sac, 'A1', 1.5, [-1, 0.1, 0.2], 44),
    straight(sac, 'A2', 5, [-0.3, 1, -0.2], 46),
    straight(sac, 'A3', 10, [0.1, -0.2, 1], 54),
    straight(sac, 'V1', 16, [1, 0, -0.3], 60),
    straight(sac, 'V2', 3, [-0.3, -0.8, -0.5], 44),
  ]);
}

function smallestSac(): LesionPlan {
  const sac: SacShape = { centreMm: [0, 0, 0], semiAxesMm: [3, 2.8, 3.1] };
  return lesion(
    'a sac of 6 mm',
    sac,
    [straight(sac, 'A1', 1.8, [-1, 0.1, 0.2], 24), straight(sac, 'V1', 2.2, [1, 0.2, 0], 24)],
    { blendMm: 0.4 },
  );
}

function largestSac(): LesionPlan {
  const sac: SacShape = {
    centreMm: [0, 0, 0],
    semiAxesMm: [45, 38, 34],
    lobes: [{ direction: [0.2, 1, 0.3], height: 0.15, sharpness: 4 }],
  };
  return lesion('a sac of 90 mm', sac, [
    straight(sac, 'A1', 9, [-1, 0.1, 0.2], 85),
    straight(sac, 'A2', 5, [0.1, -0.4, 1], 75),
    straight(sac, 'V1', 14, [1, 0.2, 0], 90),
  ]);
}

/** Four deep lobes; one vessel enters between two of them, one on top of a lobe. */
function lobulated(): LesionPlan {
  const sac: SacShape = {
    centreMm: [0, 0, 0],
    semiAxesMm: [9, 8, 9],
    lobes: [
      { direction: [1, 0.3, 0.1], height: 0.55, sharpness: 7 },
      { direction: [-0.5, 0.9, 0.2], height: 0.5, sharpness: 8 },
      { direction: [-0.4, -0.6, 0.8], height: 0.6, sharpness: 7 },
      { direction: [0, -0.5, -0.9], height: 0.45, sharpness: 9 },
    ],
  };
  return lesion('a sac of four lobes', sac, [
    straight(sac, 'A1', 4, [-0.95, 0.1, -0.4], 40),
    straight(sac, 'A2', 3.2, [-0.3, -0.6, 0.75], 44),
    straight(sac, 'V1', 5, [0.9, 0.3, 0.1], 46),
  ]);
}

/** Two walls across the sac with openings of 8 and 7 mm: three chambers, each with a vessel. */
function septated(): LesionPlan {
  const sac: SacShape = { centreMm: [0, 0, 0], semiAxesMm: [16, 11, 12] };
  return lesion(
    'a sac with two septa',
    sac,
    [
      straight(sac, 'A1', 4.5, [-1, 0.15, 0.1], 46),
      straight(sac, 'A2', 3.5, [0.1, 1, 0.2], 40),
      straight(sac, 'V1', 6, [1, 0, 0.2], 48),
    ],
    {
      septa: [
        { openingMm: [-5.5, 3, 0], openingRadiusMm: 4, normal: [1, 0.1, 0], thicknessMm: 1.2 },
        { openingMm: [6, -2, 2], openingRadiusMm: 3.5, normal: [1, -0.2, 0.1], thicknessMm: 1 },
      ],
    },
  );
}

/**
 * Shapes that the random lesions do not cover; `cellMm` where gaps need finer cells than calibres do; `doubts` are the
 * findings that the shape itself causes; `isFine`: many triangles, so that it belongs to the long tests; `isSlow`: only with
 * PAVM_LONG=1.
 */
export const WHOLE_SHAPES: readonly {
  lesion: LesionPlan;
  cellMm?: number;
  doubts?: readonly string[];
  isFine?: boolean;
  isSlow?: boolean;
}[] = [
  { lesion: sideBySide(), cellMm: 0.25, isFine: true },
  { lesion: loopAndBend() },
  { lesion: earlyBranch(), isFine: true },
  { lesion: allCalibres(), isFine: true, isSlow: true },
  { lesion: smallestSac() },
  // every vessel is over 4 cells across
  { lesion: largestSac(), cellMm: 1.1, isFine: true },
  { lesion: lobulated() },
  // the opening of the second wall, 7 mm, is below the neck limit of a 6 mm vessel: a ball passes it as a narrow place
  { lesion: septated(), doubts: ['neck-places-differ V1'] },
];
