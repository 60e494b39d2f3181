import {
  cross,
  distance,
  dot,
  normalize,
  perpendicular,
  subtract,
  type Vec3,
} from '../../src/foundation/vector.js';
import { surfaceDistances } from '../../src/geometry/geodesic.js';
import type { ScanResolution } from '../../src/geometry/measure.js';
import { calibreProfile } from '../../src/geometry/profile.js';
import { measureBody } from '../../src/geometry/sac-measure.js';
import { mean } from '../../src/geometry/statistics.js';
import { Surface } from '../../src/geometry/surface.js';
import { driftMm } from '../../src/geometry/uncertainty.js';
import { vesselCentreline } from '../../src/geometry/vessel-centreline.js';
import { type RandomStream, randomStream } from '../../src/phantoms/random.js';
import { rotateVector, seededRotation } from '../../src/phantoms/rigid.js';
import { along, arcBar, ellipsoid, frameAlong, resurfaced, type VoxelGrid } from './voxelised.js';

/** One vessel scanned, labelled, surfaced and measured, next to its truth. Lengths in mm. */
export interface TubeTrial {
  scan: ScanResolution;
  calibreMm: number;
  lengthMm: number;
  /** Middle of the zone. */
  direction: Vec3;
  measuredCalibresMm: number[];
  measuredCalibreMm: number;
  measuredLengthMm: number;
  edgeMm: number;
  /** How far the zone moves across the axis of the grid that it follows. */
  driftMm: number;
}

function randomGrid(random: RandomStream): VoxelGrid {
  const inPlaneMm = random.between(0.5, 0.8);
  const sliceMm = random.between(0.6, 1.25);
  const originMm: Vec3 = [
    random.between(-1, 0) * inPlaneMm,
    random.between(-1, 0) * inPlaneMm,
    random.between(-1, 0) * sliceMm,
  ];
  return { inPlaneMm, sliceMm, originMm };
}

/** How the scan becomes a surface. */
export interface ScanKind {
  /** A label (inside or not) with smoothing, or the grey values themselves. */
  from: 'label' | 'grey';
  /** 95 % of the thresholds lie within this fraction of the contrast from one half; normally distributed. */
  thresholdOff: number;
}

/** One threshold, normally distributed about one half (Box and Muller, Ann Math Stat 1958;29:610, from memory). */
function thresholdOf(random: RandomStream, off: number): number {
  const normal = Math.sqrt(-2 * Math.log(1 - random.next())) * Math.cos(2 * Math.PI * random.next());
  return 0.5 + (off / 1.96) * normal;
}

/** Length of the stretch over which a trial averages the calibre, mm. */
export const ZONE_MM = 10;

/**
 * A gently curved vessel of 2 to 12 mm in any direction, or a straight one in the direction given; the mean calibre is taken over a stretch in
 * its middle.
 */
export function tubeTrial(seed: number, kind: ScanKind, straight?: Vec3): TubeTrial {
  const random = randomStream(seed);
  const grid = randomGrid(random);
  const calibreMm = 2 * Math.exp(random.next() * Math.log(6));
  const lengthMm = 14 + 1.5 * calibreMm;
  const first = straight ?? rotateVector(seededRotation(seed), [1, 0, 0]);
  const [d, side] = frameAlong(first, normalize(cross(first, perpendicular(first))));
  const bendMm = straight ? STRAIGHT_MM : random.between(25, 80) + calibreMm;
  const threshold = thresholdOf(random, kind.thresholdOff);
  const start: Vec3 = [0, 0, 0];
  const body = arcBar(start, d, side, bendMm, lengthMm, calibreMm / 2);
  const at = (s: number): { point: Vec3; direction: Vec3 } => {
    const a = s / bendMm;
    const point = along(along(start, d, bendMm * Math.sin(a)), side, bendMm * (1 - Math.cos(a)));
    return {
      point,
      direction: along([d[0] * Math.cos(a), d[1] * Math.cos(a), d[2] * Math.cos(a)], side, Math.sin(a)),
    };
  };
  const middle = at(lengthMm / 2);
  const end = at(lengthMm);
  const mesh = resurfaced(body, middle.point, grid, kind.from, threshold);
  const surface = new Surface(mesh, middle.point);
  const near: number[] = [];
  for (let v = 0; v < surface.vertexCount; v++) {
    const p = surface.vertex(v);
    const q: Vec3 = [p[0] + middle.point[0], p[1] + middle.point[1], p[2] + middle.point[2]];
    if (dot(subtract(q, end.point), end.direction) > -0.5 && distance(q, end.point) < calibreMm) near.push(v);
  }
  const line = vesselCentreline(surface, surfaceDistances(surface, near));
  if (!line) throw new Error(`seed ${seed}: no centreline`);
  const centre = line.line.project([0, 0, 0]).at;
  const profile = calibreProfile(surface, line.line, line.calibreMm, {
    fromMm: centre - ZONE_MM / 2,
    toMm: centre + ZONE_MM / 2,
    stepMm: 0.5,
  });
  const measuredCalibresMm = profile.map((s) => s.equivalentMm);
  return {
    scan: { inPlaneMm: grid.inPlaneMm, sliceThicknessMm: grid.sliceMm },
    calibreMm,
    lengthMm,
    direction: middle.direction,
    measuredCalibresMm,
    measuredCalibreMm: mean(measuredCalibresMm),
    measuredLengthMm: line.line.lengthMm,
    edgeMm: surface.meanEdgeMm(),
    driftMm: driftMm(
      Array.from({ length: 21 }, (_, i) => at((lengthMm + ZONE_MM * (i / 10 - 1)) / 2).point),
      true,
    ),
  };
}

/** Radius of a bend that is none, mm. */
const STRAIGHT_MM = 1e7;

/** One sac scanned, labelled, surfaced and measured, next to its truth; mm3. */
export interface SacTrial {
  scan: ScanResolution;
  volumeMm3: number;
  measuredVolumeMm3: number;
  measuredSurfaceMm2: number;
}

/** A sphere (`round`) or ellipsoid of 3 to 9 mm mean radius, in any orientation. */
export function sacTrial(seed: number, kind: ScanKind, round = seed % 3 === 0): SacTrial {
  const random = randomStream(seed);
  const grid = randomGrid(random);
  const radius = 3 * Math.exp(random.next() * Math.log(3));
  const semi: Vec3 = round
    ? [radius, radius, radius]
    : [
        radius * random.between(0.75, 1.3),
        radius * random.between(0.75, 1.3),
        radius * random.between(0.75, 1.3),
      ];
  const threshold = thresholdOf(random, kind.thresholdOff);
  const q = seededRotation(seed);
  const body = ellipsoid(
    [rotateVector(q, [1, 0, 0]), rotateVector(q, [0, 1, 0]), rotateVector(q, [0, 0, 1])],
    semi,
  );
  const mesh = resurfaced(body, [0, 0, 0], grid, kind.from, threshold);
  const measured = measureBody(mesh.positions, mesh.triangles);
  return {
    scan: { inPlaneMm: grid.inPlaneMm, sliceThicknessMm: grid.sliceMm },
    volumeMm3: (4 / 3) * Math.PI * semi[0] * semi[1] * semi[2],
    measuredVolumeMm3: measured.volumeMm3,
    measuredSurfaceMm2: measured.surfaceMm2,
  };
}
