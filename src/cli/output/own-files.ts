import { lstat, readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { hashOfFile } from '../input/hash-of-file.js';
import { filesOfEarlierVersion } from './earlier-version.js';
import { LIST_NAME, type OutputKind, readList } from './output-list.js';

/** The content of a folder that a command will write to. Paths with forward slashes, relative to it. */
export interface Survey {
  /** The kind of our output in the folder; undefined if it holds none. */
  kind?: OutputKind;
  /** Files written by this program and unchanged since. */
  own: Set<string>;
  /** Files written by this program and changed since. */
  edited: Set<string>;
  /** Everything else that is not a folder. */
  foreign: Set<string>;
  /** Every folder below, parents first. */
  folders: string[];
  /** The first obstacle to hard links: a device, a pipe, another disk mounted below, too many files. */
  fixed?: string;
}

/** Greatest number of other files that are carried over one by one; above it the folder is filled in place. */
const MOST_FOREIGN = 10_000;

/** Names of files that operating systems create in folders. */
const SYSTEM_NAMES: ReadonlySet<string> = new Set(['lost+found', '.DS_Store', 'Thumbs.db', 'desktop.ini']);

/** Whether a folder holds nothing created by a person or program, apart from remains of an unfinished run. */
export function holdsNothing(survey: Survey): boolean {
  const entries = [...survey.own, ...survey.edited, ...survey.foreign, ...survey.folders];
  return entries.every((path) => SYSTEM_NAMES.has(path.split('/')[0]));
}

/** Distinguishes our files in a folder from all others. A folder without any of ours is searched only at its first level. */
export async function surveyFolder(folder: string): Promise<Survey> {
  const list = await readList(folder);
  const earlier = list ? undefined : await filesOfEarlierVersion(folder);
  const hashes = new Map(list?.files.map(({ path, sha256 }) => [path, sha256]));
  const survey: Survey = {
    ...(list ? { kind: list.kind } : earlier && { kind: 'plan' as const }),
    own: new Set(),
    edited: new Set(),
    foreign: new Set(),
    folders: [],
  };
  const isOurs = survey.kind !== undefined;
  const device = (await lstat(folder)).dev;
  const visit = async (below: string): Promise<void> => {
    const entries = await readdir(below === '' ? folder : join(folder, below), { withFileTypes: true });
    for (const entry of entries.sort((a, b) => (a.name < b.name ? -1 : 1))) {
      const { name } = entry;
      if (below === '' && isUnfinished(name)) continue;
      const path = below === '' ? name : `${below}/${name}`;
      const full = join(folder, path);
      if (entry.isDirectory()) {
        const facts = await lstat(full).catch(() => undefined);
        if (facts === undefined) continue;
        survey.folders.push(path);
        if (facts.dev !== device) survey.fixed ??= path;
        else if (isOurs) await visit(path);
      } else if (!entry.isFile()) {
        survey.foreign.add(path);
        if (!entry.isSymbolicLink()) survey.fixed ??= path;
      } else if (path === LIST_NAME && list) survey.own.add(path);
      else if (earlier?.has(path)) survey.own.add(path);
      else if (hashes.has(path))
        (hashes.get(path) === (await hashOfFile(full)).sha256 ? survey.own : survey.edited).add(path);
      else survey.foreign.add(path);
      if (survey.foreign.size > MOST_FOREIGN) survey.fixed ??= path;
    }
  };
  await visit('');
  return survey;
}

/** Names used inside a folder by a run that fills it in place and is still writing or was killed. */
export const isUnfinished = (name: string): boolean => /^\.pavm-[0-9a-f]{6}-\d+-[0-9a-f]{6}$/.test(name);

/** An unused name for keeping a changed file: `plan.edited-1.md`. */
export function keptName(path: string, isTaken: (path: string) => boolean): string {
  const dot = path.lastIndexOf('.');
  const slash = path.lastIndexOf('/');
  const [stem, end] = dot > slash + 1 ? [path.slice(0, dot), path.slice(dot)] : [path, ''];
  for (let n = 1; ; n++) {
    const name = `${stem}.edited-${n}${end}`;
    if (!isTaken(name)) return name;
  }
}
