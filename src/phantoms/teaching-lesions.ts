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
import { axisIntoSac, type LesionPlan, type VesselPlan } from './lesion.js';
import { type SacShape, sacPoint } from './sac.js';

/*
 * The invented lesions of the teaching cases. Axes are those of DICOM: x to the patient's left, y to the back, z to the head; the
 * origin is a point in the middle of the chest at the height of the carina.
 */

/** Straight reach of every vessel past the sac's surface, mm. */
const PAST_SURFACE_MM = 1.2;

interface Course {
  name: string;
  role: VesselPlan['role'];
  calibreMm: number;
  /** Where the vessel meets the sac: a direction from the sac's centre. */
  towards: Vec3;
  /** From the sac's surface to the far end, along the straight line, mm. */
  lengthMm: number;
  /** Offset of the far end from that line, towards `bendTo`, mm. */
  bendMm: number;
  bendTo: Vec3;
}

/** A vessel that leaves the sac head-on and bends gently aside. */
function courseInto(sac: SacShape, course: Course): VesselPlan {
  const towards = normalize(course.towards);
  const surface = sacPoint(sac, towards);
  const outwards = normalize(subtract(surface, sac.centreMm));
  const aside = subtract(course.bendTo, scale(outwards, dot(course.bendTo, outwards)));
  const side = Math.hypot(...aside) > 0.1 ? normalize(aside) : cross(outwards, perpendicular(outwards));
  const at = (far: number, share: number): Vec3 =>
    add(surface, add(scale(outwards, far * course.lengthMm), scale(side, share * course.bendMm)));
  const farther = [at(0.97, 1), at(0.72, 0.52), at(0.45, 0.16)];
  return {
    name: course.name,
    role: course.role,
    axisMm: axisIntoSac(sac, towards, farther, PAST_SURFACE_MM),
    calibre: { kind: 'constant', calibreMm: course.calibreMm },
  };
}

function lesion(name: string, sac: SacShape, courses: readonly Course[]): LesionPlan {
  return {
    name,
    sac,
    blendMm: 0.8,
    vessels: courses.map((course) => courseInto(sac, course)),
    neighbours: [],
  };
}

const DOWN: Vec3 = [0, 0, -1];
const UP: Vec3 = [0, 0, 1];
const BACK: Vec3 = [0, 1, 0];
const FRONT: Vec3 = [0, -1, 0];

const feeder = (
  name: string,
  calibreMm: number,
  towards: Vec3,
  lengthMm: number,
  bendMm = 8,
  bendTo: Vec3 = DOWN,
): Course => ({ name, role: 'feeder', calibreMm, towards, lengthMm, bendMm, bendTo });
const drain = (
  name: string,
  calibreMm: number,
  towards: Vec3,
  lengthMm: number,
  bendMm = 8,
  bendTo: Vec3 = DOWN,
): Course => ({ name, role: 'drain', calibreMm, towards, lengthMm, bendMm, bendTo });

/** Three feeders of three segments and two drains, right upper lobe. */
export const curlewLesion = (): LesionPlan =>
  lesion(
    'curlew',
    {
      centreMm: [-64, 4, 52],
      semiAxesMm: [15, 13, 12],
      lobes: [{ direction: [-0.7, -0.4, 0.6], height: 0.1, sharpness: 4 }],
    },
    [
      feeder('A1', 7, [0.75, 0.15, 0.62], 46),
      feeder('A2', 5.6, [0.6, 0.78, -0.1], 42),
      feeder('A3', 4.2, [0.55, -0.8, 0.2], 40),
      drain('V1', 8, [0.75, 0.1, -0.65], 40, 8, FRONT),
      drain('V2', 5, [-0.1, -0.55, -0.82], 36, 6, FRONT),
    ],
  );

/** Four small feeders into a nest, left lower lobe; the many more of a diffuse lesion are too small to be segmented. */
export const starlingLesion = (): LesionPlan =>
  lesion(
    'starling',
    {
      centreMm: [74, 40, -66],
      semiAxesMm: [13, 15, 17],
      lobes: [{ direction: [0.6, 0.5, -0.6], height: 0.12, sharpness: 5 }],
    },
    [
      feeder('A1', 5.6, [-0.35, -0.3, 0.88], 44, 7, [-1, 0, 0]),
      feeder('A2', 4.2, [-0.9, 0.3, 0.3], 38, 6, UP),
      feeder('A3', 4.2, [-0.5, 0.85, 0.1], 36, 6, UP),
      feeder('A4', 2.8, [0.3, -0.85, 0.42], 34, 5, UP),
      drain('V1', 7.5, [-0.75, -0.6, -0.25], 42, 8, UP),
    ],
  );

/** One feeder, one drain, lingula. */
export const robinLesion = (): LesionPlan =>
  lesion(
    'robin',
    {
      centreMm: [78, -44, -26],
      semiAxesMm: [10, 9, 8],
      lobes: [{ direction: [0.7, -0.5, 0.4], height: 0.12, sharpness: 4 }],
    },
    [feeder('A1', 5.6, [-0.7, 0.5, 0.5], 44, 8, UP), drain('V1', 6.5, [-0.85, -0.1, -0.5], 42, 8, BACK)],
  );

/** One large feeder, one drain, right middle lobe. */
export const egretLesion = (): LesionPlan =>
  lesion(
    'egret',
    {
      centreMm: [-70, -48, -30],
      semiAxesMm: [11, 10, 10],
      lobes: [{ direction: [-0.6, -0.6, -0.3], height: 0.1, sharpness: 4 }],
    },
    [feeder('A1', 7, [0.65, 0.6, 0.45], 46, 9, UP), drain('V1', 8, [0.85, 0.2, -0.5], 42, 8, BACK)],
  );

/** One very large feeder, left upper lobe. */
export const ospreyLesion = (): LesionPlan =>
  lesion(
    'osprey',
    {
      centreMm: [72, -22, 44],
      semiAxesMm: [22, 20, 19],
      lobes: [{ direction: [0.8, -0.3, 0.4], height: 0.1, sharpness: 4 }],
    },
    [feeder('A1', 12.6, [-0.7, 0.55, -0.45], 52, 8, DOWN), drain('V1', 14, [-0.6, -0.6, -0.5], 48, 8, DOWN)],
  );

/** Two feeders, left lower lobe, before the treatment. */
export const ternBeforeLesion = (): LesionPlan => ternLesion('tern-before', 1, 5.6, 4.2, 8);

/** The same eight months later: one feeder gone, the other open again, sac and vein smaller. */
export const ternAfterLesion = (): LesionPlan => ternLesion('tern-after', 0.7, undefined, 3.9, 6.4);

/** The same seven months after the second treatment: no feeder remains, sac and vein are remnants. */
export const ternClosedLesion = (): LesionPlan => ternLesion('tern-closed', 0.2, undefined, undefined, 1.9);

function ternLesion(
  name: string,
  size: number,
  a1: number | undefined,
  a2: number | undefined,
  v1: number,
): LesionPlan {
  const sac: SacShape = {
    centreMm: [80, 34, -54],
    semiAxesMm: [13 * size, 12 * size, 11 * size],
    lobes: [{ direction: [0.7, 0.4, -0.5], height: 0.12, sharpness: 4 }],
  };
  return lesion(name, sac, [
    ...(a1 === undefined ? [] : [feeder('A1', a1, [-0.5, -0.35, 0.8], 46, 8, [-1, 0, 0])]),
    ...(a2 === undefined ? [] : [feeder('A2', a2, [-0.6, 0.75, 0.3], 42, 8, UP)]),
    drain('V1', v1, [-0.75, -0.55, -0.4], 44, 8, UP),
  ]);
}

/** One feeder, one drain, right lower lobe of an elderly woman. */
export const siskinLesion = (): LesionPlan =>
  lesion(
    'siskin',
    {
      centreMm: [-76, 40, -60],
      semiAxesMm: [9, 8, 9],
      lobes: [{ direction: [-0.5, 0.7, -0.4], height: 0.1, sharpness: 4 }],
    },
    [feeder('A1', 4, [0.5, -0.35, 0.8], 42, 8, [1, 0, 0]), drain('V1', 5.5, [0.8, -0.5, -0.3], 40, 8, UP)],
  );

/** Two feeders and one drain next to chest wall, airway and a vessel that passes by, left lower lobe; given as a scan. */
export const lapwingLesion = (): LesionPlan =>
  lesion(
    'lapwing',
    {
      centreMm: [82, 30, -52],
      semiAxesMm: [9, 8.5, 8],
      lobes: [{ direction: [0.6, 0.5, -0.4], height: 0.1, sharpness: 4 }],
    },
    [
      feeder('A1', 5.6, [-0.5, -0.35, 0.8], 38, 6, [-1, 0, 0]),
      feeder('A2', 4.2, [-0.75, 0.62, -0.1], 32, 5, DOWN),
      drain('V1', 6.6, [-0.5, -0.8, -0.35], 34, 6, UP),
    ],
  );

/** A pulmonary feeder and an artery from the aorta, left lower lobe. */
export const dunlinLesion = (): LesionPlan =>
  lesion(
    'dunlin',
    {
      centreMm: [62, 56, -78],
      semiAxesMm: [12, 11, 13],
      lobes: [{ direction: [0.6, 0.6, -0.5], height: 0.12, sharpness: 4 }],
    },
    [
      feeder('A1', 5.6, [-0.2, -0.5, 0.84], 46, 8, [-1, 0, 0]),
      {
        name: 'S1',
        role: 'systemic-feeder',
        calibreMm: 3.4,
        towards: [-0.85, 0.5, -0.15],
        lengthMm: 34,
        bendMm: 5,
        bendTo: DOWN,
      },
      drain('V1', 8, [-0.7, -0.6, 0.1], 42, 8, FRONT),
    ],
  );

/** Avocet, left lower lobe: two feeders. */
export const avocetLeftLower = (): LesionPlan =>
  lesion('left-lower', { centreMm: [72, 42, -62], semiAxesMm: [11, 10, 10] }, [
    feeder('A1', 6.8, [-0.4, -0.3, 0.86], 44, 7, [-1, 0, 0]),
    feeder('A2', 4.2, [-0.9, 0.35, 0.25], 38, 6, UP),
    drain('V1', 7.5, [-0.75, -0.6, -0.25], 40, 8, UP),
  ]);

/** Avocet, right middle lobe: one feeder. */
export const avocetRightMiddle = (): LesionPlan =>
  lesion('right-middle', { centreMm: [-66, -46, -28], semiAxesMm: [9, 8, 8] }, [
    feeder('A1', 5.6, [0.65, 0.6, 0.45], 42, 8, UP),
    drain('V1', 6, [0.85, 0.2, -0.5], 38, 8, BACK),
  ]);

/** Avocet, right upper lobe: one small feeder. */
export const avocetRightUpper = (): LesionPlan =>
  lesion('right-upper', { centreMm: [-62, -6, 54], semiAxesMm: [8, 7, 7] }, [
    feeder('A1', 4.2, [0.8, 0.3, -0.5], 36, 6, DOWN),
    drain('V1', 4.5, [0.7, -0.5, -0.5], 34, 6, FRONT),
  ]);

/** Godwit, right upper lobe, after the first session: no feeder is open, the sac has shrunk. */
export const godwitRightUpper = (): LesionPlan =>
  lesion('right-upper', { centreMm: [-60, 2, 50], semiAxesMm: [5, 4.5, 4.5] }, [
    drain('V1', 3, [0.75, 0.1, -0.65], 34, 7, FRONT),
  ]);

/** Godwit, left upper lobe: one feeder, still open. */
export const godwitLeftUpper = (): LesionPlan =>
  lesion('left-upper', { centreMm: [66, -16, 46], semiAxesMm: [10, 9, 9] }, [
    feeder('A1', 5.6, [-0.7, 0.55, -0.45], 46, 8, DOWN),
    drain('V1', 6.5, [-0.6, -0.6, -0.5], 42, 8, DOWN),
  ]);
