import type { Stats } from 'node:fs';
import { access, constants, readdir, realpath, stat } from 'node:fs/promises';
import { basename, dirname, resolve } from 'node:path';
import { nearestKey } from '../foundation/nearest-key.js';
import { holds } from '../foundation/own-folder.js';
import { quoted } from '../foundation/quoted-text.js';
import type { InputPath } from './case.js';
import { climbsOut, isAbsolutePath } from './path-text.js';

/** Largest mesh file that is opened, bytes (1 GiB). */
export const LARGEST_MESH_BYTES = 1024 ** 3;

/** What kind of object an input must be on disk; a series is a folder or a file. */
export type InputKind = 'mesh' | 'file' | 'series';

/** Where inputs may be: in the folder of the case file, and in the root that the user named, if any. Absolute. */
export interface Confines {
  folder: string;
  root?: string;
}

export type Located =
  | { ok: true; real: string; size: number }
  /** `caseIsWrong`: the path itself is rejected (exit code 2); otherwise the input cannot be used (exit code 3). */
  | { ok: false; caseIsWrong: boolean; problem: string };

/**
 * Finds an input on disk. Rejects a path that leaves the case folder (or the named root), in its text or through symbolic links, without
 * revealing whether anything exists there; then a missing, unreadable, special or too large file.
 */
export async function locateInput(input: InputPath, kind: InputKind, confines: Confines): Promise<Located> {
  const shown = quoted(input.relative);
  const { folder, root } = confines;
  const outside = (how: string): Located => ({
    ok: false,
    caseIsWrong: true,
    problem: `${shown} is outside ${root === undefined ? 'the folder of the case file' : 'the case folder and the --root folder'}${how}. Move it there, or name a folder that contains it with --root DIR.`,
  });
  const target = isAbsolutePath(input.absolute) ? input.absolute : resolve(folder, input.absolute);
  const leaves = climbsOut(input.relative) || isAbsolutePath(input.relative);
  if (root === undefined ? leaves : !holds(folder, target) && !holds(resolve(root), target))
    return outside('');
  const unusable = (problem: string): Located => ({ ok: false, caseIsWrong: false, problem });
  let real: string;
  let facts: Stats;
  try {
    real = await realpath(target);
    const bases = await Promise.all(
      [folder, ...(root === undefined ? [] : [root])].map((base) => realpath(base)),
    );
    if (!bases.some((base) => holds(base, real))) return outside(' through a symbolic link');
    facts = await stat(real);
  } catch (error) {
    return unusable(await accessProblem(error, shown, kind, target));
  }
  const isFolder = facts.isDirectory();
  if (!facts.isFile() && !(kind === 'series' && isFolder)) {
    return unusable(
      kind === 'series'
        ? `${shown} is neither a folder nor a regular file. Give the folder of the series.`
        : `${shown} is not a regular file. Give the path of a file.`,
    );
  }
  try {
    await access(real, isFolder ? constants.R_OK | constants.X_OK : constants.R_OK);
  } catch (error) {
    return unusable(await accessProblem(error, shown, kind, target));
  }
  if (kind === 'mesh' && facts.size > LARGEST_MESH_BYTES) {
    return unusable(
      `${shown} has ${facts.size} bytes; meshes up to ${LARGEST_MESH_BYTES} bytes (1 GiB) are read. Simplify it.`,
    );
  }
  if (!isFolder && facts.size === 0) return unusable(`${shown} is empty. Export it again.`);
  return { ok: true, real, size: facts.size };
}

async function accessProblem(
  error: unknown,
  shown: string,
  kind: InputKind,
  target: string,
): Promise<string> {
  const code = (error as NodeJS.ErrnoException).code;
  const what = kind === 'series' ? 'folder' : 'file';
  if (code === 'EACCES' || code === 'EPERM') return `${shown} may not be read. Check its permissions.`;
  if (code === 'ELOOP') return `${shown} is a symbolic link that leads to itself.`;
  if (code === 'ENAMETOOLONG') return `${shown} is too long a path.`;
  if (code !== 'ENOENT' && code !== 'ENOTDIR')
    return `${shown} cannot be opened (${code ?? 'unknown reason'}).`;
  const beside = await readdir(dirname(target)).catch(() => [] as string[]);
  const near = nearestKey(basename(target), beside.sort().slice(0, 1000));
  return `there is no ${what} ${shown}.${near === undefined ? '' : ` Did you mean ${quoted(near)}?`} Paths start from the folder of the case file.`;
}
