import { mkdir } from 'node:fs/promises';
import { dirname } from 'node:path';
import { isThere } from './is-there.js';

/**
 * Makes a folder and those above it. On a read-only disk Node says of a path whose folders are missing that there is no such file; making
 * only the first missing one gives the true reason.
 */
export async function makeFolder(path: string): Promise<void> {
  try {
    await mkdir(path, { recursive: true });
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ENOENT') throw error;
    await mkdir(await firstMissing(path)).catch(unlessThere);
    await mkdir(path, { recursive: true });
  }
}

/** Another run may have made it meanwhile. */
function unlessThere(error: NodeJS.ErrnoException): void {
  if (error.code !== 'EEXIST') throw error;
}

/** The folder nearest to the root that does not exist. */
async function firstMissing(path: string): Promise<string> {
  const above = dirname(path);
  return above === path || (await isThere(above)) ? path : firstMissing(above);
}
