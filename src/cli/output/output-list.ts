import { createHash } from 'node:crypto';
import { lstat, readFile } from 'node:fs/promises';
import { join } from 'node:path';

/** One file of an output folder; `path` with forward slashes, relative to it. */
export interface OutputFile {
  path: string;
  bytes: string | Uint8Array;
}

/** An output file whose text is encoded. */
export interface EncodedFile extends OutputFile {
  bytes: Uint8Array;
}

/** The kind of an output folder. A folder of one kind never replaces one of another. */
export type OutputKind = 'plan' | 'print' | 'proof' | 'surfaces';

/** The list of the files that this program wrote to a folder; its content, not file names, proves that they are ours. */
export interface OutputList {
  format: 'pavm-output/1';
  kind: OutputKind;
  files: { path: string; sha256: string; bytes: number }[];
}

/** Name of the list in each output folder. */
export const LIST_NAME = 'outputs.json';

const FORMAT = 'pavm-output/1';
const KINDS: ReadonlySet<string> = new Set(['plan', 'print', 'proof', 'surfaces']);
/** Largest list that is accepted, bytes; ours have about 100 bytes per file. */
const MOST_BYTES = 4 * 1024 * 1024;

export const sha256Hex = (bytes: string | Uint8Array): string =>
  createHash('sha256').update(bytes).digest('hex');

/** The same files with text as UTF-8, encoded once for everything that reads it. */
export const encoded = (files: readonly OutputFile[]): EncodedFile[] =>
  files.map(({ path, bytes }) => ({ path, bytes: typeof bytes === 'string' ? Buffer.from(bytes) : bytes }));

/** The list of `files`, sorted by path, as a file to write with them. */
export function listFile(kind: OutputKind, files: readonly EncodedFile[]): OutputFile {
  const rows = files
    .map(({ path, bytes }) => ({ path, sha256: sha256Hex(bytes), bytes: bytes.length }))
    .sort((a, b) => (a.path < b.path ? -1 : 1));
  const list: OutputList = { format: FORMAT, kind, files: rows };
  return { path: LIST_NAME, bytes: `${JSON.stringify(list, null, 2)}\n` };
}

/** The list of a folder; undefined if there is none or it is not ours, that is another format or a path outside the folder. */
export async function readList(folder: string): Promise<OutputList | undefined> {
  const path = join(folder, LIST_NAME);
  const facts = await lstat(path).catch(() => undefined);
  if (!facts?.isFile() || facts.size > MOST_BYTES) return undefined;
  const text = await readFile(path, 'utf8').catch(() => '');
  return parseList(text);
}

function parseList(text: string): OutputList | undefined {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    return undefined;
  }
  if (typeof value !== 'object' || value === null) return undefined;
  const { format, kind, files } = value as Record<string, unknown>;
  if (format !== FORMAT || typeof kind !== 'string' || !KINDS.has(kind) || !Array.isArray(files))
    return undefined;
  return files.every(isRow) ? (value as OutputList) : undefined;
}

function isRow(row: unknown): boolean {
  if (typeof row !== 'object' || row === null) return false;
  const { path, sha256, bytes } = row as Record<string, unknown>;
  return (
    typeof path === 'string' &&
    staysInside(path) &&
    typeof sha256 === 'string' &&
    /^[0-9a-f]{64}$/.test(sha256) &&
    typeof bytes === 'number'
  );
}

/** Whether a listed path is plain, relative and without `..`. */
export function staysInside(path: string): boolean {
  return (
    path.length > 0 &&
    path.length < 1000 &&
    !/[\0\\]/.test(path) &&
    path.split('/').every((step) => step !== '' && step !== '.' && step !== '..')
  );
}
