import { link, rename, rm, stat } from 'node:fs/promises';
import { resolve } from 'node:path';
import { shownPath } from '../../case/case-files.js';
import { writeDurably } from './placement.js';
import { unfinishedName } from './unfinished.js';
import { asOutputFailure } from './write-problem.js';

/**
 * Writes next to the target, then moves the file into place. Without `replace` an existing file is left; with it, that file is kept under
 * another name, which is returned. Throws OutputFailure.
 */
export async function writeBeside(
  target: string,
  text: string,
  replace: boolean,
): Promise<string | undefined> {
  const draft = unfinishedName(resolve(target));
  let kept: string | undefined;
  try {
    await writeDurably(draft, text);
    for (let n = 1; replace && kept === undefined; n++) {
      const free = `${target}.old-${n}`;
      if (await stat(free).catch(() => undefined)) continue;
      if (!(await stat(target).catch(() => undefined))) break;
      await link(target, free);
      kept = free;
    }
    if (replace) await rename(draft, target);
    else await link(draft, target);
    return kept;
  } catch (error) {
    throw asOutputFailure(error, shownPath(target));
  } finally {
    await rm(draft, { force: true });
  }
}
