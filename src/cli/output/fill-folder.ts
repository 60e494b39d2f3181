import { readFile, rename, rm, rmdir } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { isThere } from './is-there.js';
import { makeFolder } from './make-folder.js';
import { staysInside } from './output-list.js';
import { type Placement, parents, writeDurably } from './placement.js';

/** The moves still to do once all files are staged; written before the first file is moved. */
interface Journal {
  place: string[];
  remove: string[];
  keep: Placement['keep'];
}

const JOURNAL = 'journal.json';

/**
 * Writes to a folder that cannot be replaced by a rename: a mount point, or one with content that hard links cannot carry over.
 * All files are staged in `work`, a hidden folder inside, then moved one by one. On an error everything is moved back. If the run is
 * killed, the next `finishFill` moves the rest, or removes the staged files if moving had not begun.
 */
export async function fillFolder(folder: string, work: string, placement: Placement): Promise<void> {
  try {
    for (const { path, bytes } of placement.files) {
      const full = join(work, 'new', path);
      await makeFolder(dirname(full));
      await writeDurably(full, bytes);
      await makeFolder(dirname(join(folder, path)));
    }
    const { keep, remove } = placement;
    const journal: Journal = { place: placement.files.map(({ path }) => path), remove, keep };
    await writeDurably(join(work, `${JOURNAL}.part`), JSON.stringify(journal));
    await rename(join(work, `${JOURNAL}.part`), join(work, JOURNAL));
    await moveAll(folder, work, journal);
  } finally {
    await rm(work, { recursive: true, force: true });
    await removeEmpty(folder, placement.files.map(({ path }) => path).concat(placement.remove));
  }
}

/** Completes the writing begun by a killed run. */
export async function finishFill(folder: string, work: string): Promise<void> {
  const journal = await readJournal(join(work, JOURNAL));
  if (journal !== undefined) await moveAll(folder, work, journal);
  await rm(work, { recursive: true, force: true });
  if (journal !== undefined) await removeEmpty(folder, [...journal.place, ...journal.remove]);
}

async function readJournal(path: string): Promise<Journal | undefined> {
  try {
    const { place, remove, keep } = JSON.parse(await readFile(path, 'utf8')) as Journal;
    const paths = [...place, ...remove, ...keep.flatMap(({ from, to }) => [from, to])];
    return paths.every((one) => typeof one === 'string' && staysInside(one))
      ? { place, remove, keep }
      : undefined;
  } catch {
    return undefined;
  }
}

/** Moves every file to its place; files already moved are skipped. If one cannot be moved, all are moved back. */
async function moveAll(folder: string, work: string, { place, remove, keep }: Journal): Promise<void> {
  const done: [from: string, to: string][] = [];
  const move = async (from: string, to: string): Promise<void> => {
    await rename(from, to);
    done.push([from, to]);
  };
  const setAside = async (path: string): Promise<void> => {
    const aside = join(work, 'old', path);
    if (!(await isThere(join(folder, path)))) return;
    await makeFolder(dirname(aside));
    await move(join(folder, path), aside);
  };
  try {
    for (const { from, to } of keep)
      if (!(await isThere(join(folder, to))) && (await isThere(join(folder, from))))
        await move(join(folder, from), join(folder, to));
    for (const path of remove) await setAside(path);
    for (const path of place) {
      const staged = join(work, 'new', path);
      if (!(await isThere(staged))) continue;
      await setAside(path);
      await move(staged, join(folder, path));
    }
  } catch (error) {
    for (const [from, to] of done.reverse()) await rename(to, from).catch(() => undefined);
    throw error;
  }
}

/** Removes folders that held outputs and are now empty. */
async function removeEmpty(folder: string, paths: readonly string[]): Promise<void> {
  const places = new Set(paths.flatMap(parents));
  for (const place of [...places].sort((a, b) => b.length - a.length))
    await rmdir(join(folder, place)).catch(() => undefined);
}
