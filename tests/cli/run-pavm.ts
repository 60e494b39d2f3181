import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join, relative, resolve } from 'node:path';

const BIN = resolve('bin/pavm');

export interface Ran {
  code: number | null;
  stdout: string;
  stderr: string;
}

/** Runs the built program as a user would. */
export function pavm(
  args: readonly string[],
  options: { cwd?: string; env?: Record<string, string> } = {},
): Ran {
  const ran = spawnSync(process.execPath, [BIN, ...args], {
    cwd: options.cwd,
    env: { ...process.env, ...options.env },
    encoding: 'utf8',
    maxBuffer: 1 << 28,
  });
  return { code: ran.status, stdout: ran.stdout, stderr: ran.stderr };
}

/** Path and hash of every file below a folder, sorted. */
export function folderHash(dir: string): string[] {
  if (!existsSync(dir)) return [];
  return readdirSync(dir, { recursive: true, withFileTypes: true })
    .filter((e) => e.isFile())
    .map((e) => join(e.parentPath, e.name))
    .sort()
    .map((f) => `${relative(dir, f)} ${createHash('sha256').update(readFileSync(f)).digest('hex')}`);
}
