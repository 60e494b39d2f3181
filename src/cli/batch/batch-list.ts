import { addTo } from '../../foundation/add-to.js';
import { basename, dirname, join, relative, resolve } from 'node:path';
import { failedRow, type Row } from '../../batch/row.js';
import { type Shard, shardOf } from '../../batch/shard.js';
import { type CaseOnDisk, readCase, shownPath } from '../../case/read-case.js';
import { patientFileOf, type PatientOnDisk, readPatient } from '../../case/read-patient.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { quoted } from '../../foundation/quoted-text.js';
import { caseInputs, filesOfPatient } from '../output/case-inputs.js';

/** One case that is to be computed. */
export interface BatchCase {
  name: string;
  /** As typed. */
  path: string;
  /** The case, or the patient with several lesions, as it stands on disk. */
  onDisk: { case: CaseOnDisk } | { patient: PatientOnDisk };
  /** Absolute paths of everything that it reads. */
  inputs: string[];
  planFolder: string;
  /** The same for messages, as the user named it. */
  planTyped: string;
  /** From the folder of the summary, with forward slashes. */
  planShown: string;
  /** Bytes of its meshes and images. */
  bytes: number;
}

/** The cases of a run, or of this machine's share of it, and the rows of those that cannot even be read. */
export interface BatchList {
  cases: BatchCase[];
  failed: Row[];
}

/**
 * Reads every case file named, in the order of their paths. A case that cannot be read, or whose id another one has too, becomes a
 * failed row; the others go on. Sharing out is done over the whole list, so that every machine sees the same one.
 */
export async function batchList(
  paths: readonly string[],
  options: { out?: string; root?: string; shard?: Shard },
): Promise<BatchList> {
  const base = options.out ?? '.';
  const seen = new Map<string, string>();
  for (const path of [...paths].sort((a, b) => (a < b ? -1 : a > b ? 1 : 0))) {
    const key = resolve(basename(path) === 'case.yaml' ? dirname(path) : path);
    if (!seen.has(key)) seen.set(key, path);
  }
  const entries: Entry[] = [];
  for (const path of seen.values()) entries.push({ path, ...(await readOne(path, options.root)) });
  failSameIds(entries);
  const mine = shardOf(entries, options.shard);
  return {
    failed: mine.flatMap(({ failed }) => failed ?? []),
    cases: mine.flatMap(({ path, read, failed }) => {
      if (read === undefined || failed !== undefined) return [];
      const name = read.id;
      const planFolder = options.out === undefined ? join(read.folder, 'plan') : join(options.out, name);
      const planTyped = options.out === undefined ? relative(process.cwd(), planFolder) : planFolder;
      const planShown = relative(resolve(base), resolve(planFolder)).split('\\').join('/');
      const { onDisk, inputs, bytes } = read;
      return [{ name, path, onDisk, inputs, planFolder, planTyped, planShown, bytes }];
    }),
  };
}

/** A case or a patient as it was read, or why it cannot be. */
interface Entry {
  path: string;
  read?: {
    id: string;
    typed: string;
    folder: string;
    inputs: string[];
    bytes: number;
    onDisk: BatchCase['onDisk'];
  };
  failed?: Row;
}

const sizeOf = ({ inputs }: CaseOnDisk): number =>
  inputs.reduce((sum, { role, size }) => (role === 'shelf' ? sum : sum + size), 0);

async function readOne(path: string, root: string | undefined): Promise<Omit<Entry, 'path'>> {
  try {
    const patient = await patientFileOf(path);
    if (patient !== undefined) {
      const onDisk = await readPatient(patient, { root });
      const bytes = onDisk.lesions.reduce((sum, one) => sum + (one.onDisk ? sizeOf(one.onDisk) : 0), 0);
      const { typed, folder } = onDisk;
      return {
        read: {
          id: onDisk.patient.shared.id,
          typed,
          folder,
          inputs: filesOfPatient(onDisk),
          bytes,
          onDisk: { patient: onDisk },
        },
      };
    }
    const onDisk = await readCase(path, { root });
    const { typed, folder } = onDisk;
    return {
      read: {
        id: onDisk.case.id,
        typed,
        folder,
        inputs: caseInputs(onDisk),
        bytes: sizeOf(onDisk),
        onDisk: { case: onDisk },
      },
    };
  } catch (error) {
    if (!(error instanceof InputFailure)) throw error;
    return { failed: failedRow(folderName(path), error.exitCode, error.problems) };
  }
}

/** What a case is called that could not be read. */
function folderName(path: string): string {
  const full = resolve(path);
  return shownPath(basename(/\.ya?ml$/.test(full) ? dirname(full) : full));
}

function failSameIds(entries: Entry[]): void {
  const byId = new Map<string, Entry[]>();
  for (const entry of entries) {
    const id = entry.read?.id;
    if (id !== undefined) addTo(byId, id, entry);
  }
  for (const [id, same] of byId) {
    if (same.length < 2) continue;
    const list = same.map(({ path }) => shownPath(path)).join(', ');
    for (const entry of same)
      entry.failed = failedRow(folderName(entry.path), EXIT.usage, [
        `${entry.read?.typed} id: ${quoted(id)} is the id of several cases: ${list}. Ids must differ within a batch.`,
      ]);
  }
}
