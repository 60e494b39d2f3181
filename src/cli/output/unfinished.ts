import { createHash, randomBytes } from 'node:crypto';
import { lstat, readdir, readlink, rename, rm, stat } from 'node:fs/promises';
import { hostname } from 'node:os';
import { basename, dirname, join, resolve } from 'node:path';
import { finishFill } from './fill-folder.js';
import { isThere } from './is-there.js';
import { makeFolder } from './make-folder.js';
import { isUnfinished, keptName, surveyFolder } from './own-files.js';

/** A hash of this machine's name, to identify the owner of leftovers without writing the name. */
const MACHINE = createHash('sha256').update(hostname()).digest('hex').slice(0, 6);

/** Age at which an unfinished write by another machine counts as abandoned, ms: writing takes seconds. Common practice, no source. */
const GIVEN_UP_MS = 600_000;

/** The name of the old folder while the new one replaces it. */
export const OLD = '-old';

const token = (): string => `${MACHINE}-${process.pid}-${randomBytes(3).toString('hex')}`;

/** A hidden name next to `target` for a write in progress; it identifies the process and machine. */
export const unfinishedName = (target: string): string =>
  join(dirname(target), `.pavm-${basename(target)}-${token()}`);

/** The same, inside a folder that is filled in place. */
export const unfinishedInside = (target: string): string => join(target, `.pavm-${token()}`);

/**
 * Cleans up after runs that were killed while writing `path`. A run killed between its two renames leaves neither the old nor the new
 * folder in place: the new one, complete by then, is moved there, else the old one. A folder that was being filled in place is completed,
 * or left as it was if filling had not begun. Writes of live processes are left alone, and no other files are removed. Never throws:
 * remaining problems show up at the next read or write.
 */
export async function settle(path: string): Promise<void> {
  const target = resolve(path);
  await settleBeside(target);
  await settleInside(target);
}

async function settleBeside(target: string): Promise<void> {
  const parent = dirname(target);
  const prefix = `.pavm-${basename(target)}-`;
  const names = await readdir(parent).catch((): string[] => []);
  const begun = new Set<string>();
  for (const name of names) {
    if (!name.startsWith(prefix)) continue;
    const match = /^([0-9a-f]{6}-\d+-[0-9a-f]{6})(-old)?$/.exec(name.slice(prefix.length));
    if (match !== null && (await isGivenUp(join(parent, name), match[1]))) begun.add(prefix + match[1]);
  }
  for (const name of begun) {
    const fresh = join(parent, name);
    const old = fresh + OLD;
    if (names.includes(name + OLD) && !(await isThere(target)))
      await rename(fresh, target)
        .catch(() => rename(old, target))
        .catch(() => undefined);
    if (await isThere(old)) {
      if (!(await isThere(target))) continue;
      await removeOld(old, target).catch(() => undefined);
    }
    await rm(fresh, { recursive: true, force: true }).catch(() => undefined);
  }
}

async function settleInside(target: string): Promise<void> {
  const names = await readdir(target).catch((): string[] => []);
  for (const name of names) {
    const work = join(target, name);
    if (!isUnfinished(name) || !(await isGivenUp(work, name.slice('.pavm-'.length)))) continue;
    await finishFill(target, work).catch(() => undefined);
  }
}

/**
 * Removes a folder that a new one has replaced. Our files are deleted; files added or changed there in the meantime are moved to the new
 * folder, under another name if theirs is taken.
 */
export async function removeOld(old: string, target: string): Promise<void> {
  if ((await stat(old)).isDirectory()) {
    const before = await surveyFolder(old);
    const now = await surveyFolder(target);
    const taken = new Set([...now.own, ...now.edited, ...now.foreign, ...now.folders]);
    const carried = new Set<string>();
    for (const path of taken) carried.add(await identity(target, path));
    for (const path of [...before.foreign, ...before.edited]) {
      if (carried.has(await identity(old, path))) continue;
      const free = taken.has(path) ? keptName(path, (name) => taken.has(name)) : path;
      await makeFolder(dirname(join(target, free)));
      await rename(join(old, path), join(target, free));
      taken.add(free);
    }
  }
  await rm(old, { recursive: true, force: true });
}

/** Identifies a file across two folders; a symbolic link is identified by its path and target. */
async function identity(folder: string, path: string): Promise<string> {
  const full = join(folder, path);
  const facts = await lstat(full);
  return facts.isSymbolicLink() ? `${path} -> ${await readlink(full)}` : `${facts.dev}:${facts.ino}`;
}

/** Whether the process that wrote `path` has ended or, on another machine, must have. */
async function isGivenUp(path: string, owner: string): Promise<boolean> {
  const [machine, pid] = owner.split('-');
  return (machine === MACHINE && !isAlive(Number(pid))) || (await ageMs(path)) > GIVEN_UP_MS;
}

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM';
  }
}

/** Time since the last change of the entry itself, including a rename. */
async function ageMs(path: string): Promise<number> {
  const facts = await stat(path).catch(() => undefined);
  return facts === undefined ? 0 : Date.now() - Math.max(facts.ctimeMs, facts.mtimeMs);
}
