import { lstat, readFile, rename, rm } from 'node:fs/promises';
import { dirname } from 'node:path';
import { shownPath } from '../../case/case-files.js';
import { OutputFailure } from '../../foundation/failure.js';
import { makeFolder } from './make-folder.js';
import { writeDurably } from './placement.js';
import { realTarget, refuseInputs } from './target.js';
import { settle, unfinishedName } from './unfinished.js';
import { asOutputFailure } from './write-problem.js';

/** A file that a command writes into a folder of the user's. */
export interface FileTarget {
  path: string;
  /** The flag that named it, for messages. */
  flag: string;
  /** Whether the text of an existing file shows that this command wrote it. */
  isOurs: (text: string) => boolean;
  /** Absolute paths of everything that the command reads. */
  inputs?: readonly string[];
}

/** Largest file that is examined, bytes: our summaries of 100 000 cases are smaller. */
const MOST_BYTES = 256 * 1024 * 1024;

/**
 * Writes one file under a temporary name next to the target and then renames it, so that a reader never sees a partial file. An existing
 * file is replaced only if its content shows that this command wrote it, or if it is empty. A symbolic link is followed.
 *
 * Throws InputFailure (2) if it is an input, OutputFailure (5) if it is not ours or the system does not allow writing.
 */
export async function writeWhole(to: FileTarget, text: string): Promise<void> {
  const shown = `${to.flag} ${shownPath(to.path)}`;
  try {
    const target = await realTarget(to.path);
    await refuseInputs(target, to.inputs ?? [], shown);
    await refuseForeignFile(target, to, shown);
    await makeFolder(dirname(target));
    await settle(target);
    const fresh = unfinishedName(target);
    try {
      await writeDurably(fresh, text);
      await rename(fresh, target);
    } catch (error) {
      await rm(fresh, { force: true }).catch(() => undefined);
      throw error;
    }
  } catch (error) {
    throw asOutputFailure(error, shown);
  }
}

/** Throws if a file that is not ours is at the path; for checking before anything is computed. */
export async function refuseForeignFile(target: string, to: FileTarget, shown: string): Promise<void> {
  const facts = await lstat(target).catch((error: NodeJS.ErrnoException) => {
    if (error.code === 'ENOENT') return undefined;
    throw error;
  });
  if (facts === undefined) return;
  if (!facts.isFile())
    throw new OutputFailure(`${shown}: this is not a regular file. Name another place for it.`);
  if (facts.size === 0) return;
  if (facts.size > MOST_BYTES || !to.isOurs(await readFile(target, 'utf8')))
    throw new OutputFailure(
      `${shown}: there is a file that this command did not write. It is left as it is; name another place.`,
    );
}
