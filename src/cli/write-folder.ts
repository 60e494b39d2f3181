import { mkdir, readdir, rename, rm, writeFile } from 'node:fs/promises';
import { dirname, join, resolve } from 'node:path';
import { InputFailure } from '../foundation/failure.js';
import { OLD, settle, unfinishedName } from './unfinished.js';

/** One file of an output folder; `path` with forward slashes, relative to it. */
export interface OutputFile {
  path: string;
  bytes: string | Uint8Array;
}

/**
 * Writes a whole folder at once: into a temporary folder beside it, which then takes its place by a rename.
 * Until then the old folder stays whole; an interrupted run leaves it untouched, or, in the moment between the two renames,
 * what `settle` puts back. `marker` is a file that a folder of ours always holds: a non-empty folder without it is
 * somebody else's and is refused.
 */
export async function writeFolder(dir: string, files: readonly OutputFile[], marker: string): Promise<void> {
  const target = resolve(dir);
  await settle(target);
  await refuseForeign(target, dir, marker);
  const fresh = unfinishedName(target);
  // as readable as any other new folder
  await mkdir(dirname(target), { recursive: true })
    .then(() => mkdir(fresh))
    .catch((error) => refuseWrite(dir, error));
  try {
    const placed = files.map(({ path, bytes }) => ({ full: join(fresh, ...path.split('/')), bytes }));
    for (const folder of new Set(placed.map(({ full }) => dirname(full))))
      await mkdir(folder, { recursive: true });
    // all are waited for, also where one fails: none may still be written when the folder is taken away
    const written = await Promise.allSettled(placed.map(({ full, bytes }) => writeFile(full, bytes)));
    for (const one of written) if (one.status === 'rejected') throw one.reason;
    await replace(target, fresh);
  } finally {
    await rm(fresh, { recursive: true, force: true });
  }
}

/** Puts `fresh` in the place of `target`; the old folder is removed only once the new one stands. */
async function replace(target: string, fresh: string): Promise<void> {
  const old = fresh + OLD;
  const hadOld = await rename(target, old).then(
    () => true,
    (error: NodeJS.ErrnoException) => {
      if (error.code === 'ENOENT') return false;
      throw error;
    },
  );
  try {
    await rename(fresh, target);
  } catch (error) {
    if (hadOld) await rename(old, target);
    throw error;
  }
  await rm(old, { recursive: true, force: true });
}

async function refuseForeign(target: string, shown: string, marker: string): Promise<void> {
  let names: string[];
  try {
    names = await readdir(target);
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code === 'ENOENT') return;
    throw new InputFailure(
      2,
      `${shown}: this is no folder that can be written (${code}). Name another with --out.`,
    );
  }
  if (names.length > 0 && !names.includes(marker))
    throw new InputFailure(
      2,
      `${shown}: the folder holds other files and no ${marker} of an earlier run; it would be replaced. Name another with --out.`,
    );
}

function refuseWrite(shown: string, error: NodeJS.ErrnoException): never {
  throw new InputFailure(
    2,
    `${shown}: nothing can be written there (${error.code}). Name another folder with --out.`,
  );
}
