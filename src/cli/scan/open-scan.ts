import { opendir, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import type { Finding } from '../../foundation/finding.js';
import { openRegularFile, systemProblem } from '../../foundation/regular-file.js';
import { refuse } from '../../mesh/read/mesh-file.js';
import { isDicom } from '../../mesh/recognise/dicom-facts.js';
import type { Identity } from '../../mesh/recognise/identity-fields.js';
import type { Rules } from '../../rules/rule.js';
import { greyHeader, readGreyValues } from '../../volume/ct/grey-file.js';
import type { GreyVolume } from '../../volume/ct/grey-volume.js';
import type { SeriesFacts, SeriesFile } from '../../volume/ct/image-header.js';
import {
  DamagedSlices,
  pickSeries,
  readFolder,
  readVoxels,
  type SeriesFolder,
} from '../../volume/ct/read-series.js';
import type { SliceStack, StackFacts } from '../../volume/ct/slice-stack.js';
import { withByteSource } from '../../volume/read-label-map.js';

/** A scan with its headers read; voxels are read on demand. */
export interface OpenScan {
  /** Why it cannot be used, as sentences; one that begins with "holds" continues from the name. */
  problems: string[];
  findings: Finding[];
  facts?: SeriesFacts;
  stack?: SliceStack;
  stackFacts?: StackFacts;
  /** From the header, even if the stack cannot be used. */
  thicknessMm?: number;
  inPlaneMm?: [number, number];
  identity: Identity;
  folder?: SeriesFolder;
  /** One 16-bit copy. Throws `InputFailure` (3). */
  voxels(): Promise<GreyVolume>;
}

const MOST_FILES = 20_000;
const NOBODY: Identity = { by: [], freeText: [] };

/**
 * Opens the series at a path: a folder of DICOM slices, one DICOM object, or a NIfTI or NRRD volume. Only headers are read. `shown` is
 * the path for messages; names of files in a folder are never shown, since they may identify a patient. Throws `InputFailure` (3) if the
 * path cannot be read.
 */
export async function openScan(
  path: string,
  shown: string,
  rules: Pick<Rules, 'byId'>,
  seriesNumber?: number,
): Promise<OpenScan> {
  const isFolder = await orRefuse(shown, async () => (await stat(path)).isDirectory());
  if (isFolder) {
    const { names, folders } = await filesOf(path, shown);
    if (names.length === 0 && folders > 0)
      return unusable([
        `it contains no file, but ${folders === 1 ? 'a folder' : `${folders} folders`}. Give the folder that contains the slices.`,
      ]);
    const files = await Promise.all(
      names.map((name, i) => fileOnDisk(join(path, name), `${shown}: file ${i + 1} of ${names.length}`)),
    );
    return dicomScan(files, shown, rules, seriesNumber);
  }
  const file = await fileOnDisk(path, shown);
  if (isDicom(await file.read(0, 132))) return dicomScan([file], shown, rules, seriesNumber);
  try {
    const header = await withByteSource(path, shown, (source) => greyHeader(source, shown));
    return {
      problems: [],
      findings: [],
      facts: { contrast: 'unknown', isLossy: false, hasOtherUnits: false },
      stack: header.stack,
      stackFacts: header.stackFacts,
      inPlaneMm: [header.stackFacts.spacingMm[0], header.stackFacts.spacingMm[1]],
      identity: NOBODY,
      voxels: () => withByteSource(path, shown, (source) => readGreyValues(source, header, shown)),
    };
  } catch (error) {
    if (!(error instanceof InputFailure)) throw error;
    // the headers are those of label maps
    const problems = error.problems.map((line) =>
      line.replace(`${shown}: `, '').replaceAll('the label map', 'the scan'),
    );
    return unusable(problems);
  }
}

const unusable = (problems: string[]): OpenScan => ({
  problems,
  findings: [],
  identity: NOBODY,
  voxels: () => Promise.reject(new InputFailure(EXIT.input, problems)),
});

async function dicomScan(
  files: readonly SeriesFile[],
  shown: string,
  rules: Pick<Rules, 'byId'>,
  seriesNumber: number | undefined,
): Promise<OpenScan> {
  const folder = await readFolder(files, rules);
  const picked = pickSeries(folder, seriesNumber);
  const fail = (problems: readonly string[]): never => {
    throw new InputFailure(
      EXIT.input,
      problems.map((text) => scanLine(shown, text)),
    );
  };
  if (Array.isArray(picked))
    return {
      problems: picked,
      findings: [],
      identity: folder.identity,
      folder,
      voxels: async () => fail(picked),
    };
  const [first] = picked.slices;
  return {
    problems: picked.problems,
    findings: picked.findings,
    facts: picked.facts,
    stack: picked.stack,
    stackFacts: picked.stackFacts,
    thicknessMm: picked.thicknessMm,
    ...(first && { inPlaneMm: [first.columnSpacingMm, first.rowSpacingMm] }),
    identity: folder.identity,
    folder,
    async voxels() {
      if (picked.problems.length > 0) return fail(picked.problems);
      try {
        return await readVoxels(picked, files);
      } catch (error) {
        if (error instanceof DamagedSlices) return fail(error.problems);
        throw error;
      }
    },
  };
}

/** The problems of a scan, each prefixed with its name. */
export const scanLine = (shown: string, text: string): string => `${shown}: ${text}`;

async function filesOf(path: string, shown: string): Promise<{ names: string[]; folders: number }> {
  return orRefuse(shown, async () => {
    const names: string[] = [];
    let folders = 0;
    for await (const entry of await opendir(path)) {
      if (entry.isFile()) names.push(entry.name);
      else if (entry.isDirectory()) folders++;
      if (names.length > MOST_FILES)
        refuse(shown, '', `more than ${MOST_FILES} files`, 'Give the folder of one series');
    }
    return { names: names.sort(), folders };
  });
}

async function fileOnDisk(path: string, shown: string): Promise<SeriesFile> {
  const words = { shown, exitCode: EXIT.input } as const;
  const bytes = await orRefuse(shown, async () => (await stat(path)).size);
  return {
    bytes,
    async read(offset, length) {
      const { handle } = await openRegularFile(path, words);
      try {
        const buffer = Buffer.allocUnsafe(length);
        let filled = 0;
        while (filled < length) {
          const { bytesRead } = await handle.read(buffer, filled, length - filled, offset + filled);
          if (bytesRead === 0) break;
          filled += bytesRead;
        }
        return buffer.subarray(0, filled);
      } finally {
        await handle.close();
      }
    },
  };
}

async function orRefuse<T>(shown: string, read: () => Promise<T>): Promise<T> {
  try {
    return await read();
  } catch (error) {
    if (!(error instanceof Error && 'syscall' in error)) throw error;
    const { problem, todo } = systemProblem(error);
    return refuse(shown, '', problem, todo);
  }
}
