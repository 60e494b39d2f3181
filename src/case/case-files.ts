import { readdir, stat } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { InputFailure } from '../foundation/failure.js';
import { namesFileOf } from '../foundation/own-format.js';
import { quoted } from '../foundation/quoted-text.js';
import { openRegularFile } from '../foundation/regular-file.js';

export function systemProblem(error: unknown): string {
  const code = (error as NodeJS.ErrnoException).code;
  if (code === 'ENOENT' || code === 'ENOTDIR') return 'there is no such file or folder. Check the path.';
  if (code === 'EACCES' || code === 'EPERM') return 'it may not be read. Check its permissions.';
  if (code === 'ELOOP') return 'it is a symbolic link that leads to itself. Check the path.';
  if (code === 'ENAMETOOLONG') return 'the path is too long. Check the path.';
  return `it cannot be opened (${code ?? 'unknown reason'}). Check the path.`;
}

export async function checkedRoot(root: string): Promise<string> {
  const facts = await stat(root).catch((error) => {
    throw new InputFailure(2, `--root ${shownPath(root)}: ${systemProblem(error)}`);
  });
  if (!facts.isDirectory()) throw new InputFailure(2, `--root ${shownPath(root)}: this is not a folder.`);
  return resolve(root);
}

/** The case file that a path names: itself, or `case.yaml` in a folder, or the only YAML file of the format there. */
export async function caseFileOf(pathOrFolder: string): Promise<string> {
  let beside: string[];
  try {
    const facts = await stat(pathOrFolder);
    if (!facts.isDirectory()) return pathOrFolder;
    beside = await readdir(pathOrFolder);
  } catch (error) {
    throw new InputFailure(2, `${shownPath(pathOrFolder)}: ${systemProblem(error)}`);
  }
  const names = yamlNames(beside);
  if (names.includes('case.yaml')) return join(pathOrFolder, 'case.yaml');
  const cases = await namesOfFormat(pathOrFolder, names, 'case');
  if (cases.length === 1) return join(pathOrFolder, cases[0]);
  if (cases.length > 1)
    throw new InputFailure(
      2,
      `${shownPath(pathOrFolder)}: the folder contains several case files (${cases.join(', ')}). Name one of them.`,
    );
  throw new InputFailure(
    2,
    `${shownPath(pathOrFolder)}: the folder contains no case file. Write one with: pavm new ${shownPath(pathOrFolder)}`,
  );
}

/** A path for a message: no control or invisible characters. */
export const shownPath = (path: string): string => quoted(path, 400).slice(1, -1);

/** Whether the head of a file names a format of ours; false if it cannot be read. */
async function namesFormat(path: string, kind: 'case' | 'patient'): Promise<boolean> {
  const facts = await stat(path).catch(() => undefined);
  if (!facts?.isFile()) return false;
  const { handle } = await openRegularFile(path, { shown: shownPath(path), exitCode: 2 });
  try {
    const head = Buffer.alloc(64 * 1024);
    const { bytesRead } = await handle.read(head, 0, head.length, 0);
    return namesFileOf(kind, head.toString('utf8', 0, bytesRead));
  } finally {
    await handle.close();
  }
}

const yamlNames = (names: readonly string[]): string[] =>
  names.filter((name) => /\.ya?ml$/.test(name)).sort();

/** The files of a folder whose head names a format of ours. */
async function namesOfFormat(
  folder: string,
  names: readonly string[],
  kind: 'case' | 'patient',
): Promise<string[]> {
  const found: string[] = [];
  for (const name of names) if (await namesFormat(join(folder, name), kind)) found.push(name);
  return found;
}

/** The patient file that a path names: itself, or that of a folder; undefined if the path names none. */
export async function patientFileOf(pathOrFolder: string): Promise<string | undefined> {
  const facts = await stat(pathOrFolder).catch(() => undefined);
  if (facts?.isFile()) return (await namesFormat(pathOrFolder, 'patient')) ? pathOrFolder : undefined;
  if (!facts?.isDirectory()) return undefined;
  const names = yamlNames(await readdir(pathOrFolder).catch(() => []));
  const found = await namesOfFormat(pathOrFolder, names, 'patient');
  if (found.length === 0) return undefined;
  const shown = shownPath(pathOrFolder);
  if (found.length > 1)
    throw new InputFailure(
      2,
      `${shown}: the folder contains several patient files (${found.map((name) => shownPath(name)).join(', ')}). Name one of them.`,
    );
  if (names.includes('case.yaml'))
    throw new InputFailure(
      2,
      `${shown}: the folder contains a patient file (${shownPath(found[0])}) and a case file (case.yaml). Name one of them.`,
    );
  return join(pathOrFolder, found[0]);
}
