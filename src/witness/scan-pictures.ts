import { add, cross, dot, normalize, otherAxes, scale, subtract, type Vec3 } from '../foundation/vector.js';
import { type FlatLine, type PicturePlane, planeOutline } from '../geometry/plane-outline.js';
import { Polyline } from '../geometry/polyline.js';
import { jointBox } from '../mesh/measures.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import type { Result, Vessel } from '../result/result.generated.js';
import type { GreyVolume } from '../volume/ct/grey-volume.js';
import { type GreyPicture, greyOnPlane } from './grey-picture.js';
import { type StraightVessel, straightened } from './straightened.js';
import { surfacesByName } from './surfaces-by-name.js';

/** A surface of the case, mm, in the axes of the file. */
export interface DrawnSurface {
  name: string;
  role: string;
  mesh: TriangleMesh;
}

/** The scan on a plane, with the outlines of the surfaces. Plane in LPS. */
export interface ScanSlice {
  plane: PicturePlane;
  grey: GreyPicture;
  /** Half the side of the picture, mm. */
  reachMm: number;
  outlines: { name: string; role: string; lines: FlatLine[] }[];
}

/** A section across a vessel. */
export interface ScanSection extends ScanSlice {
  at: 'landing zone' | 'neck' | 'thinnest place';
  atMm: number;
  /** Equivalent calibre of the surface's section, mm. */
  surfaceMm?: number;
  /** The round wall in the scan: calibre, and its centre on the plane, mm. */
  image?: { calibreMm: number; centre: [number, number] };
}

export interface VesselPictures {
  name: string;
  role: Vessel['role'];
  straight: StraightVessel;
  sections: ScanSection[];
  /** Stretches where a surface made from the scan is unsure, with their numbers in the result, from 1. */
  unsure: { number: number; fromMm: number; toMm: number }[];
}

export type MissedPiece = {
  kind: string;
  point_mm: readonly number[];
  calibre_mm: number;
  length_mm: number;
  joins?: string;
};

export interface MissedPictures {
  /** Its number in the list of the result, from 1. */
  number: number;
  piece: MissedPiece;
  slices: ScanSlice[];
}

/** Small crops of the scan with their overlays: all data for the pictures. */
export interface ScanPictures {
  vessels: VesselPictures[];
  /** Axial, coronal and sagittal through the middle of the sac. */
  sac?: ScanSlice[];
  missed: MissedPictures[];
  /** Numbers of feeders and pieces that are not drawn. */
  leftOut: { feeders: number; missed: number };
}

export interface ScanPicturesInput {
  result: Pick<Result, 'frame' | 'frame_axes' | 'sac' | 'vessels' | 'proposal'> & {
    missed?: readonly MissedPiece[];
  };
  structures: readonly DrawnSurface[];
  volume: GreyVolume;
}

/** Greatest number drawn. */
const MOST_FEEDERS = 12;
const MOST_MISSED = 6;
/** Pixel sizes, mm: at most a third of usual voxels. */
const SECTION_STEP_MM = 0.25;
const SLICE_STEP_MM = 0.4;
const MISSED_REACH_MM = 20;
/** Margin of a picture around its subject, mm. */
const ABOUT_VESSEL_MM = 6;
const ABOUT_SAC_MM = 12;
const SAC_REACH_MM = [18, 60] as const;

/**
 * Crops for pictures in which a reader checks the surfaces against the scan. Nothing is moved: the surfaces are drawn where the case has
 * them, the wall of the image where the scan shows it. Undefined if the surfaces do not match the scan.
 */
export function scanPictures({ result, structures, volume }: ScanPicturesInput): ScanPictures | undefined {
  const { frame } = result;
  if (frame?.verdict !== 'fits' && frame?.verdict !== 'shifted') return undefined;
  const turn = result.frame_axes === 'RAS' ? otherAxes : (p: Vec3): Vec3 => p;
  const slice = (plane: PicturePlane, reachMm: number, stepMm: number): ScanSlice => ({
    plane,
    reachMm,
    grey: greyOnPlane(volume, plane, reachMm, stepMm),
    outlines: outlinesOn(structures, plane, reachMm, turn),
  });
  const shiftMm: Vec3 = frame.verdict === 'fits' ? (frame.shift_mm ?? [0, 0, 0]) : [0, 0, 0];
  const calibre = ({ landing, calibre_mm }: Vessel): number => landing?.calibre_mm ?? calibre_mm.mean;
  const followed = Object.entries(result.vessels)
    .filter(([, { centreline_mm }]) => (centreline_mm?.length ?? 0) > 1)
    .sort(([a, one], [b, other]) => calibre(other) - calibre(one) || (a < b ? -1 : 1));
  const feeders = followed.filter(([, { role }]) => FEEDING.has(role));
  // for a surface made from the scan every wall must be checked
  const others = result.proposal ? followed.filter(([, { role }]) => !FEEDING.has(role)) : [];
  const whole = structures.filter(({ role }) => role === 'whole');
  const surfaceOf = surfacesByName(whole.length > 0 ? whole : structures);
  const drawn = [...feeders.slice(0, MOST_FEEDERS), ...others.slice(0, MOST_FEEDERS)];
  const vessels = drawn.flatMap(([name, vessel]): VesselPictures[] => {
    const surface = surfaceOf(name);
    if (!surface) return [];
    const reachMm = vessel.calibre_mm.max / 2 + ABOUT_VESSEL_MM;
    return [
      {
        name,
        role: vessel.role,
        straight: straightened({ vessel, surface, volume, turn, shiftMm, reachMm }),
        sections: sectionsOf(vessel, turn, shiftMm, (plane) => slice(plane, reachMm, SECTION_STEP_MM)),
        unsure: unsureAlong(name, vessel, result.proposal),
      },
    ];
  });
  const axes = (centre: Vec3, reachMm: number): ScanSlice[] =>
    AXES.map(({ right, down }) => slice({ centre, right, down }, reachMm, SLICE_STEP_MM));
  const missed = [...(result.missed ?? [])]
    .map((piece, i) => ({ piece, number: i + 1 }))
    .filter(({ piece }) => piece.kind !== 'side-branch')
    .sort((a, b) => b.piece.calibre_mm - a.piece.calibre_mm || a.number - b.number);
  const sac = sacPlace(result, structures, turn);
  return {
    vessels,
    ...(sac && { sac: axes(sac.centre, sac.reachMm) }),
    missed: missed.slice(0, MOST_MISSED).map(({ piece, number }) => {
      const [x, y, z] = piece.point_mm;
      // its position is relative to the surface, its picture shows the scan
      return { number, piece, slices: axes(add(turn([x, y, z]), shiftMm), MISSED_REACH_MM) };
    }),
    leftOut: {
      feeders: Math.max(0, feeders.length - MOST_FEEDERS),
      missed: Math.max(0, missed.length - MOST_MISSED),
    },
  };
}

/** The unsure stretches of one vessel, along its centreline. */
function unsureAlong(
  name: string,
  { centreline_mm }: Vessel,
  proposal: Result['proposal'],
): VesselPictures['unsure'] {
  const line = new Polyline((centreline_mm ?? []) as Vec3[]);
  return (proposal?.unsure ?? []).flatMap(({ near, point_mm, length_mm }, i) => {
    if (near !== name) return [];
    const { at } = line.project(point_mm as Vec3);
    return [{ number: i + 1, fromMm: at - length_mm / 2, toMm: at + length_mm / 2 }];
  });
}

const FEEDING = new Set<Vessel['role']>(['feeder', 'systemic-feeder']);

/** Axial seen from the feet, coronal from the front, sagittal from the left: LPS, as radiologists look at them. Common practice, no source. */
const AXES: readonly { right: Vec3; down: Vec3 }[] = [
  { right: [1, 0, 0], down: [0, 1, 0] },
  { right: [1, 0, 0], down: [0, 0, -1] },
  { right: [0, 1, 0], down: [0, 0, -1] },
];

/** Sections of all surfaces by a plane (LPS); surfaces that it misses are left out. */
function outlinesOn(
  structures: readonly DrawnSurface[],
  { centre, right, down }: PicturePlane,
  reachMm: number,
  turn: (point: Vec3) => Vec3,
): ScanSlice['outlines'] {
  const plane = { centre: turn(centre), right: turn(right), down: turn(down) };
  return structures.flatMap(({ name, role, mesh }) => {
    const lines = planeOutline(mesh, plane, reachMm);
    return lines.length > 0 ? [{ name, role, lines }] : [];
  });
}

/** Sections across a vessel where its device goes, where it enters the sac, and where it is thinnest. */
function sectionsOf(
  vessel: Vessel,
  turn: (point: Vec3) => Vec3,
  shiftMm: Vec3,
  slice: (plane: PicturePlane) => ScanSlice,
): ScanSection[] {
  const line = new Polyline((vessel.centreline_mm ?? []).map(([x, y, z]) => turn([x, y, z])));
  const { landing, neck, profile } = vessel;
  const own = profile.filter(({ at_opening }) => !at_opening);
  const thinnest = own.reduce<(typeof own)[number] | undefined>(
    (least, one) => (least && least.equivalent_mm <= one.equivalent_mm ? least : one),
    undefined,
  );
  const wanted: [ScanSection['at'], number | undefined][] = [
    ['landing zone', landing && (landing.from_mm + landing.to_mm) / 2],
    ['neck', neck?.at_mm],
    ['thinnest place', thinnest?.at_mm],
  ];
  return wanted.flatMap(([at, atMm]) => {
    if (atMm === undefined) return [];
    const plane = planeAcross(line.pointAt(atMm), line.directionAt(atMm, 2));
    const sample = nearestTo(profile, atMm);
    const station = nearestTo(vessel.wall?.stations ?? [], atMm);
    return [
      {
        ...slice(plane),
        at,
        atMm,
        ...(sample && { surfaceMm: sample.equivalent_mm }),
        ...(station && {
          image: {
            calibreMm: station.image_mm,
            centre: [dot(shiftMm, plane.right), dot(shiftMm, plane.down)] as [number, number],
          },
        }),
      },
    ];
  });
}

/** A plane across a direction, seen towards the sac, with the feet downwards, or the back if the vessel runs along the body. */
function planeAcross(centre: Vec3, along: Vec3): PicturePlane {
  const low: Vec3 = Math.abs(along[2]) < 0.8 ? [0, 0, -1] : [0, 1, 0];
  const down = normalize(subtract(low, scale(along, dot(low, along))));
  return { centre, right: cross(down, along), down };
}

/** The entry nearest to a place along a vessel, within 1 mm. */
function nearestTo<T extends { at_mm: number }>(all: readonly T[], atMm: number): T | undefined {
  let best: T | undefined;
  for (const one of all) if (!best || Math.abs(one.at_mm - atMm) < Math.abs(best.at_mm - atMm)) best = one;
  return best && Math.abs(best.at_mm - atMm) <= 1 ? best : undefined;
}

/** Centre of the sac's box, LPS, and the reach of the pictures around it. */
function sacPlace(
  result: Pick<Result, 'sac'>,
  structures: readonly DrawnSurface[],
  turn: (point: Vec3) => Vec3,
): { centre: Vec3; reachMm: number } | undefined {
  const mesh = structures.find(({ role }) => role === 'sac')?.mesh;
  const least = (mm: number): number =>
    Math.min(SAC_REACH_MM[1], Math.max(SAC_REACH_MM[0], mm + ABOUT_SAC_MM));
  if (!mesh || mesh.positions.length === 0) {
    const centre = result.sac?.centre_mm;
    return (
      centre && {
        centre: turn([centre[0], centre[1], centre[2]]),
        reachMm: least((result.sac?.longest_mm ?? 0) / 2),
      }
    );
  }
  const { low, high } = jointBox([mesh]);
  const half = Math.max(...subtract(high, low)) / 2;
  return { centre: turn(scale(add(low, high), 0.5)), reachMm: least(half) };
}

/** Pictures of the scan show the blood pool. */
const SHOWN = new Set(['feeder', 'systemic-feeder', 'sac', 'drain', 'branch', 'whole']);

/** The box around the lesion's surfaces, LPS; undefined without one. */
export function lesionBox(
  structures: readonly DrawnSurface[],
  axes: Result['frame_axes'],
): { low: Vec3; high: Vec3 } | undefined {
  const { low, high } = jointBox(structures.filter(({ role }) => SHOWN.has(role)).map(({ mesh }) => mesh));
  if (!(low[0] <= high[0])) return undefined;
  if (axes !== 'RAS') return { low, high };
  return { low: [-high[0], -high[1], low[2]], high: [-low[0], -low[1], high[2]] };
}
