import { posix } from 'node:path';
import { hasInvisible, quoted } from '../foundation/quoted-text.js';

/** A path as shown and compared: forward slashes, no `.` and no doubled slash. */
export function slashed(written: string): string {
  return posix.normalize(written.replace(/\\/g, '/')).replace(/(.)\/$/, '$1');
}

/** Whether a slashed path starts at the root of a disk or drive. */
export function isAbsolutePath(path: string): boolean {
  return path.startsWith('/') || /^[A-Za-z]:/.test(path);
}

/** Whether a slashed relative path leaves the folder that it starts in. */
export function climbsOut(path: string): boolean {
  return path === '..' || path.startsWith('../');
}

/** Why a text cannot be the path of an input, as a sentence, or undefined. Only examines the text. */
export function pathProblem(written: string): string | undefined {
  if (written.trim() === '') return 'is empty. Give the path of a file or delete the line.';
  if (written.length > 1000) return `${quoted(written)} is longer than 1000 characters.`;
  if (hasInvisible(written))
    return `${quoted(written)} contains a control or invisible character. Write folders with forward slashes.`;
  if (/^[A-Za-z][A-Za-z0-9+.-]+:/.test(written)) {
    return `${quoted(written)} is an address. Only files on disk are read: give a path relative to this file.`;
  }
  return undefined;
}
