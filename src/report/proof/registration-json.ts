import { rounded } from '../../foundation/number-text.js';
import type { Registration } from '../../geometry/register/register-surfaces.js';
import type { RigidPose } from '../../geometry/register/rigid-pose.js';
import type { DistanceStatistics } from '../../geometry/register/surface-distance.js';

/** A pose with the keys of the JSON output: x' = rotation·x + translation. */
export const poseJson = ({ rotation, translationMm }: RigidPose, turnDeg: number) => ({
  rotation: rotation.map((row) => row.map((c) => rounded(c, 9))),
  translation_mm: translationMm.map((c) => rounded(c, 4)),
  turn_deg: rounded(turnDeg, 3),
});

export const distancesJson = (one: DistanceStatistics) => ({
  points: one.points,
  mean_mm: rounded(one.meanMm, 4),
  rms_mm: rounded(one.rmsMm, 4),
  p95_mm: rounded(one.p95Mm, 4),
  largest_mm: rounded(one.largestMm, 4),
  bias_mm: rounded(one.biasMm, 4),
});

/** The quality of a registration, with the keys of the JSON output. */
export const fitJson = (one: Registration) => ({
  verdict: one.verdict,
  ...(one.because !== undefined && { because: one.because }),
  points: one.points,
  iterations: one.iterations,
  converged: one.converged,
  misfit_mm: rounded(one.misfitMm, 4),
  reach_mm: rounded(one.reachMm, 3),
  ...(one.runnerUp && {
    next_pose: {
      misfit_mm: rounded(one.runnerUp.misfitMm, 4),
      turned_deg: rounded(one.runnerUp.turnFromBestDeg, 1),
    },
  }),
  mirror_misfit_mm: rounded(one.mirrorMisfitMm, 4),
});
