import { realpathSync } from 'node:fs';
import { dirname, isAbsolute, relative, sep } from 'node:path';
import { InputFailure } from './failure.js';
import { quoted } from './quoted-text.js';

/** Whether a path is a folder or is inside it; both absolute and free of symbolic links. */
export function holds(folder: string, path: string): boolean {
  const way = relative(folder, path);
  return way === '' || (way !== '..' && !way.startsWith(`..${sep}`) && !isAbsolute(way));
}

/** Whether a file, after following all symbolic links, is in the folder that its path names or in `root`. Rethrows system errors. */
export function staysInside(path: string, root?: string): boolean {
  const real = realpathSync(path);
  const folders = root === undefined ? [dirname(path)] : [dirname(path), root];
  return folders.some((folder) => holds(realpathSync(folder), real));
}

/**
 * Rejects a file that is a symbolic link out of its own folder and out of `root`: its lines must not be shown as those of an input. A path
 * that cannot be looked up passes, since opening it reports the reason. Throws InputFailure.
 */
export function refuseLinkOutside(path: string, exitCode: 2 | 3, root?: string, cure?: string): void {
  let inside: boolean;
  try {
    inside = staysInside(path, root);
  } catch {
    return;
  }
  if (inside) return;
  throw new InputFailure(
    exitCode,
    `${quoted(path, 400).slice(1, -1)}: this is a symbolic link to a file outside its folder. ${cure ?? 'Copy the file there'}.`,
  );
}
