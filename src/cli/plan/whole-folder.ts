import { lstatSync } from 'node:fs';
import { join } from 'node:path';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { refuseLinkOutside } from '../../foundation/own-folder.js';
import { readRegularFile } from '../../foundation/regular-file.js';
import { hashOfFile } from '../input/hash-of-file.js';
import { type OutputList, readList, sha256Hex } from '../output/output-list.js';

/** Whether every file of a list exists as written, as a file and not through a link. */
export async function isWhole(folder: string, { files }: OutputList): Promise<boolean> {
  const seen = new Set<string>();
  try {
    for (const { path, sha256, bytes } of files) {
      const steps = path.split('/');
      for (let n = 1; n < steps.length; n++) {
        const below = steps.slice(0, n).join('/');
        if (!seen.has(below) && !lstatSync(join(folder, below)).isDirectory()) return false;
        seen.add(below);
      }
      const full = join(folder, path);
      const facts = lstatSync(full);
      if (!facts.isFile() || facts.size !== bytes) return false;
      if ((await hashOfFile(full)).sha256 !== sha256) return false;
    }
    return true;
  } catch {
    return false;
  }
}

/** The list of a plan folder; undefined if it holds no plan. */
export async function planList(planFolder: string): Promise<OutputList | undefined> {
  const list = await readList(planFolder);
  return list?.kind === 'plan' ? list : undefined;
}

/** The SHA-256 of a file in the list of its folder. */
export const listedHash = ({ files }: OutputList, path: string): string | undefined =>
  files.find((file) => file.path === path)?.sha256;

/**
 * A result in a plan folder with exactly the bytes that were written; undefined otherwise. It was checked against its schema before it
 * was written and is not checked again, because in an unchanged batch that took as long as everything else.
 */
export function writtenResult<T extends { format: string; inputs: unknown }>(
  planFolder: string,
  path: string,
  format: T['format'],
  list: OutputList,
): T | undefined {
  const listed = list.files.find((file) => file.path === path);
  if (listed === undefined) return undefined;
  const full = join(planFolder, path);
  try {
    refuseLinkOutside(full, EXIT.input);
    const bytes = readRegularFile(full, { shown: path, exitCode: EXIT.input, mostBytes: listed.bytes });
    if (sha256Hex(bytes) !== listed.sha256) return undefined;
    const result = JSON.parse(bytes.toString('utf8')) as T | null;
    return result?.format === format && Array.isArray(result.inputs) ? result : undefined;
  } catch (error) {
    if (error instanceof InputFailure || error instanceof SyntaxError) return undefined;
    throw error;
  }
}
