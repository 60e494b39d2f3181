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
  /** Area as a part of that of the section's convex hull. */
  fullness?: number;
  /** True where a branch opens here and the outline was closed at the neighbouring wall. */
  atOpening?: boolean;
}

export interface BranchOpening {
  name: string;
  /** Where the branch's centreline meets the parent's. */
  atMm: Mm;
  /** The opening on the parent, from its far-side to its sac-side edge. */
  fromMm: Mm;
  toMm: Mm;
  /** Median equivalent calibre of the branch itself, where it could be measured. */
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
  /** Absent where the vessel has no branch. */
  toBranchMm?: Mm;
  /** True where its calibre rises or falls over all of it, so that no flare could be taken off its ends. */
  inFlare?: boolean;
  /** Middle of the zone and the vessel's direction there, towards the sac. */
  centreMm: Vec3;
  direction: Vec3;
  /** The calibre that the scan itself shows over the zone, with its 95 % interval. */
  imageCalibreMm?: Mm;
  imageCalibreIntervalMm?: [Mm, Mm];
  view?: { laoRaoDeg: number; cranCaudDeg: number };
  viewAbsentBecause?: string;
}

/** The wall of a vessel in the scan beside that of its surface; equivalent calibres, mm. */
export interface WallStation {
  atMm: Mm;
  surfaceMm: Mm;
  imageMm: Mm;
}

export interface VesselWall {
  /** Surface minus image, positive: drawn too wide; absent with fewer stations than are needed. */
  offsetMm?: Mm;
  offsetIntervalMm?: [Mm, Mm];
  stations: WallStation[];
}

export interface VesselMeasure {
  name: string;
  role: 'feeder' | 'drain' | 'branch' | 'systemic-feeder';
  /** Centreline from the far end to the neck (a branch: to its parent), at most 0.5 mm apart. */
  centrelineMm: Vec3[];
  lengthMm: Mm;
  lengthIntervalMm: [Mm, Mm];
  /** Length over the straight distance between its two ends. */
  tortuosity: number;
  calibreMm: { min: number; mean: number; max: number };
  profile: ProfileSample[];
  /** Where the vessel meets the sac; absent for a branch. */
  neck?: { atMm: Mm; pointMm: Vec3; calibreMm: Mm };
  branches: BranchOpening[];
  landing?: LandingZone;
  landingAbsentBecause?: string;
  /** Root mean square error of an equivalent calibre from scan and surface resolution. */
  calibreSigmaMm: Mm;
  /** Where the surface lies in the scan: what the scan says of its wall. */
  wall?: VesselWall;
}

/** True where the intervals of the landing calibre by the surface and by the image have no value in common. */
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

/** Least distance between two structures with the two closest points. */
export interface Neighbour {
  /** For example `sac`, `A1 landing zone`. */
  from: string;
  to: string;
  distanceMm: Mm;
  pointsMm: [Vec3, Vec3];
}

/** An open or blind end of a whole surface that the case does not name. */
export interface UnnamedEnd {
  /** A little inside the end. */
  pointMm: Vec3;
  calibreMm: Mm;
  /** The named vessel that it joins or goes on past, or `sac`; absent where no way was found. */
  leadsTo?: string;
  /** Where it joins that vessel between far end and neck, mm from the far end. */
  atMm?: Mm;
  /** The branch that stands for it in that vessel's list. */
  branch?: string;
}

/** All that is measured on the surfaces of one case. */
export interface LesionMeasure {
  vessels: VesselMeasure[];
  sac?: SacMeasure;
  neighbours: Neighbour[];
  /** Ends of a whole surface that the case does not name, largest first, and how many it has in all. */
  unnamed?: { of: number; ends: UnnamedEnd[] };
  /** Cracks of the surfaces that were closed before the measuring, by structure and width. */
  mended?: ({ structure: string } & MendedCrack)[];
  /** What of the surface lies past the points that the case names, and was not measured; absent where nothing does. */
  leftOut?: LeftOutMeasure;
}

/** The part of a vascular tree that was cut off and left out. */
export interface LeftOutMeasure {
  pieces: number;
  volumeMl: number;
  /** Part of the whole surface's volume, 0 to 1. */
  share: number;
  /** The vessels that were cut at their points. */
  past: string[];
}

/** Scan resolution that intervals rest on. */
export interface ScanResolution {
  sliceThicknessMm?: Mm;
  inPlaneMm?: Mm;
}

/** Definitions the measuring depends on; the values live in the rules folder. */
export interface MeasureDefinitions {
  profileStepMm: Mm;
  /** Whole form: the neck is where the calibre stays above this multiple of the vessel's median. */
  neckCalibreRatio: number;
  /** A neck where the calibre rises by less than this, mm per mm, is soft: its range is that of the ratio give or take … */
  neckSoftSlope: number;
  /** … so much. */
  neckSoftMargin: number;
  /** A vessel with a longer gap in its profile, calibres, or a longer line than this many times the shortest way, is not measured. */
  gapCalibres: number;
  wayRatio: number;
  /** Whole form: the widest place stands for the sac where it is this many times as wide as every named vessel. */
  sacWidestRatio: number;
  /** Whole form: a body longer than so many times its largest ball, into which unnamed vessels lead, is no sac. */
  sacLongestRatio: number;
  /** A structure with this part of its volume in another piece than the largest is not measured. */
  pieceShare: number;
  landingMinimumMm: Mm;
  landingMinimumCalibres: number;
  landingVariation: number;
  /** A landing zone's ends are moved inwards out of flares: slope of the calibre, mm per mm, … */
  flareSlope: number;
  /** … and so many standard errors of it, … */
  flareErrors: number;
  /** … of the line fitted over the larger of these two. */
  flareWindowMm: Mm;
  flareWindowCalibres: number;
  /** How far an end moves on where a flare is shorter than that. */
  flareCornerMm: Mm;
  /** Parts: how far a vessel may stop short of the sac and still be joined to it. */
  largestNeckGapMm: Mm;
  /** C-arm positions that the working view may ask for, degrees to either side. */
  viewLaoRaoReachDeg: number;
  viewCranCaudReachDeg: number;
}
