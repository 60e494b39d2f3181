import { createHash, randomBytes } from 'node:crypto';
import { readdir, rename, rm, stat } from 'node:fs/promises';
import { hostname } from 'node:os';
import { basename, dirname, join, resolve } from 'node:path';

/** This machine, for telling whose leftovers are whose; the name itself stays out of the folder. */
const MACHINE = createHash('sha256').update(hostname()).digest('hex').slice(0, 6);

/** Age from which what another machine began counts as given up, ms: writing takes seconds. Common practice, no source. */
const GIVEN_UP_MS = 600_000;

/** What the old folder is called while the new one takes its place. */
export const OLD = '-old';

/** A hidden name beside `target` for what is being written there: it says which process of which machine writes. */
export function unfinishedName(target: string): string {
  const token = `${MACHINE}-${process.pid}-${randomBytes(3).toString('hex')}`;
  return join(dirname(target), `.pavm-${basename(target)}-${token}`);
}

/**
 * Cleans up after runs that were killed while they wrote `path`. Between its two renames such a run leaves neither the old nor the new
 * folder in place: the new one, which was whole by then, is put there, else the old one. The rest is removed. What a living
 * process writes is left alone. Never throws: what cannot be mended is found by whoever reads or writes there next.
 */
export async function settle(path: string): Promise<void> {
  const target = resolve(path);
  const parent = dirname(target);
  const prefix = `.pavm-${basename(target)}-`;
  const names = await readdir(parent).catch((): string[] => []);
  const begun = new Set<string>();
  for (const name of names) {
    const match = /^([0-9a-f]{6})-(\d+)-[0-9a-f]{6}/.exec(name.slice(prefix.length));
    if (!name.startsWith(prefix) || match === null) continue;
    const [token, machine, pid] = match;
    if (name !== prefix + token && name !== prefix + token + OLD) continue;
    const isGone = machine === MACHINE && !isAlive(Number(pid));
    if (isGone || (await ageMs(join(parent, name))) > GIVEN_UP_MS) begun.add(prefix + token);
  }
  for (const name of begun) {
    const fresh = join(parent, name);
    const old = fresh + OLD;
    if (names.includes(name + OLD) && !(await isThere(target)))
      await rename(fresh, target)
        .catch(() => rename(old, target))
        .catch(() => undefined);
    if (!(await isThere(target)) && names.includes(name + OLD)) continue;
    for (const rest of [fresh, old]) await rm(rest, { recursive: true, force: true }).catch(() => undefined);
  }
}

const isThere = (path: string): Promise<boolean> =>
  stat(path).then(
    () => true,
    () => false,
  );

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM';
  }
}

/** Since the last change of the entry itself, a rename included. */
async function ageMs(path: string): Promise<number> {
  const facts = await stat(path).catch(() => undefined);
  return facts === undefined ? 0 : Date.now() - Math.max(facts.ctimeMs, facts.mtimeMs);
}
