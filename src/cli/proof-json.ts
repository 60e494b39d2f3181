import { rounded } from '../foundation/number-text.js';
import type { Proof } from '../print/proof.js';
import type { SurfaceProof } from '../print/surface-proof.js';
import { sourceText } from '../rules/source-text.js';
import type { ScanSurface } from './read-scan.js';
import { distancesJson, fitJson, poseJson } from './registration-json.js';

/** Caliper readings as `proof` prints them. */
export function readingsJson(instrument: string | undefined, proof: Proof): Record<string, unknown> {
  const { scale, worst } = proof;
  return {
    ...(instrument !== undefined && { instrument }),
    readings: proof.rows.map((r) => ({
      name: r.name,
      expected_mm: rounded(r.expectedMm, 3),
      reading_mm: rounded(r.readingMm, 3),
      difference_mm: rounded(r.differenceMm, 3),
      tolerance_mm: r.toleranceMm,
      within: r.isWithin,
    })),
    not_read: proof.notRead,
    ...(proof.biasMm !== undefined && { bias_mm: rounded(proof.biasMm, 3) }),
    ...(proof.limitsOfAgreementMm && {
      limits_of_agreement_mm: proof.limitsOfAgreementMm.map((l) => rounded(l, 3)),
    }),
    ...(worst && { worst: { name: worst.name, difference_mm: rounded(worst.differenceMm, 3) } }),
    ...(scale && scaleJson(scale)),
    ...(proof.slip && { slip: proof.slip }),
    ...(proof.outlier && { outlier: proof.outlier }),
    source: `Limits of agreement: ${sourceText('bland-altman-1986')}`,
  };
}

const scaleJson = (scale: { factor: number; interval?: [number, number]; isError: boolean }) => ({
  scale_factor: rounded(scale.factor, 5),
  ...(scale.interval && { scale_interval: scale.interval.map((f) => rounded(f, 5)) }),
  scale_error: scale.isError,
  scale_error_percent: rounded(100 * (scale.factor - 1), 3),
});

/** A scan of the print as `proof` prints it; `figures`: names of the files that were written. */
export function surfaceJson(
  scan: ScanSurface,
  proof: SurfaceProof,
  figures: readonly string[],
): Record<string, unknown> {
  const { registration: fit, scale } = proof;
  return {
    file: scan.shown,
    unit: scan.unit,
    triangles: scan.mesh.triangles.length / 3,
    verdict: proof.verdict,
    because: proof.because,
    ...(fit && {
      pose: poseJson(fit.pose, fit.turnDeg),
      registration: fitJson(fit),
      distances: {
        scan_to_model: distancesJson(fit.movingToFixed),
        model_to_scan: distancesJson(fit.fixedToMoving),
        hausdorff_mm: rounded(fit.hausdorffMm, 4),
      },
    }),
    ...(proof.distancesAbsentBecause !== undefined && {
      distances_absent_because: proof.distancesAbsentBecause,
    }),
    ...(proof.covered !== undefined && { model_shown: rounded(proof.covered, 4) }),
    ...(proof.extra !== undefined && { scan_beside_model: rounded(proof.extra, 4) }),
    structures: proof.regions.map((r) => ({
      name: r.name,
      tolerance_mm: r.toleranceMm,
      within: r.isWithin,
      shown: rounded(r.covered, 4),
      points: r.points,
      ...(r.biasMm !== undefined && { bias_mm: rounded(r.biasMm, 4) }),
      ...(r.p95Mm !== undefined && { p95_mm: rounded(r.p95Mm, 4) }),
      ...(r.outShare !== undefined && { out_of_tolerance: rounded(r.outShare, 4) }),
      ...(r.worst && {
        farthest: {
          distance_mm: rounded(r.worst.signedMm, 4),
          print_mm: r.worst.atMm.map((c) => rounded(c, 2)),
        },
      }),
    })),
    ...(scale && scaleJson(scale)),
    ...(fit?.scale && { offset_mm: rounded(fit.scale.offsetMm, 4) }),
    ...(proof.slip !== undefined && { slip: proof.slip }),
    figures,
    source: `Registration: ${sourceText('besl-mckay-1992')}; ${sourceText('chen-medioni-1992')}`,
  };
}
