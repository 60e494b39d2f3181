import type { Case } from '../case/case.js';
import { listedStructures } from '../case/listed-structures.js';
import type { LesionMeasure } from '../geometry/measure.js';
import type { Result } from '../result/result.generated.js';
import type { lesionKind } from './lesion-kind.js';
import { isNoneOpen } from './none-open.js';

/** Measurements of the lesion other than its vessels, with the keys of the result; undefined if not measured. */

export function lesionResult(
  patientCase: Case,
  { vessels }: Pick<LesionMeasure, 'vessels'>,
  { kind, because }: ReturnType<typeof lesionKind>,
): Result['lesion'] {
  const { side, lobe, segments, treated, otherLesions } = patientCase.lesion;
  const count = (role: 'feeder' | 'drain'): number =>
    listedStructures(patientCase)?.filter((structure) => structure.role === role).length ??
    vessels.filter((vessel) => vessel.role === role).length;
  return {
    side,
    lobe,
    segments,
    kind,
    kind_because: because,
    treated,
    other_lesions: otherLesions,
    feeder_count: count('feeder'),
    feeders_absent_because: isNoneOpen(patientCase)
      ? 'no feeding artery is open on this scan after the treatment'
      : undefined,
    drain_count: count('drain'),
  };
}

export const sacResult = ({ sac }: LesionMeasure): Result['sac'] =>
  sac && {
    volume_ml: sac.volumeMl,
    volume_interval_ml: sac.volumeIntervalMl,
    surface_cm2: sac.surfaceCm2,
    longest_mm: sac.longestMm,
    axes_mm: sac.axesMm,
    centre_mm: sac.centreMm,
  };

export const leftOutResult = ({ leftOut }: LesionMeasure): Result['left_out'] =>
  leftOut && {
    pieces: leftOut.pieces,
    volume_ml: leftOut.volumeMl,
    share_percent: 100 * leftOut.share,
    past: leftOut.past,
  };

export const unnamedResult = ({ unnamed }: LesionMeasure): Result['unnamed_ends'] =>
  unnamed && {
    count: unnamed.ends.length,
    of: unnamed.of,
    list: unnamed.ends.map(({ pointMm, calibreMm, leadsTo, atMm, branch }) => ({
      point_mm: pointMm,
      calibre_mm: calibreMm,
      leads_to: leadsTo,
      at_mm: atMm,
      branch,
    })),
  };

export const mendedResult = ({ mended = [] }: LesionMeasure): Result['mended'] =>
  mended.length > 0
    ? mended.map(({ structure, point, widthMm, lengthMm }) => ({
        structure,
        point_mm: point,
        width_mm: widthMm,
        length_mm: lengthMm,
      }))
    : undefined;

export const neighboursResult = ({ neighbours }: LesionMeasure): Result['neighbours'] =>
  neighbours.map(({ from, to, distanceMm, pointsMm }) => ({
    from,
    to,
    distance_mm: distanceMm,
    points_mm: pointsMm,
  }));
