import type { Vec3 } from '../foundation/vector.js';
import type { ScanFrame } from './describe-vessel.js';
import type { SacMeasure } from './measure.js';
import { measureBody } from './sac-measure.js';
import { sectionResolutionMm, volumeIntervalMm3 } from './uncertainty.js';

/** Measures the sac from its closed surface, in the units and coordinates of the result. */
export function describeSac(
  positions: Float64Array,
  triangles: Uint32Array,
  frame: ScanFrame,
  toFile: (point: Vec3) => Vec3,
): SacMeasure {
  const body = measureBody(positions, triangles);
  const interval = volumeIntervalMm3(
    body.volumeMm3,
    body.surfaceMm2,
    sectionResolutionMm(frame.scan, undefined),
  );
  return {
    volumeMl: body.volumeMm3 / 1000,
    volumeIntervalMl: [interval[0] / 1000, interval[1] / 1000],
    surfaceCm2: body.surfaceMm2 / 100,
    longestMm: body.longestMm,
    longestEndsMm: [toFile(body.longestEnds[0]), toFile(body.longestEnds[1])],
    axesMm: body.axesMm,
    centreMm: toFile(body.centre),
  };
}
