import type { Vec3 } from '../foundation/vector.js';
import { splineCurve } from './curve.js';
import { axisIntoSac, axisOfBranch, type LesionPlan, type VesselPlan } from './lesion.js';
import type { SacShape } from './sac.js';
import { sacEntryMm } from './truth.js';

/*
 * The invented lesions of the demonstration cases. Axes are those of DICOM: x to the patient's left, y to the back, z to the head;
 * the origin is a point in the middle of the chest at the height of the carina.
 */

/** Straight reach of every feeder and drain past the sac's surface, mm. */
const PAST_SURFACE_MM = 1.5;

function vesselIntoSac(
  sac: SacShape,
  name: string,
  role: 'feeder' | 'drain',
  calibreMm: number,
  towards: Vec3,
  farther: readonly Vec3[],
): VesselPlan {
  return {
    name,
    role,
    axisMm: axisIntoSac(sac, towards, farther, PAST_SURFACE_MM),
    calibre: { kind: 'constant', calibreMm },
  };
}

/** One feeder, one drain, lingula; a bronchus and the heart next to it. */
export function heronLesion(): LesionPlan {
  const sac: SacShape = {
    centreMm: [86, -52, -34],
    semiAxesMm: [10, 8, 8.6],
    lobes: [{ direction: [0.6, -0.7, -0.2], height: 0.12, sharpness: 4 }],
  };
  return {
    name: 'heron',
    sac,
    blendMm: 1,
    vessels: [
      vesselIntoSac(
        sac,
        'A1',
        'feeder',
        5.6,
        [-0.7, 0.6, 0.6],
        [
          [49, -16, 2],
          [58, -21, -3],
          [67, -30, -12],
        ],
      ),
      vesselIntoSac(
        sac,
        'V1',
        'drain',
        7,
        [-0.9, 0.1, -0.25],
        [
          [40, -24, -25],
          [48, -37, -32],
          [59, -47.5, -36.5],
        ],
      ),
    ],
    neighbours: [
      {
        name: 'bronchus',
        role: 'airway',
        axisMm: [
          [44, -8, 9],
          [58, -13, 5],
          [71, -22, -2],
          [80, -33, -8],
        ],
        calibre: { kind: 'cone', fromMm: 7, toMm: 4.5 },
      },
      { name: 'heart', role: 'heart', body: { centreMm: [12, -50, -62], semiAxesMm: [36, 30, 36] } },
    ],
  };
}

/** Two feeders of two segments, a branch to spare, left lower lobe. */
export function ploverLesion(): LesionPlan {
  const sac: SacShape = {
    centreMm: [84, 46, -62],
    semiAxesMm: [12, 10, 11],
    lobes: [
      { direction: [0.5, 0.7, -0.4], height: 0.14, sharpness: 4 },
      { direction: [0.7, -0.3, 0.6], height: 0.08, sharpness: 5 },
    ],
  };
  const lesion: LesionPlan = {
    name: 'plover',
    sac,
    blendMm: 1,
    vessels: [
      vesselIntoSac(
        sac,
        'A1',
        'feeder',
        6.8,
        [-0.35, -0.35, 0.85],
        [
          [50, 14, -6],
          [59, 19, -15],
          [69, 29, -28],
        ],
      ),
      vesselIntoSac(
        sac,
        'A2',
        'feeder',
        4.2,
        [-0.7, 0.45, 0.5],
        [
          [44, 40, -34],
          [52, 48, -40],
          [61, 54, -46.5],
        ],
      ),
      vesselIntoSac(
        sac,
        'V1',
        'drain',
        9,
        [-0.65, -0.75, -0.35],
        [
          [36, 8, -52],
          [48, 15, -62],
          [60, 24, -68],
        ],
      ),
    ],
    neighbours: [],
  };
  const parent = splineCurve(lesion.vessels[0].axisMm);
  const vessel = { plan: lesion.vessels[0], axis: parent, calibreAt: () => 6.8 };
  const leavesAtMm = (sacEntryMm(lesion, vessel) as number) - BRANCH_BEFORE_NECK_MM;
  lesion.vessels.push({
    name: 'B1',
    role: 'branch',
    axisMm: axisOfBranch(parent, leavesAtMm, 1.15, PLOVER_BRANCH_TURN, 16),
    calibre: { kind: 'constant', calibreMm: 3 },
    of: 'A1',
    leavesAtMm,
  });
  return lesion;
}

/** From the spare branch's axis to the neck, mm; the sac-side edge of its opening is then 12 mm from the neck. */
const BRANCH_BEFORE_NECK_MM = 15;
/** Turns the branch to the front and side, away from the sac and the other vessels, radians. */
const PLOVER_BRANCH_TURN = 3.4;

/** One small feeder and drain, right upper lobe of a child; a bronchus next to it. */
export function wrenLesion(): LesionPlan {
  const sac: SacShape = {
    centreMm: [-52, -6, 34],
    semiAxesMm: [5.2, 4.4, 4.8],
    lobes: [{ direction: [-0.6, 0.2, 0.7], height: 0.1, sharpness: 4 }],
  };
  return {
    name: 'wren',
    sac,
    blendMm: 0.6,
    vessels: [
      vesselIntoSac(
        sac,
        'A1',
        'feeder',
        3.2,
        [0.7, 0.35, -0.6],
        [
          [-24, 2, 9],
          [-30, 3, 14],
          [-37, 1, 20],
        ],
      ),
      vesselIntoSac(
        sac,
        'V1',
        'drain',
        4,
        [0.55, -0.8, -0.1],
        [
          [-22, -18, 8],
          [-29, -21, 17],
          [-38, -20, 26],
        ],
      ),
    ],
    neighbours: [
      {
        name: 'bronchus',
        role: 'airway',
        axisMm: [
          [-20, 6, 12],
          [-28, 9, 18],
          [-36, 9, 25],
          [-43, 6, 31],
        ],
        calibre: { kind: 'cone', fromMm: 5, toMm: 3 },
      },
    ],
  };
}
