import { fixed } from '../foundation/number-text.js';
import type { DistanceStatistics } from '../geometry/register/surface-distance.js';
import type { Proof } from '../print/proof.js';
import type { SurfaceProof } from '../print/surface-proof.js';
import { plainLine } from '../report/plain-line.js';
import { sourceText } from '../rules/source-text.js';
import type { ScanSurface } from './read-scan.js';

/** Both proofs in one word. */
export type OverallVerdict = Proof['verdict'] | SurfaceProof['verdict'];

const VERDICTS: Record<OverallVerdict, string> = {
  pass: 'PASS: the print agrees with its model',
  fail: 'FAIL: do not rely on this print',
  'too-few': 'NOT PROVED: too few readings',
  'not-proved': 'NOT PROVED',
};

/** What was held against the model. */
export interface Proofs {
  readings?: { instrument?: string; proof: Proof };
  surface?: { scan: ScanSurface; proof: SurfaceProof };
}

/** A failed proof outweighs one that proves nothing, and that one a passed one. */
export function overallVerdict({ readings, surface }: Proofs): OverallVerdict {
  const verdicts = [readings?.proof.verdict, surface?.proof.verdict].filter((v) => v !== undefined);
  return verdicts.find((v) => v === 'fail') ?? verdicts.find((v) => v !== 'pass') ?? 'pass';
}

/** The comparison as lines of text. */
export function proofText(caseId: string, proofs: Proofs): string {
  const { readings, surface } = proofs;
  const because = [...(surface?.proof.because ?? []), ...(readings?.proof.because ?? [])];
  const lines = [
    `Print of ${caseId}: ${VERDICTS[overallVerdict(proofs)]}`,
    ...because.map((b) => `  ${b}`),
    '',
    ...(surface ? surfaceLines(surface.scan, surface.proof) : []),
    ...(surface && readings ? [''] : []),
    ...(readings ? readingLines(readings.instrument, readings.proof) : []),
    'A true print of a wrong segmentation is still wrong. Local protocols come first.',
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
        `${r.name.padEnd(5)}${fixed(r.expectedMm, 2).padStart(10)}${fixed(r.readingMm, 2).padStart(9)}${fixed(r.differenceMm, 2).padStart(12)}${fixed(r.toleranceMm, 2).padStart(11)}${r.isWithin ? '' : '  OUT'}`,
      );
  }
  if (proof.notRead.length > 0) lines.push(`Not read: ${proof.notRead.join(', ')}`);
  if (proof.worst) lines.push(`Worst point: ${proof.worst.name}, ${fixed(proof.worst.differenceMm, 2)} mm`);
  if (proof.biasMm !== undefined && proof.limitsOfAgreementMm)
    lines.push(
      `Bias ${fixed(proof.biasMm, 2)} mm; limits of agreement ${proof.limitsOfAgreementMm.map((l) => fixed(l, 2)).join(' to ')} mm (${sourceText('bland-altman-1986')})`,
    );
  if (proof.scale)
    lines.push(
      `Scale ${fixed(100 * proof.scale.factor, 2)} % of the model's (95 % interval ${proof.scale.interval.map((f) => fixed(100 * f, 2)).join(' to ')} %), by regression through the origin`,
    );
  return lines;
}

const FROM: Record<ScanSurface['unit']['from'], string> = {
  flag: 'as --unit says',
  file: 'as the file states',
  assumed: 'assumed: the file states none',
};

const percent = (share: number): string => `${fixed(100 * share, 1)} %`;

function surfaceLines(scan: ScanSurface, proof: SurfaceProof): string[] {
  const { registration: fit, regions, scale } = proof;
  const lines = [
    `Scan: ${plainLine(scan.shown)}, ${scan.mesh.triangles.length / 3} triangles, unit ${scan.unit.used} (${FROM[scan.unit.from]})`,
  ];
  if (proof.distancesAbsentBecause !== undefined) lines.push(`No distances: ${proof.distancesAbsentBecause}`);
  if (fit) {
    lines.push(
      `Laid over the model by turn and shift alone (${fit.points} points, ${fit.iterations} steps): turned by ${fixed(fit.turnDeg, 1)}°, shifted by ${fit.pose.translationMm.map((c) => fixed(c, 2)).join(', ')} mm`,
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
