import { dirname, join } from 'node:path';
import type { Case } from '../../case/case.js';
import { type Contradiction, scanContradictions } from '../../case/check-scan.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { type Finding, finding } from '../../foundation/finding.js';
import { fixed, rounded } from '../../foundation/number-text.js';
import { quoted } from '../../foundation/quoted-text.js';
import type { Result } from '../../result/result.generated.js';
import { numberOf, type Rules } from '../../rules/rule.js';
import { type GreyVolume, volumeHash } from '../../volume/ct/grey-volume.js';
import { planeOf } from '../../volume/ct/slice-stack.js';
import { type OpenScan, openScan, scanLine } from './open-scan.js';

/** The scan of a case, and the case with its missing fields filled in. */
export interface CaseScan {
  case: Case;
  open?: OpenScan;
  scan: NonNullable<Result['scan']>;
  findings: Finding[];
}

/** The problems with the scan of a case: contradictions with its fields, and faults that make the series unusable. */
export interface ScanProblems {
  contradictions: Contradiction[];
  /** Whole sentences that begin with the name of the series. */
  unusable: string[];
}

/** Opens the series of a case and compares its header with the case. Only headers are read. */
export async function examineScan(
  patientCase: Pick<Case, 'scan'>,
  rules: Rules,
): Promise<{ open: OpenScan; problems: ScanProblems }> {
  const series = patientCase.scan.series!;
  const shown = quoted(series.relative);
  const open = await openScan(series.absolute, shown, rules, patientCase.scan.seriesNumber);
  const header = {
    date: open.facts?.date,
    thicknessMm: open.stackFacts?.thicknessMm ?? open.thicknessMm,
    stepMm: open.stackFacts?.spacingMm[2],
    inPlaneMm: open.inPlaneMm,
  };
  return {
    open,
    problems: {
      contradictions: scanContradictions(patientCase.scan, header, numberOf(rules, 'scan-agrees') / 100),
      unusable: open.problems.map((text) => scanLine(shown, text)),
    },
  };
}

/** The row of a series in the list of inputs: a hash of its values and positions, with 16 bits per voxel; its files do not count. */
export function scanInput(path: string, volume: GreyVolume): Result['inputs'][number] {
  return { path, sha256: volumeHash(volume), bytes: volume.values.byteLength };
}

/**
 * The scan of a case, with missing fields of the case filled in. Without a series nothing is read, and a note says so. Throws
 * `InputFailure` with all problems at once: 2 if a field of the case contradicts the header, else 3.
 */
export async function scanOfCase(patientCase: Case, typed: string, rules: Rules): Promise<CaseScan> {
  if (!patientCase.scan.series)
    return {
      case: patientCase,
      scan: { agrees: 'unchecked' },
      findings: [
        finding(
          'note',
          'images-not-checked',
          'scan.series',
          'No CT series in the case: nothing was checked against the images.',
        ),
      ],
    };
  const { open, problems } = await examineScan(patientCase, rules);
  const { contradictions, unusable } = problems;
  const place = (path: string): string => `${join(dirname(typed), patientCase.locate(path))} ${path}`;
  if (contradictions.length + unusable.length > 0) {
    const faults = open.findings
      .filter(({ level }) => level === 'stop')
      .map(({ text }) => scanLine(quoted(patientCase.scan.series!.relative), text));
    throw new InputFailure(contradictions.length > 0 ? EXIT.usage : EXIT.input, [
      ...contradictions.map(({ path, text }) => `${place(path)}: ${text}`),
      ...[...unusable, ...faults].map((text) => `${place('scan.series')}: ${text}`),
    ]);
  }
  return filled(patientCase, open);
}

function filled(patientCase: Case, open: OpenScan): CaseScan {
  const { facts, stack, stackFacts } = open;
  if (!facts || !stack || !stackFacts) throw new RangeError('a scan without problems has a stack');
  const { spacingMm, thicknessMm, gaps, tiltDeg } = stackFacts;
  const scan = { ...patientCase.scan };
  const read: string[] = [];
  if (scan.date === undefined && facts.date !== undefined) {
    scan.date = facts.date;
    read.push(`date ${facts.date}`);
  }
  if (scan.sliceThicknessMm === undefined) {
    // tissue between slices that are thinner than their step was not imaged
    scan.sliceThicknessMm = rounded(Math.max(spacingMm[2], ...[thicknessMm ?? 0].flat()), 4);
    read.push(`slice thickness ${fixed(scan.sliceThicknessMm, 2)} mm`);
  }
  if (scan.inPlaneMm === undefined) {
    scan.inPlaneMm = rounded(Math.max(spacingMm[0], spacingMm[1]), 4);
    read.push(`in-plane spacing ${fixed(scan.inPlaneMm, 3)} mm`);
  }
  const findings = [...open.findings];
  if (read.length > 0)
    findings.push(
      finding(
        'note',
        'scan-filled',
        'scan',
        `Read from the series, since the case does not state it: ${read.join(', ')}.`,
      ),
    );
  const mm = (x: number): number => rounded(x, 4);
  return {
    case: { ...patientCase, scan },
    open,
    findings,
    scan: {
      agrees: 'yes',
      slices: stack.slices,
      spacing_mm: [mm(spacingMm[0]), mm(spacingMm[1]), mm(spacingMm[2])],
      ...(thicknessMm !== undefined && {
        thickness_mm: Array.isArray(thicknessMm) ? thicknessMm.map(mm) : mm(thicknessMm),
      }),
      gaps: gaps.map(({ afterMm, stepMm }) => ({ after_mm: mm(afterMm), step_mm: mm(stepMm) })),
      tilt_deg: rounded(tiltDeg, 3),
      plane: planeOf(stack.normal),
      ...(facts.patientPosition !== undefined && { patient_position: facts.patientPosition }),
      ...(facts.kernel !== undefined && { kernel: facts.kernel }),
      ...(facts.kilovolts !== undefined && { tube_voltage_kv: facts.kilovolts }),
      contrast: facts.contrast,
      ...(facts.date !== undefined && { date: facts.date }),
    },
  };
}
