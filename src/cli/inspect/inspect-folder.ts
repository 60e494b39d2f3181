import { open, opendir } from 'node:fs/promises';
import { join } from 'node:path';
import { shownPath } from '../../case/case-files.js';
import { InputFailure } from '../../foundation/failure.js';
import type { Finding } from '../../foundation/finding.js';
import { refuse } from '../../mesh/read/mesh-file.js';
import { type DicomFacts, dicomFacts, isDicom } from '../../mesh/recognise/dicom-facts.js';
import { joinedIdentity } from '../../mesh/recognise/identity.js';
import type { Identity } from '../../mesh/recognise/identity-fields.js';
import type { GreyVolume } from '../../volume/ct/grey-volume.js';

/** Enough for the header of an image; the rest is not needed. */
export const HEADER_BYTES = 256 * 1024;
const MOST_FILES = 20_000;

/** The content of a file or folder. */
export interface Report {
  json: Record<string, unknown>;
  text: string;
  identity: Identity;
  /** Findings on a CT series or a label map. */
  findings?: Finding[];
  volume?: GreyVolume;
}

/** The first bytes of a file, at most `length`. */
export async function readStart(path: string, length: number): Promise<Uint8Array> {
  const handle = await open(path, 'r');
  try {
    const start = new Uint8Array(length);
    const { bytesRead } = await handle.read(start, 0, length, 0);
    return start.subarray(0, bytesRead);
  } finally {
    await handle.close();
  }
}

interface Series {
  facts: DicomFacts;
  files: number;
}

/** The series of a folder, and the geometry of the CT series as stacks of slices. */
export async function inspectFolder(path: string): Promise<Report> {
  const series = new Map<string, Series>();
  let others = 0;
  const names: string[] = [];
  for await (const entry of await opendir(path)) {
    if (entry.isFile()) names.push(entry.name);
    if (names.length > MOST_FILES) {
      refuse(shownPath(path), '', `more than ${MOST_FILES} files`, 'Give the folder of one series');
    }
  }
  names.sort();
  let damaged = 0;
  for (const name of names) {
    const start = await readStart(join(path, name), HEADER_BYTES);
    if (!isDicom(start)) {
      others++;
      continue;
    }
    // the name of a file may identify a patient, so damaged files are only counted
    const facts = await dicomFacts(start, '').catch((error: unknown) => {
      if (!(error instanceof InputFailure)) throw error;
      return undefined;
    });
    if (facts === undefined) {
      damaged++;
      continue;
    }
    const key = `${facts.seriesKey}\n${facts.sopClass}`;
    const known = series.get(key);
    if (known) {
      known.files++;
      known.facts.identity = joinedIdentity([known.facts.identity, facts.identity]);
    } else series.set(key, { facts, files: 1 });
  }
  if (series.size === 0)
    refuse(
      shownPath(path),
      '',
      damaged > 0 ? `its ${damaged} DICOM files are damaged` : 'the folder contains no DICOM files',
      damaged > 0 ? 'Copy them again' : 'Give a mesh file or a DICOM folder',
    );
  const report = seriesReport([...series.values()], others);
  const hasCt = [...series.values()].some(({ facts }) => facts.modality === 'CT');
  return hasCt || damaged > 0 ? withScan(report, path) : report;
}

/** Adds the geometry of the CT series as stacks of slices to a report. */
export async function withScan(report: Report, path: string): Promise<Report> {
  const { scanReport } = await import('./inspect-scan.js');
  const { json, lines, findings, volume } = await scanReport(path, shownPath(path));
  return {
    ...report,
    json: { ...report.json, ...json },
    text: `${report.text}${lines.map((line) => `${line}\n`).join('')}`,
    findings,
    ...(volume && { volume }),
  };
}

/** The series of a folder as JSON and lines; `others` are files of no series. */
export function seriesReport(series: readonly Series[], others: number): Report {
  const json = {
    format: 'pavm-inspect/1',
    kind: 'dicom',
    series_count: series.length,
    other_files: others,
    series: series.map(({ facts, files }) => ({
      kind: facts.kind,
      sop_class: facts.sopClass,
      modality: facts.modality,
      files,
      ...(facts.rows ? { rows: facts.rows } : {}),
      ...(facts.columns ? { columns: facts.columns } : {}),
      ...(facts.frames ? { frames: facts.frames } : {}),
      ...(facts.sliceThicknessMm === undefined ? {} : { slice_thickness_mm: facts.sliceThicknessMm }),
      ...(facts.pixelSpacingMm ? { pixel_spacing_mm: facts.pixelSpacingMm } : {}),
      transfer_syntax: facts.transferSyntax,
      identified: facts.identity.by.length > 0 ? 'yes' : 'no',
    })),
  };
  const lines = [`format               DICOM, ${series.length} series`];
  if (others > 0) lines.push(`other files          ${others}`);
  for (const { facts, files } of series) {
    const parts = [`${facts.kind}, modality ${facts.modality}`, `${files} ${files === 1 ? 'file' : 'files'}`];
    if (facts.frames) parts.push(`${facts.frames} frames`);
    if (facts.rows && facts.columns) parts.push(`${facts.rows} rows x ${facts.columns} columns`);
    parts.push(
      facts.sliceThicknessMm === undefined
        ? 'slice thickness not stated'
        : `slice thickness ${facts.sliceThicknessMm} mm`,
    );
    if (facts.pixelSpacingMm) parts.push(`in-plane ${facts.pixelSpacingMm.join(' x ')} mm`);
    lines.push(`series               ${parts.join(', ')}`);
  }
  const identity = joinedIdentity(series.map(({ facts }) => facts.identity));
  return { json, text: `${lines.join('\n')}\n`, identity };
}
