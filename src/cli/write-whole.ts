import { mkdir, rename, rm, writeFile } from 'node:fs/promises';
import { dirname, resolve } from 'node:path';
import { shownPath } from '../case/read-case.js';
import { EXIT, InputFailure } from '../foundation/failure.js';
import { settle, unfinishedName } from './unfinished.js';

/**
 * Writes one file under a temporary name beside it and then renames it, so that a reader never sees half of it.
 * Throws InputFailure (2), naming `flag`, where it cannot be written.
 */
export async function writeWhole(path: string, text: string, flag: string): Promise<void> {
  const target = resolve(path);
  await settle(target);
  const fresh = unfinishedName(target);
  try {
    await mkdir(dirname(target), { recursive: true });
    await writeFile(fresh, text);
    await rename(fresh, target);
  } catch (error) {
    await rm(fresh, { force: true }).catch(() => undefined);
    const { code } = error as NodeJS.ErrnoException;
    throw new InputFailure(
      EXIT.usage,
      `${flag} ${shownPath(path)}: it cannot be written (${code}). Name another place.`,
    );
  }
}
