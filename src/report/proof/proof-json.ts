import { rounded } from '../../foundation/number-text.js';
import type { DeviceEffect } from '../../print/device-effect.js';
import type { Proof, ProofGroup } from '../../print/proof.js';
import { overallVerdict, type Proofs, type ScanOfPrint } from '../../print/proofs.js';
import type { SurfaceProof } from '../../print/surface-proof.js';
import { sourceText } from '../../rules/source-text.js';
import { allBecause } from './proof-text.js';
import { distancesJson, fitJson, poseJson } from './registration-json.js';

/** Everything compared with the model, as `proof --json` prints it; `figures`: names of the files written. */
export function proofJson(
  caseId: string,
  modelId: string | undefined,
  proofs: Proofs,
  figures: readonly string[],
): Record<string, unknown> {
  const { readings, surface, effects } = proofs;
  return {
    format: 'pavm-proof/1',
    case: caseId,
    verdict: overallVerdict(proofs),
    ...(modelId !== undefined && { model: modelId }),
    because: allBecause(proofs),
    ...(effects && { device_effects: effectsJson(effects) }),
    ...(readings && readingsJson(readings.instrument, readings.proof)),
    ...(surface && { surface: surfaceJson(surface.scan, surface.proof, figures) }),
  };
}

/** Caliper readings. */
function readingsJson(instrument: string | undefined, proof: Proof): Record<string, unknown> {
  const { worst, diameters, spans, repeats, gaugeStudy } = proof;
  const scale = spans?.scale ?? diameters?.scale;
  return {
    ...(instrument !== undefined && { instrument }),
    readings: proof.rows.map((r) => ({
      name: r.name,
      kind: r.kind,
      ...(r.vessel !== undefined && { vessel: r.vessel }),
      expected_mm: rounded(r.expectedMm, 3),
      reading_mm: rounded(r.readingMm, 3),
      readings: r.readings,
      difference_mm: rounded(r.differenceMm, 3),
      tolerance_mm: r.toleranceMm,
      within: r.isWithin,
      out: r.isOut,
    })),
    not_read: proof.notRead,
    ...(diameters && {
      bias_mm: rounded(diameters.biasMm, 3),
      limits_of_agreement_mm: diameters.limitsMm.map((l) => rounded(l, 3)),
      diameters: groupJson(diameters),
    }),
    ...(spans && { spans: groupJson(spans) }),
    vessels: proof.vessels.map((v) => ({
      name: v.name,
      points: v.points,
      bias_mm: rounded(v.biasMm, 3),
      bias_interval_99_mm: v.interval99Mm.map((b) => rounded(b, 3)),
      tolerance_mm: v.toleranceMm,
      ...(v.deviceChangeMm !== undefined && { device_change_mm: v.deviceChangeMm }),
    })),
    ...(repeats && {
      within_point_sd_mm: rounded(repeats.withinMm, 4),
      repeatability_mm: rounded(repeats.repeatabilityMm, 3),
    }),
    ...(gaugeStudy && {
      gauge_study: {
        points: gaugeStudy.parts,
        readers: gaugeStudy.readers,
        rounds: gaugeStudy.rounds,
        repeatability_sd_mm: rounded(gaugeStudy.equipmentMm, 4),
        ...(gaugeStudy.appraiserMm !== undefined && {
          reproducibility_sd_mm: rounded(gaugeStudy.appraiserMm, 4),
        }),
        gauge_sd_mm: rounded(gaugeStudy.gaugeMm, 4),
        ...(gaugeStudy.partMm !== undefined && { part_sd_mm: rounded(gaugeStudy.partMm, 4) }),
        ...(gaugeStudy.categories !== undefined && { categories: gaugeStudy.categories }),
        source: sourceText('msa-average-range'),
      },
    }),
    ...(worst && { worst: { name: worst.name, difference_mm: rounded(worst.differenceMm, 3) } }),
    ...(scale && {
      scale_factor: rounded(scale.factor, 5),
      scale_interval: scale.interval95.map((f) => rounded(f, 5)),
      scale_error: proof.isScaleError,
      scale_error_percent: rounded(100 * (scale.factor - 1), 3),
    }),
    ...(proof.isMirrored !== undefined && { mirrored: proof.isMirrored }),
    ...(proof.slip && { slip: proof.slip }),
    ...(proof.outlier && { outlier: proof.outlier }),
    source: `Limits of agreement: ${sourceText('bland-altman-1986')}; of repeated readings: ${sourceText('bland-altman-1999')}`,
  };
}

const groupJson = (group: ProofGroup) => ({
  points: group.count,
  readings: group.readings,
  tolerance_mm: group.toleranceMm,
  bias_mm: rounded(group.biasMm, 3),
  bias_interval_mm: group.interval95Mm.map((b) => rounded(b, 3)),
  bias_interval_99_mm: group.interval99Mm.map((b) => rounded(b, 3)),
  limits_of_agreement_mm: group.limitsMm.map((l) => rounded(l, 3)),
  ...(group.limitIntervalsMm && {
    limit_intervals_mm: group.limitIntervalsMm.map((i) => i.map((l) => rounded(l, 3))),
  }),
  ...(group.scale && {
    scale_factor: rounded(group.scale.factor, 5),
    scale_interval: group.scale.interval95.map((f) => rounded(f, 5)),
  }),
});

const scaleJson = (scale: NonNullable<SurfaceProof['scale']>) => ({
  scale_factor: rounded(scale.factor, 5),
  ...(scale.interval && { scale_interval: scale.interval.map((f) => rounded(f, 5)) }),
  scale_error: scale.isError,
  scale_error_percent: rounded(100 * (scale.factor - 1), 3),
});

/** How the print's sizes would affect the choice of a device. */
const effectsJson = (effects: readonly DeviceEffect[]) =>
  effects.map((e) => ({
    vessel: e.vessel,
    calibre_mm: rounded(e.calibreMm, 3),
    read_mm: rounded(e.readMm, 3),
    device_code: e.code ?? null,
    read_device_code: e.readCode ?? null,
  }));

/** A scan of the print; `figures`: names of the files written. */
function surfaceJson(
  scan: ScanOfPrint,
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
      ...(r.sizeOff && {
        size_bias_mm: rounded(r.sizeOff.mm, 4),
        size_bias_interval_99_mm: r.sizeOff.interval99Mm.map((b) => rounded(b, 4)),
      }),
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
