import { InputFailure } from '../../foundation/failure.js';
import { type Finding, finding } from '../../foundation/finding.js';
import { fixed, rounded } from '../../foundation/number-text.js';
import { rulesInForce } from '../../rules/rules-in-force.js';
import { type GreyVolume, volumeHash } from '../../volume/ct/grey-volume.js';
import type { CtSeries } from '../../volume/ct/read-series.js';
import { planeOf } from '../../volume/ct/slice-stack.js';
import { openScan } from '../scan/open-scan.js';

/** The report of `pavm inspect` on the CT series at a path, beyond the facts of single files. */
export interface ScanReport {
  json: { ct_series: Record<string, unknown>[] };
  lines: string[];
  findings: Finding[];
  /** The voxels, if there is one usable series. */
  volume?: GreyVolume;
}

/**
 * Geometry, header facts and faults of every CT series of a folder or multi-frame object. If there is one usable series, its pixels are
 * read too, for the range of its values and the hash by which a plan identifies it.
 */
export async function scanReport(path: string, shown: string): Promise<ScanReport> {
  const open = await openScan(path, shown, await rulesInForce());
  const series = open.folder?.series ?? [];
  const reports: ScanReport['json']['ct_series'] = [];
  const lines: string[] = [];
  const findings: Finding[] = [];
  let volume: GreyVolume | undefined;
  for (const one of series) {
    const where = one.facts.seriesNumber === undefined ? shown : `${shown} series ${one.facts.seriesNumber}`;
    const faults = [
      ...one.problems.map((text) => finding('stop', 'scan-unusable', where, text)),
      ...one.findings.map((f) => ({ ...f, where })),
    ];
    let values: { json: Record<string, unknown>; line: string } | undefined;
    if (series.length === 1 && one.problems.length === 0) {
      try {
        volume = await open.voxels();
        values = valuesOf(volume);
      } catch (error) {
        if (!(error instanceof InputFailure)) throw error;
        faults.push(
          ...error.problems.map((line) =>
            finding('stop', 'scan-unusable', where, line.replace(`${shown}: `, '')),
          ),
        );
      }
    }
    reports.push({
      ...seriesJson(one),
      ...values?.json,
      usable: faults.every(({ id }) => id !== 'scan-unusable') ? 'yes' : 'no',
      findings: faults.map(({ id, level, text }) => ({ id, level, text })),
    });
    lines.push(...seriesLines(one), ...(values ? [values.line] : []));
    findings.push(...faults);
  }
  return { json: { ct_series: reports }, lines, findings, ...(volume && { volume }) };
}

const mm = (x: number): number => rounded(x, 4);

function seriesJson({ facts, sliceCount, columns, rows, packing, stack, stackFacts, thicknessMm }: CtSeries) {
  return {
    ...(facts.seriesNumber !== undefined && { series_number: facts.seriesNumber }),
    slices: sliceCount,
    columns,
    rows,
    ...(stackFacts && {
      spacing_mm: stackFacts.spacingMm.map(mm),
      gaps: stackFacts.gaps.map((gap) => ({ after_mm: mm(gap.afterMm), step_mm: mm(gap.stepMm) })),
      tilt_deg: rounded(stackFacts.tiltDeg, 3),
    }),
    ...(thicknessMm !== undefined && { thickness_mm: stackFacts?.thicknessMm ?? mm(thicknessMm) }),
    ...(stack && { plane: planeOf(stack.normal) }),
    ...(facts.patientPosition !== undefined && { patient_position: facts.patientPosition }),
    ...(facts.date !== undefined && { date: facts.date }),
    ...(facts.kernel !== undefined && { kernel: facts.kernel }),
    ...(facts.kilovolts !== undefined && { tube_voltage_kv: facts.kilovolts }),
    contrast: facts.contrast,
    pixel_data: packing,
  };
}

function seriesLines({
  facts,
  sliceCount,
  columns,
  rows,
  packing,
  stack,
  stackFacts,
  thicknessMm,
}: CtSeries): string[] {
  const parts = [`${sliceCount} slices of ${columns} x ${rows}`];
  if (stack) parts.push(planeOf(stack.normal));
  if (facts.patientPosition !== undefined) parts.push(facts.patientPosition);
  if (thicknessMm !== undefined) parts.push(`${fixed(thicknessMm, 2)} mm thick`);
  if (stackFacts) {
    const [column, row, step] = stackFacts.spacingMm;
    parts.push(`pixels ${fixed(column, 3)} x ${fixed(row, 3)} mm, steps ${fixed(step, 3)} mm`);
    if (stackFacts.tiltDeg >= 0.1) parts.push(`tilt ${fixed(stackFacts.tiltDeg, 1)} degrees`);
  }
  const said = [
    `date ${facts.date ?? 'not stated'}`,
    `kernel ${facts.kernel ?? 'not stated'}`,
    facts.kilovolts === undefined ? 'tube voltage not stated' : `${fixed(facts.kilovolts, 0)} kV`,
    `contrast agent ${facts.contrast}`,
    packing.join(', ') || 'pixels not read',
  ];
  const number = facts.seriesNumber === undefined ? 'no number' : `number ${facts.seriesNumber}`;
  return [`CT series            ${number}: ${parts.join(', ')}`, `                     ${said.join(', ')}`];
}

/** Range of the Hounsfield values and the hash of the volume. */
function valuesOf(volume: GreyVolume): { json: Record<string, unknown>; line: string } {
  const counts = new Float64Array(65536);
  for (const value of volume.values) counts[value + 32768]++;
  const at = (share: number): number => {
    let rest = share * volume.values.length;
    for (let v = 0; v < counts.length; v++) {
      rest -= counts[v];
      if (counts[v] > 0 && rest <= 0) return v - 32768;
    }
    return 32767;
  };
  const [low, median, high] = [at(0), at(0.5), at(1)];
  const sha256 = volumeHash(volume);
  return {
    json: { hu: { lowest: low, median, highest: high }, sha256 },
    line: `                     ${low} to ${high} HU, median ${median}; SHA-256 of values and places ${sha256}`,
  };
}
