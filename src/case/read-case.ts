import { basename, dirname, resolve } from 'node:path';
import type { Finding } from '../foundation/finding.js';
import { decodeYaml } from '../foundation/located-yaml.js';
import { YAML_LIMITS } from '../foundation/yaml-limits.js';
import { refuseLinkOutside } from '../foundation/own-folder.js';
import { readRegularFile } from '../foundation/regular-file.js';
import type { Case, InputPath } from './case.js';
import { caseFileOf, checkedRoot, shownPath } from './case-files.js';
import { locateInput } from './confined-path.js';
import { type ExaminedCase, examineCase, type NamedInput } from './parse-case.js';

export interface ReadOptions {
  /** A folder that may hold inputs outside the case folder. */
  root?: string;
}

/** A case file as read from disk, checked, with all its inputs found. */
export interface CaseOnDisk {
  case: Case;
  findings: Finding[];
  /** The case file: `relative` is its name, `absolute` for reading only. */
  file: InputPath;
  /** Absolute folder of the case file. */
  folder: string;
  /** As typed, for messages on the terminal. */
  typed: string;
  text: string;
  /** The bytes of the case file, for its checksum. */
  bytes: Uint8Array;
  inputs: CaseInput[];
}

/** One input that the case names, in file order; `absolute` is free of symbolic links. */
export interface CaseInput extends NamedInput {
  /** Bytes; for a folder the size that the system gives. */
  size: number;
}

/** A case file as read from disk, with all faults in its text. */
export interface ExaminedFile
  extends Omit<ExaminedCase, 'inputs'>,
    Pick<CaseOnDisk, 'file' | 'folder' | 'typed' | 'text' | 'bytes'> {
  named: NamedInput[];
}

/**
 * Reads a case file, or the case file of a folder, and finds every input it names.
 * Throws InputFailure: 2 with every problem of the case file or with every path that leaves the allowed folders,
 * 3 with every input that is missing or cannot be used, each with file, line and column.
 */
export async function readCase(pathOrFolder: string, options: ReadOptions = {}): Promise<CaseOnDisk> {
  const examined = await examineCaseFile(pathOrFolder, options);
  const read = checkedFile(examined);
  const { found, caseIsWrong } = await findInputs(examined, options);
  examined.problems.throwIfAny(caseIsWrong ? 2 : 3);
  return { ...read, inputs: found };
}

/** Only the case file, for callers that do not need its inputs. Throws InputFailure (2). */
export async function readCaseFile(pathOrFolder: string): Promise<Omit<CaseOnDisk, 'inputs'>> {
  return checkedFile(await examineCaseFile(pathOrFolder));
}

function checkedFile({ problems, findings, ...rest }: ExaminedFile): Omit<CaseOnDisk, 'inputs'> {
  problems.throwIfAny();
  const { file, folder, typed, text, bytes } = rest;
  return { case: rest.case as Case, findings, file, folder, typed, text, bytes };
}

/**
 * Reads a case file, or the case file of a folder, and keeps the problems of its text in `problems`. Throws InputFailure (2) if it cannot
 * be read, or is not a YAML file of the format.
 */
export async function examineCaseFile(
  pathOrFolder: string,
  { root }: ReadOptions = {},
): Promise<ExaminedFile> {
  const path = await caseFileOf(pathOrFolder);
  const absolute = resolve(path);
  const folder = dirname(absolute);
  const typed = shownPath(path);
  refuseLinkOutside(
    path,
    2,
    root === undefined ? undefined : await checkedRoot(root),
    'Copy the file there, or name a folder that contains it with --root DIR',
  );
  const bytes = readTextFile(path, 2);
  const text = decodeYaml(bytes, typed, { exitCode: 2 });
  const options = { folder, locateName: shownPath(basename(absolute)) };
  const { inputs: named, ...examined } = await examineCase(text, typed, options);
  return { ...examined, named, file: { relative: basename(absolute), absolute }, folder, typed, text, bytes };
}

/** Bytes of a small file written by hand. Throws InputFailure if it is missing, special or above the size limit. */
export function readTextFile(path: string, exitCode: 2 | 3): Uint8Array {
  return readRegularFile(path, { shown: shownPath(path), exitCode, mostBytes: YAML_LIMITS.bytes });
}

/**
 * Looks up every input that a case file names; faults of an input go into `problems`. `caseIsWrong`: a path leaves the allowed folders,
 * which is an error in the case file. Throws InputFailure (2) if the root is not a folder.
 */
export async function findInputs(
  { named, problems, folder }: Pick<ExaminedFile, 'named' | 'problems' | 'folder'>,
  options: ReadOptions,
): Promise<{ found: CaseInput[]; caseIsWrong: boolean }> {
  const root = options.root === undefined ? undefined : await checkedRoot(options.root);
  const found: CaseInput[] = [];
  let caseIsWrong = false;
  for (const one of named) {
    const located = await locateInput(one.input, one.kind, { folder, root });
    if (located.ok) {
      one.input.absolute = located.real;
      found.push({ ...one, size: located.size });
    } else {
      problems.add(one.path, located.problem);
      caseIsWrong ||= located.caseIsWrong;
    }
  }
  return { found, caseIsWrong };
}
