import { open } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { OutputFailure } from '../../foundation/failure.js';
import { quoted } from '../../foundation/quoted-text.js';
import type { OutputFile } from './output-list.js';
import { sha256Hex } from './output-list.js';
import { keptName, type Survey } from './own-files.js';
import { hashOfFile } from '../input/hash-of-file.js';

/** The changes that a write makes to a folder: files placed, our files removed, and files kept under another name. */
export interface Placement {
  /** The list of our files comes last. */
  files: OutputFile[];
  /** Files of an earlier run that this one does not write. */
  remove: string[];
  /** A file of ours that was changed, and the name under which it is kept. */
  keep: { from: string; to: string }[];
}

/**
 * Determines the changes that a write makes to a surveyed folder. Throws OutputFailure if a file or folder that is not ours is where an
 * output must go.
 */
export async function placementOf(
  folder: string,
  survey: Survey,
  files: readonly OutputFile[],
  shown: string,
): Promise<Placement> {
  const folders = new Set(survey.folders);
  const written = new Map(files.map((file) => [file.path, file]));
  const taken = new Set([...survey.own, ...survey.edited, ...survey.foreign, ...folders, ...written.keys()]);
  for (const path of written.keys()) {
    const inTheWay = [path, ...parents(path)].find((place) => survey.foreign.has(place));
    const blocked = inTheWay ?? (folders.has(path) ? path : undefined);
    if (blocked !== undefined)
      throw new OutputFailure(
        `${shown}: ${quoted(blocked)} is there already and was not written by pavm; an output would replace it. Move it, or name another folder with --out.`,
      );
  }
  const keep: Placement['keep'] = [];
  for (const path of [...survey.edited].sort()) {
    const fresh = written.get(path);
    if (fresh && sha256Hex(fresh.bytes) === (await hashOfFile(join(folder, path))).sha256) continue;
    const to = keptName(path, (name) => taken.has(name));
    taken.add(to);
    keep.push({ from: path, to });
  }
  return { files: [...files], keep, remove: [...survey.own].filter((path) => !written.has(path)).sort() };
}

/** The folders that hold a path, innermost first, without the output folder itself. */
export function parents(path: string): string[] {
  const list: string[] = [];
  for (let place = dirname(path); place !== '.'; place = dirname(place)) list.push(place);
  return list;
}

/** Writes a file and syncs it to disk, so that a rename followed by a power failure never leaves an empty file. */
export async function writeDurably(path: string, bytes: string | Uint8Array): Promise<void> {
  const file = await open(path, 'wx');
  try {
    await file.writeFile(bytes);
    await file.datasync();
  } finally {
    await file.close();
  }
}
