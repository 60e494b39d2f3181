import type { Vec3 } from '../foundation/vector.js';
import type { Mm, Percent } from '../foundation/unit-types.js';
import type { MendedCrack } from '../mesh/mended-crack.js';

/** One section perpendicular to the centreline. */
export interface ProfileSample {
  /** mm from the far end towards the sac. */
  atMm: Mm;
  /** 2·sqrt(area/pi). */
  equivalentMm: Mm;
  /** Smallest and largest caliper width of the section. */
  minMm: Mm;
  maxMm: Mm;
  areaMm2: number;
  /** Area as a share of that of the section's convex hull. */
  fullness?: number;
  /** True if a branch opens here and the outline was closed along the neighbouring wall. */
  atOpening?: boolean;
}

export interface BranchOpening {
  name: string;
  /** The place where the branch's centreline meets the parent's. */
  atMm: Mm;
  /** The opening on the parent, from its far-side to its sac-side edge. */
  fromMm: Mm;
  toMm: Mm;
  /** Median equivalent calibre of the branch, if it could be measured. */
  calibreMm?: Mm;
}

export interface LandingZone {
  fromMm: Mm;
  toMm: Mm;
  lengthMm: Mm;
  calibreMm: Mm;
  /** 95 %. */
  calibreIntervalMm: [Mm, Mm];
  /** Largest caliper width of any section in the zone. */
  largestWidthMm: Mm;
  /** (max - min) / mean of the equivalent calibre over the zone. */
  taperPercent: Percent;
  toSacMm: Mm;
  /** Absent if the vessel has no branch. */
  toBranchMm?: Mm;
  /** True if its calibre changes over the whole zone, so that its ends could not be trimmed. */
  inFlare?: boolean;
  /** Middle of the zone and the vessel's direction there, towards the sac. */
  centreMm: Vec3;
  direction: Vec3;
  /** The calibre of the zone in the scan, with its 95 % interval. */
  imageCalibreMm?: Mm;
  imageCalibreIntervalMm?: [Mm, Mm];
  view?: { laoRaoDeg: number; cranCaudDeg: number };
  viewAbsentBecause?: string;
}

/** The wall of a vessel in the scan compared with its surface; equivalent calibres, mm. */
export interface WallStation {
  atMm: Mm;
  surfaceMm: Mm;
  imageMm: Mm;
}

export interface VesselWall {
  /** Surface minus image, positive if drawn too wide; absent with too few stations. */
  offsetMm?: Mm;
  offsetIntervalMm?: [Mm, Mm];
  stations: WallStation[];
}

export interface VesselMeasure {
  name: string;
  role: 'feeder' | 'drain' | 'branch' | 'systemic-feeder';
  /** Centreline from the far end to the neck (for a branch, to its parent), points at most 0.5 mm apart. */
  centrelineMm: Vec3[];
  lengthMm: Mm;
  lengthIntervalMm: [Mm, Mm];
  /** Length divided by the straight distance between its ends. */
  tortuosity: number;
  calibreMm: { min: number; mean: number; max: number };
  profile: ProfileSample[];
  /** The place where the vessel meets the sac; absent for a branch. */
  neck?: { atMm: Mm; pointMm: Vec3; calibreMm: Mm };
  branches: BranchOpening[];
  landing?: LandingZone;
  landingAbsentBecause?: string;
  /** Root mean square error of an equivalent calibre due to scan and surface resolution. */
  calibreSigmaMm: Mm;
  /** Its wall in the scan, if the surface matches the scan. */
  wall?: VesselWall;
}

/** True if the intervals of the landing calibre by surface and image do not overlap. */
export function zoneDisagrees({ landing }: Pick<VesselMeasure, 'landing'>): boolean {
  const image = landing?.imageCalibreIntervalMm;
  return (
    landing !== undefined &&
    image !== undefined &&
    (image[1] < landing.calibreIntervalMm[0] || image[0] > landing.calibreIntervalMm[1])
  );
}

export interface SacMeasure {
  volumeMl: number;
  volumeIntervalMl: [number, number];
  surfaceCm2: number;
  longestMm: Mm;
  longestEndsMm: [Vec3, Vec3];
  /** Extents along the principal axes of inertia, a >= b >= c. */
  axesMm: [number, number, number];
  centreMm: Vec3;
}

/** Shortest distance between two structures with the two closest points. */
export interface Neighbour {
  /** For example `sac`, `A1 landing zone`. */
  from: string;
  to: string;
  distanceMm: Mm;
  pointsMm: [Vec3, Vec3];
}

/** An open or blind end of a whole surface that the case does not name. */
export interface UnnamedEnd {
  /** A point a little inside the end. */
  pointMm: Vec3;
  calibreMm: Mm;
  /** The named vessel that it joins or continues, or `sac`; absent if no path was found. */
  leadsTo?: string;
  /** Place where it joins that vessel between far end and neck, mm from the far end. */
  atMm?: Mm;
  /** The branch that represents it in that vessel's list. */
  branch?: string;
}

/** All measurements on the surfaces of one case. */
export interface LesionMeasure {
  vessels: VesselMeasure[];
  sac?: SacMeasure;
  neighbours: Neighbour[];
  /** Ends of a whole surface that the case does not name, largest first, and the total number of ends. */
  unnamed?: { of: number; ends: UnnamedEnd[] };
  /** Cracks of the surfaces that were closed before measuring, by structure and width. */
  mended?: ({ structure: string } & MendedCrack)[];
  /** The part of the surface beyond the points of the case, which was not measured; absent if there is none. */
  leftOut?: LeftOutMeasure;
}

/** The part of a vascular tree that was cut off and left out. */
export interface LeftOutMeasure {
  pieces: number;
  volumeMl: number;
  /** Share of the whole surface's volume, 0 to 1. */
  share: number;
  /** The vessels that were cut at their points. */
  past: string[];
}

/** Scan resolution used for the intervals. */
export interface ScanResolution {
  sliceThicknessMm?: Mm;
  inPlaneMm?: Mm;
}

/** Definitions that the measurement depends on; the values are in the rules folder. */
export interface MeasureDefinitions {
  profileStepMm: Mm;
  /** Whole form: the neck is where the calibre stays above this multiple of the vessel's median. */
  neckCalibreRatio: number;
  /** A neck where the calibre rises by less than this, mm per mm, is soft, and its range is that of the ratio */
  neckSoftSlope: number;
  /** plus and minus this margin. */
  neckSoftMargin: number;
  /** A vessel with a longer gap in its profile (in calibres) or a line longer than this multiple of the shortest path is not measured. */
  gapCalibres: number;
  wayRatio: number;
  /** Whole form: the widest place is taken as the sac if it is this many times as wide as every named vessel. */
  sacWidestRatio: number;
  /** Whole form: a body longer than this many times its largest ball, into which unnamed vessels lead, is not a sac. */
  sacLongestRatio: number;
  /** A structure with this share of its volume outside its largest piece is not measured. */
  pieceShare: number;
  /** A feeder wider than this many times the widest draining vein may have its name exchanged with the vein's. */
  feederDrainRatio: number;
  landingMinimumMm: Mm;
  landingMinimumCalibres: number;
  landingVariation: number;
  /** A landing zone's ends are moved inwards out of flares: slope of the calibre, mm per mm, */
  flareSlope: number;
  /** plus this many standard errors of it, */
  flareErrors: number;
  /** for the line fitted over the larger of these two. */
  flareWindowMm: Mm;
  flareWindowCalibres: number;
  /** How far an end moves on if a flare is shorter than that. */
  flareCornerMm: Mm;
  /** Parts: largest gap between a vessel and the sac that is bridged. */
  largestNeckGapMm: Mm;
  /** C-arm range of the working view, degrees to either side. */
  viewLaoRaoReachDeg: number;
  viewCranCaudReachDeg: number;
}
