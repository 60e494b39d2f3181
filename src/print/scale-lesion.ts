import { cube } from '../foundation/power.js';
import type { Vec3 } from '../foundation/vector.js';
import type { LesionMeasure, VesselMeasure } from '../geometry/measure.js';
import { pointToPrint } from './hollow.js';

/** The measured lesion in print coordinates and at print scale; only the parts that the print depends on. */
export function scaleLesion(lesion: LesionMeasure, origin: Vec3, scale: number): LesionMeasure {
  const at = (p: Vec3): Vec3 => pointToPrint(p, origin, scale);
  const { sac } = lesion;
  return {
    vessels: lesion.vessels.map((v) => scaleVessel(v, at, scale)),
    sac: sac && {
      ...sac,
      volumeMl: sac.volumeMl * cube(scale),
      surfaceCm2: sac.surfaceCm2 * scale ** 2,
      longestMm: sac.longestMm * scale,
      longestEndsMm: [at(sac.longestEndsMm[0]), at(sac.longestEndsMm[1])],
      axesMm: [sac.axesMm[0] * scale, sac.axesMm[1] * scale, sac.axesMm[2] * scale],
      centreMm: at(sac.centreMm),
    },
    neighbours: [],
  };
}

function scaleVessel(v: VesselMeasure, at: (p: Vec3) => Vec3, scale: number): VesselMeasure {
  return {
    ...v,
    centrelineMm: v.centrelineMm.map(at),
    lengthMm: v.lengthMm * scale,
    calibreMm: { min: v.calibreMm.min * scale, mean: v.calibreMm.mean * scale, max: v.calibreMm.max * scale },
    profile: v.profile.map((s) => ({
      ...s,
      atMm: s.atMm * scale,
      equivalentMm: s.equivalentMm * scale,
      minMm: s.minMm * scale,
      maxMm: s.maxMm * scale,
      areaMm2: s.areaMm2 * scale ** 2,
    })),
    neck: v.neck && {
      atMm: v.neck.atMm * scale,
      pointMm: at(v.neck.pointMm),
      calibreMm: v.neck.calibreMm * scale,
    },
    branches: v.branches.map((b) => ({
      ...b,
      atMm: b.atMm * scale,
      fromMm: b.fromMm * scale,
      toMm: b.toMm * scale,
    })),
    landing: v.landing && {
      ...v.landing,
      fromMm: v.landing.fromMm * scale,
      toMm: v.landing.toMm * scale,
      lengthMm: v.landing.lengthMm * scale,
      calibreMm: v.landing.calibreMm * scale,
      centreMm: at(v.landing.centreMm),
    },
  };
}
