import { renameSync } from 'node:fs';
import { chmod, chown, link, lstat, mkdir, readlink, rm, symlink, utimes } from 'node:fs/promises';
import { join } from 'node:path';
import { makeFolder } from './make-folder.js';
import type { Survey } from './own-files.js';
import { type Placement, parents, writeDurably } from './placement.js';
import { OLD, removeOld, unfinishedName } from './unfinished.js';

/** Error codes of systems on which a folder cannot be created next to another, renamed or filled with hard links. */
const CANNOT: ReadonlySet<string> = new Set([
  'EBUSY',
  'EXDEV',
  'EPERM',
  'EACCES',
  'EROFS',
  'ENOTSUP',
  'EOPNOTSUPP',
  'ENOSYS',
  'EMLINK',
  'EINVAL',
]);

/** How often the renames are retried if a run on another machine put its folder there in between. */
const MOST_TRIES = 20;

/**
 * Replaces a folder by a new one in two renames: before them the old one is in place, after them the new one. The new folder is made next
 * to it and also holds all other files, as hard links to the same files. Returns false, with nothing changed, if the system does not allow
 * this here.
 */
export async function swapFolder(
  target: string,
  survey: Survey | undefined,
  placement: Placement,
): Promise<boolean> {
  const fresh = unfinishedName(target);
  const olds: string[] = [];
  try {
    await mkdir(fresh);
    if (survey) await carryOver(target, fresh, survey, placement);
    await stage(fresh, placement);
    if (survey) await likeBefore(target, fresh, survey);
    putInPlace(fresh, target, olds);
  } catch (error) {
    await rm(fresh, { recursive: true, force: true });
    const { code } = error as NodeJS.ErrnoException;
    if (survey && code !== undefined && CANNOT.has(code)) return false;
    throw error;
  }
  for (const old of olds) await removeOld(old, target);
  return true;
}

async function stage(fresh: string, { files }: Placement): Promise<void> {
  for (const place of new Set(files.flatMap(({ path }) => parents(path))))
    await makeFolder(join(fresh, place));
  // waits for all even if one fails, so that none is still being written when the folder is removed
  const written = await Promise.allSettled(
    files.map(({ path, bytes }) => writeDurably(join(fresh, path), bytes)),
  );
  for (const one of written) if (one.status === 'rejected') throw one.reason;
}

/** Carries over other folders and files, and our files that are kept. */
async function carryOver(target: string, fresh: string, survey: Survey, { keep }: Placement): Promise<void> {
  const carried = [...survey.foreign, ...keep.map(({ to }) => to)];
  const needed = new Set(carried.flatMap(parents));
  const ours = new Set([...survey.own, ...survey.edited].flatMap(parents));
  for (const path of survey.folders)
    if (needed.has(path) || !ours.has(path)) await makeFolder(join(fresh, path));
  for (const path of survey.foreign) {
    const from = join(target, path);
    const facts = await lstat(from);
    if (facts.isSymbolicLink()) await symlink(await readlink(from), join(fresh, path));
    else await link(from, join(fresh, path));
  }
  for (const { from, to } of keep) await link(join(target, from), join(fresh, to));
}

/** Restores permissions, owner and dates of the folders. */
async function likeBefore(target: string, fresh: string, survey: Survey): Promise<void> {
  for (const path of [...survey.folders].reverse().concat('')) {
    const there = join(fresh, path);
    if ((await lstat(there).catch(() => undefined)) === undefined) continue;
    const { mode, uid, gid, atime, mtime } = await lstat(join(target, path));
    await chmod(there, mode & 0o7777);
    const made = await lstat(there);
    if (made.uid !== uid || made.gid !== gid) await chown(there, uid, gid);
    if (path !== '') await utimes(there, atime, mtime);
  }
}

/** The two renames, in direct succession: nothing else of this process runs in between. */
function putInPlace(fresh: string, target: string, olds: string[]): void {
  for (let tries = 0; ; tries++) {
    moveAway(target, `${tries === 0 ? fresh : unfinishedName(target)}${OLD}`, olds);
    try {
      renameSync(fresh, target);
      return;
    } catch (error) {
      const { code } = error as NodeJS.ErrnoException;
      if ((code === 'ENOTEMPTY' || code === 'EEXIST') && tries < MOST_TRIES) continue;
      const last = olds.pop();
      if (last !== undefined) renameSync(last, target);
      throw error;
    }
  }
}

function moveAway(target: string, old: string, olds: string[]): void {
  try {
    renameSync(target, old);
    olds.push(old);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ENOENT') throw error;
  }
}
