import { coordinates, fixed, rangeText } from '../../foundation/number-text.js';
import type { DistanceStatistics } from '../../geometry/register/surface-distance.js';
import type { DeviceEffect } from '../../print/device-effect.js';
import type { Proof, ProofGroup, Verdict } from '../../print/proof.js';
import { isHandednessOpen, overallVerdict, type Proofs, type ScanOfPrint } from '../../print/proofs.js';
import type { SurfaceProof } from '../../print/surface-proof.js';
import { sourceText } from '../../rules/source-text.js';
import { plainLine } from '../plain-line.js';

const VERDICTS: Record<Verdict, string> = {
  proved: 'PROVED: the print agrees with its model',
  biased: 'BIASED: within tolerance, but off by what is named below',
  'not-proved': 'NOT PROVED: do not rely on this print',
};

function verdictText(proofs: Proofs): string {
  const verdict = overallVerdict(proofs);
  return verdict === 'proved' && isHandednessOpen(proofs)
    ? `${VERDICTS.proved} in size; whether it is mirrored was not checked`
    : VERDICTS[verdict];
}

/** The limits of a proved print. */
const NOT_FOR =
  "Not sterile. Not for choosing a device size on the model: size on the patient's images. A true print of a wrong segmentation is still wrong. Local protocols come first.";

/** Every reason, those of the scan first. */
export function allBecause({ readings, surface, effects }: Proofs): string[] {
  return [
    ...(surface?.proof.because ?? []),
    ...(readings?.proof.because ?? []),
    ...(effects ?? []).map(effectText),
  ];
}

function effectText(e: DeviceEffect): string {
  const none = 'no device on the shelf';
  const sizes = `${e.vessel} would be taken for ${fixed(e.readMm, 2)} mm in place of ${fixed(e.calibreMm, 2)} mm`;
  return e.code === e.readCode
    ? `${sizes}: the choice of ${plainLine(e.code ?? none)} would not change.`
    : `${sizes}: ${plainLine(e.readCode ?? none)} would be chosen in place of ${plainLine(e.code ?? none)}.`;
}

/** The comparison as lines of text. */
export function proofText(caseId: string, proofs: Proofs): string {
  const { readings, surface } = proofs;
  const lines = [
    `Print of ${caseId}: ${verdictText(proofs)}`,
    ...allBecause(proofs).map((b) => `  ${b}`),
    '',
    ...(surface ? surfaceLines(surface.scan, surface.proof) : []),
    ...(surface && readings ? [''] : []),
    ...(readings ? readingLines(readings.instrument, readings.proof) : []),
    NOT_FOR,
  ];
  return `${lines.join('\n')}\n`;
}

function readingLines(instrument: string | undefined, proof: Proof): string[] {
  const lines: string[] = [];
  if (instrument !== undefined) lines.push(`Instrument: ${plainLine(instrument)}`);
  if (proof.rows.length > 0) {
    lines.push('point  expected  reading  difference  tolerance (mm)');
    for (const r of proof.rows)
      lines.push(
        `${r.name.padEnd(5)}${fixed(r.expectedMm, 2).padStart(10)}${fixed(r.readingMm, 2).padStart(9)}${fixed(r.differenceMm, 2).padStart(12)}${fixed(r.toleranceMm, 2).padStart(11)}${r.isOut ? '  OUT' : r.isWithin ? '' : '  within reading error'}`,
      );
  }
  if (proof.notRead.length > 0) lines.push(`Not read: ${proof.notRead.join(', ')}`);
  if (proof.worst) lines.push(`Worst point: ${proof.worst.name}, ${fixed(proof.worst.differenceMm, 2)} mm`);
  if (proof.diameters) lines.push(...groupLines('Diameters', proof.diameters));
  if (proof.spans) lines.push(...groupLines('Spans, widths and tag', proof.spans));
  if (proof.diameters ?? proof.spans)
    lines.push(
      `Source of bias and limits of agreement: ${sourceText('bland-altman-1986')}; of repeated readings ${sourceText('bland-altman-1999')}`,
    );
  for (const v of proof.vessels)
    lines.push(
      `${v.name}: ${v.points} ${v.points === 1 ? 'diameter' : 'diameters'}, bias ${fixed(v.biasMm, 2)} mm (99 % interval ${rangeText(v.interval99Mm, 2, 'mm')})${v.deviceChangeMm === undefined ? '' : `; another device from ${fixed(v.deviceChangeMm, 2)} mm on`}`,
    );
  const { repeats, gaugeStudy: study } = proof;
  if (repeats)
    lines.push(
      `Repeated readings of one point: standard deviation ${fixed(repeats.withinMm, 3)} mm; two of them differ by up to ${fixed(repeats.repeatabilityMm, 2)} mm (95 %)`,
    );
  if (study)
    lines.push(
      `Gauge study of the diameters (${study.parts} points, ${study.readers} ${study.readers === 1 ? 'reader' : 'readers'}, ${study.rounds} rounds): repeatability ${fixed(study.equipmentMm, 3)} mm${study.appraiserMm === undefined ? '' : `, between readers ${fixed(study.appraiserMm, 3)} mm`}, both ${fixed(study.gaugeMm, 3)} mm, as standard deviations (${sourceText('msa-average-range')})`,
    );
  return lines;
}

function groupLines(title: string, g: ProofGroup): string[] {
  const lines = [
    `${title}: ${g.readings} readings of ${g.count} points; bias ${fixed(g.biasMm, 2)} mm (95 % interval ${rangeText(g.interval95Mm, 2, 'mm')}); limits of agreement ${rangeText(g.limitsMm, 2, 'mm')}`,
  ];
  if (g.scale)
    lines.push(
      `  scale ${fixed(100 * g.scale.factor, 2)} % of the model's (95 % interval ${g.scale.interval95.map((f) => fixed(100 * f, 2)).join(' to ')} %), by regression through the origin`,
    );
  return lines;
}

const FROM: Record<ScanOfPrint['unit']['from'], string> = {
  flag: 'as --unit says',
  file: 'as the file states',
  assumed: 'assumed: the file states none',
};

const percent = (share: number): string => `${fixed(100 * share, 1)} %`;

function surfaceLines(scan: ScanOfPrint, proof: SurfaceProof): string[] {
  const { registration: fit, regions, scale } = proof;
  const lines = [
    `Scan: ${plainLine(scan.shown)}, ${scan.mesh.triangles.length / 3} triangles, unit ${scan.unit.used} (${FROM[scan.unit.from]})`,
  ];
  if (proof.distancesAbsentBecause !== undefined) lines.push(`No distances: ${proof.distancesAbsentBecause}`);
  if (fit) {
    lines.push(
      `Laid over the model by turn and shift alone (${fit.points} points, ${fit.iterations} steps): turned by ${fixed(fit.turnDeg, 1)}°, shifted by ${coordinates(fit.pose.translationMm, 2)} mm`,
      'distance (mm)       mean    RMS   95 %  largest   bias',
      distanceLine('scan to model', fit.movingToFixed),
      distanceLine('model to scan', fit.fixedToMoving),
      'Bias is positive where the scan lies outside. The largest of both ways is the Hausdorff distance of the points looked at.',
      `The scan shows ${percent(proof.covered ?? 0)} of the model without its tag; ${percent(proof.extra ?? 0)} of the scan lies beside the model.`,
      'structure      tolerance   shown   bias   95 %  out of tolerance',
      ...regions.map(
        (r) =>
          `${r.name.padEnd(15)}${fixed(r.toleranceMm, 2).padStart(9)}${percent(r.covered).padStart(8)}${numberOr(r.biasMm).padStart(7)}${numberOr(r.p95Mm).padStart(7)}${(r.outShare === undefined ? 'none' : percent(r.outShare)).padStart(18)}${r.isWithin ? '' : '  OUT'}`,
      ),
    );
  }
  if (scale) {
    const interval = scale.interval
      ? ` (95 % interval ${scale.interval.map((f) => fixed(100 * f, 2)).join(' to ')} %)`
      : '';
    const offset = fit?.scale
      ? `; apart from it the scan lies ${fixed(Math.abs(fit.scale.offsetMm), 2)} mm ${fit.scale.offsetMm < 0 ? 'inside' : 'outside'} all over`
      : '';
    lines.push(
      `Scale ${fixed(100 * scale.factor, 2)} % of the model's${interval}${offset}; nothing was rescaled`,
    );
  }
  return lines;
}

const numberOr = (value: number | undefined): string => (value === undefined ? 'none' : fixed(value, 2));

const distanceLine = (what: string, d: DistanceStatistics): string =>
  `${what.padEnd(16)}${[d.meanMm, d.rmsMm, d.p95Mm].map((x) => fixed(x, 2).padStart(7)).join('')}${fixed(d.largestMm, 2).padStart(9)}${fixed(d.biasMm, 2).padStart(7)}`;
