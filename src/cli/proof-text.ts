import { fixed } from '../foundation/number-text.js';
import type { Proof } from '../print/proof.js';
import { plainLine } from '../report/plain-line.js';
import { sourceText } from '../rules/source-text.js';

const VERDICTS: Record<Proof['verdict'], string> = {
  pass: 'PASS: the print agrees with its model',
  fail: 'FAIL: do not rely on this print',
  'too-few': 'NOT PROVED: too few readings',
};

/** The comparison as lines of text. */
export function proofText(caseId: string, instrument: string | undefined, proof: Proof): string {
  const lines = [`Print of ${caseId}: ${VERDICTS[proof.verdict]}`, ...proof.because.map((b) => `  ${b}`), ''];
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
  lines.push('A true print of a wrong segmentation is still wrong. Local protocols come first.');
  return `${lines.join('\n')}\n`;
}
