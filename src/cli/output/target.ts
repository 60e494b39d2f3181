import { readlink, realpath, stat } from 'node:fs/promises';
import { basename, dirname, isAbsolute, join, relative, resolve, sep } from 'node:path';
import { EXIT, InputFailure, OutputFailure } from '../../foundation/failure.js';
import { readList } from './output-list.js';

/** The real path: links are followed, even if the last folders do not exist yet. */
export async function realTarget(path: string): Promise<string> {
  const full = resolve(path);
  const real = await realpath(full).catch((error: NodeJS.ErrnoException) => {
    if (error.code === 'ENOENT') return undefined;
    throw error;
  });
  if (real !== undefined) return real;
  const link = await readlink(full).catch(() => undefined);
  if (link !== undefined) return realTarget(resolve(dirname(full), link));
  const parent = dirname(full);
  return parent === full ? full : join(await realTarget(parent), basename(full));
}

/** Whether `folder` is `path` or contains it. Both real and absolute. */
export function isOrHolds(folder: string, path: string): boolean {
  const way = relative(folder, path);
  return way === '' || (way !== '..' && !way.startsWith(`..${sep}`) && !isAbsolute(way));
}

/** Throws InputFailure (2) if an output would replace an input or a folder that contains one. */
export async function refuseInputs(target: string, inputs: readonly string[], shown: string): Promise<void> {
  for (const input of inputs) {
    const real = await realTarget(input);
    if (!isOrHolds(target, real)) continue;
    const what = target === real ? 'is an input of this command' : `contains an input (${basename(real)})`;
    throw new InputFailure(EXIT.usage, `${shown}: this ${what}. Name another place with --out.`);
  }
}

/** Throws OutputFailure if a folder is inside another output folder, which is written as a whole. */
export async function refuseInsideOutput(target: string, shown: string): Promise<void> {
  for (let above = dirname(target); above !== dirname(above); above = dirname(above)) {
    const list = await readList(above);
    const within = `${relative(above, target).split(sep).join('/')}/`;
    if (list?.files.some(({ path }) => path.startsWith(within)))
      throw new OutputFailure(
        `${shown}: this folder is a part of the ${list.kind} in ${basename(above)}, which is written as a whole. Name another with --out.`,
      );
  }
}

/** Whether there is a folder at a real path. Throws OutputFailure if there is something else. */
export async function isFolder(target: string, shown: string): Promise<boolean> {
  const facts = await stat(target).catch((error: NodeJS.ErrnoException) => {
    if (error.code === 'ENOENT') return undefined;
    throw error;
  });
  if (facts === undefined || facts.isDirectory()) return facts !== undefined;
  throw new OutputFailure(`${shown}: this is a file, not a folder. Name a folder with --out.`);
}
