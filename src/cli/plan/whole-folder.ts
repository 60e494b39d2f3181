import { lstatSync } from 'node:fs';
import { join } from 'node:path';
import { hashOfFile } from '../input/hash-of-file.js';
import type { OutputList } from '../output/output-list.js';

/** Whether every file of a list is there as it was written, itself and not through a link. */
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
