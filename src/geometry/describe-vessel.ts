import { distance, type Vec3 } from '../foundation/vector.js';
import type { CrowdedStretch } from './crowded.js';
import { findLandingZone } from './landing-zone.js';
import type {
  BranchOpening,
  LandingZone,
  MeasureDefinitions,
  ProfileSample,
  ScanResolution,
  VesselMeasure,
} from './measure.js';
import type { Polyline } from './polyline.js';
import { mean } from './statistics.js';
import {
  calibreError,
  driftMm,
  lengthIntervalMm,
  meanCalibreIntervalMm,
  rmsMm,
  type SizeError,
  sectionResolutionMm,
} from './uncertainty.js';

/** A followed vessel before it is described; positions in mm from the far end. */
export interface FollowedVessel {
  name: string;
  role: VesselMeasure['role'];
  line: Polyline;
  profile: ProfileSample[];
  /** More closely spaced sections before the neck, because a fused surface flares into the sac within a millimetre. */
  nearNeck?: ProfileSample[];
  /** The end of the vessel: at the sac, or at its parent for a branch. */
  endMm: number;
  /** True if `endMm` is the neck at the sac. */
  meetsSac: boolean;
  branches: BranchOpening[];
  /** Stretches whose sections contain more than this vessel, without a known branch. */
  crowded?: CrowdedStretch[];
  /** Mean edge length of the surface, mm. */
  edgeMm: number;
}

/** Scan resolution, and whether the surface's z is the scan's long axis. */
export interface ScanFrame {
  scan: ScanResolution;
  hasAxes: boolean;
}

/** Spacing of the points of a centreline, mm: chords of a bend of 3 mm radius are 0.1 % shorter than the arc. */
const CENTRELINE_STEP_MM = 0.5;

/**
 * Measures one vessel from its centreline and profile, in the coordinates of `toFile`. The working view is added later, when the other
 * structures are known.
 */
export function describeVessel(
  vessel: FollowedVessel,
  definitions: MeasureDefinitions,
  frame: ScanFrame,
  toFile: (point: Vec3) => Vec3,
): VesselMeasure {
  const { line, endMm, profile } = vessel;
  const own = line.between(0, endMm);
  const calibres = profile.map((s) => s.equivalentMm);
  const resolution = (at: number): number | undefined =>
    sectionResolutionMm(frame.scan, frame.hasAxes ? line.directionAt(at, 2) : undefined);
  const errorOver = (stretch: Polyline, atMm: number, calibreMm: number): SizeError =>
    calibreError(calibreMm, resolution(atMm), vessel.edgeMm, driftMm(stretch.points, frame.hasAxes));
  const meanMm = mean(calibres);
  const described: VesselMeasure = {
    name: vessel.name,
    role: vessel.role,
    centrelineMm: own.resampled(CENTRELINE_STEP_MM).points.map(toFile),
    lengthMm: endMm,
    lengthIntervalMm: lengthIntervalMm(endMm, resolution(endMm / 2), meanMm),
    tortuosity: endMm / Math.max(distance(own.points[0], own.points[own.points.length - 1]), 1e-9),
    calibreMm: { min: Math.min(...calibres), mean: meanMm, max: Math.max(...calibres) },
    profile,
    branches: [...vessel.branches].sort((a, b) => a.atMm - b.atMm),
    calibreSigmaMm: rmsMm(errorOver(own, endMm / 2, meanMm)),
  };
  if (vessel.meetsSac) {
    const last = profile[profile.length - 1];
    described.neck = { atMm: endMm, pointMm: toFile(line.pointAt(endMm)), calibreMm: last.equivalentMm };
    if (vessel.role === 'feeder') addLandingZone(described, vessel, definitions, errorOver, toFile);
  }
  return described;
}

function addLandingZone(
  described: VesselMeasure,
  { line, profile, nearNeck = [], endMm, branches, crowded = [] }: FollowedVessel,
  definitions: MeasureDefinitions,
  errorOver: (stretch: Polyline, atMm: number, calibreMm: number) => SizeError,
  toFile: (point: Vec3) => Vec3,
): void {
  const edge = branches.length > 0 ? Math.max(...branches.map((b) => b.toMm)) : undefined;
  const lastCrowdedMm = Math.max(0, ...crowded.map((c) => c.toMm));
  const limit = Math.max(lastCrowdedMm, edge ?? 0);
  const from = nearNeck[0]?.atMm ?? Number.POSITIVE_INFINITY;
  const samples = [...profile.filter((s) => s.atMm < from), ...nearNeck];
  const zone = findLandingZone(samples, limit, endMm, definitions);
  if (limit >= endMm) {
    described.landingAbsentBecause = 'its last branch opens at the neck or past it';
    return;
  }
  if (!zone) {
    described.landingAbsentBecause =
      `between ${limit === 0 ? 'the far end' : limit === edge ? 'the last branch' : 'where a neighbour is fused with it'} and the neck (${(endMm - limit).toFixed(1)} mm) ` +
      `no stretch of at least ${definitions.landingMinimumMm} mm and one calibre keeps its calibre within ` +
      `${Math.round(definitions.landingVariation * 100)} %`;
    return;
  }
  const middle = (zone.fromMm + zone.toMm) / 2;
  const lengthMm = zone.toMm - zone.fromMm;
  const landing: LandingZone = {
    fromMm: zone.fromMm,
    toMm: zone.toMm,
    lengthMm,
    calibreMm: zone.calibreMm,
    calibreIntervalMm: meanCalibreIntervalMm(
      zone.calibresMm,
      zone.calibreMm,
      lengthMm,
      errorOver(line.between(zone.fromMm, zone.toMm), middle, zone.calibreMm),
    ),
    largestWidthMm: zone.largestWidthMm,
    taperPercent: zone.variation * 100,
    toSacMm: endMm - zone.toMm,
    ...(zone.inFlare && { inFlare: true }),
    centreMm: toFile(line.pointAt(middle)),
    direction: line.directionAt(middle, Math.max(2, zone.calibreMm)),
  };
  if (edge !== undefined) landing.toBranchMm = Math.max(0, zone.fromMm - edge);
  described.landing = landing;
}
