import { spawn } from 'node:child_process';
import { mkdirSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';
import { mulberry32 } from '../../src/foundation/mulberry32.js';
import { lesionOf, writeCase } from '../compare/make-case.js';

export const BIN = fileURLToPath(new URL('../../bin/pavm', import.meta.url));

export interface Ended {
  code: number | null;
  out: string;
  err: string;
}

/** The built program, running; `until` resolves when its stderr so far contains the text. */
export function start(
  args: readonly string[],
  options: { cwd?: string; detached?: boolean; env?: NodeJS.ProcessEnv } = {},
) {
  const child = spawn(process.execPath, [BIN, ...args], options);
  // a failing test must not leave the program running
  const end = (): void => {
    child.kill('SIGKILL');
  };
  process.once('exit', end);
  child.once('close', () => process.off('exit', end));
  let [out, err] = ['', ''];
  const waiting: { text: string; go: () => void }[] = [];
  child.stdout.on('data', (piece) => {
    out += piece;
  });
  child.stderr.on('data', (piece) => {
    err += piece;
    for (const { text, go } of waiting) if (err.includes(text)) go();
  });
  const ended = new Promise<Ended>((resolve) => {
    child.on('close', (code) => resolve({ code, out, err }));
  });
  const until = (text: string): Promise<void> =>
    new Promise((resolve) => {
      if (err.includes(text)) resolve();
      else waiting.push({ text, go: resolve });
      void ended.then(() => resolve());
    });
  return { child, ended, until };
}

export const pavm = (
  args: readonly string[],
  options: { cwd?: string; env?: NodeJS.ProcessEnv } = {},
): Promise<Ended> => start(args, options).ended;

/** A case with blood gases only, planned in a second. */
function writeGases(folder: string, id: string, po2: number): string {
  const text = [
    '# Invented; not a real patient.',
    'format: pavm-case/1',
    `id: ${id}`,
    'purpose: teaching',
    'scan: { date: 2025-03-01 }',
    'blood: { haemoglobin: 15 g/dL }',
    'gases:',
    `  - { name: before, when: before, fio2: 1.0, minutes_on_oxygen: 20, site: arterial, po2: ${po2} mmHg, pco2: 36 mmHg, ph: 7.42, so2: 97 %, pressure: 755 mmHg }`,
  ];
  mkdirSync(folder, { recursive: true });
  writeFileSync(join(folder, 'case.yaml'), `${text.join('\n')}\n`);
  return folder;
}

/**
 * Writes small synthetic cases `c01`, `c02` ..., all different, the last `light` without surfaces, and returns their folders.
 */
export function writeCases(folder: string, count: number, light = 0): string[] {
  const next = mulberry32(17);
  const between = (low: number, high: number): number => low + (high - low) * next();
  return Array.from({ length: count }, (_, i) => {
    const id = `c${String(i + 1).padStart(Math.max(2, String(count).length), '0')}`;
    if (i >= count - light) return writeGases(join(folder, id), id, Math.round(between(90, 300)));
    const A2 = i % 2 === 0 ? 0 : between(3.4, 5);
    const lesion = lesionOf({ A1: between(4, 7), A2, V1: between(6, 8.5), sac: between(0.75, 1.2) });
    return writeCase(join(folder, id), lesion, { id, before: Math.round(between(90, 300)) });
  });
}

export const breakMesh = (folder: string): void =>
  writeFileSync(join(folder, 'meshes', 'sac.stl'), 'no mesh at all');
export const breakCase = (folder: string): void =>
  writeFileSync(join(folder, 'case.yaml'), 'format: pavm-case/1\nid: [');

/** Every file below a folder with its bytes, except hidden leftovers. */
export function treeOf(folder: string): Map<string, string> {
  const files = new Map<string, string>();
  for (const entry of readdirSync(folder, { recursive: true, withFileTypes: true })) {
    const path = relative(folder, join(entry.parentPath, entry.name));
    if (entry.isFile() && !path.split('/').some((part) => part.startsWith('.pavm-')))
      files.set(path, readFileSync(join(entry.parentPath, entry.name)).toString('base64'));
  }
  return new Map([...files].sort(([a], [b]) => (a < b ? -1 : 1)));
}

/** Plan folders in an output folder. */
export const planFolders = (out: string): string[] =>
  readdirSync(out)
    .filter((name) => !name.startsWith('.') && statSync(join(out, name)).isDirectory())
    .sort();

export interface SummaryFile {
  done: number;
  failed: number;
  left: number;
  exit_code: number;
  cases: { case: string; status: string; exit_code: number; problems: string[] }[];
}
export const summaryIn = (folder: string): SummaryFile =>
  JSON.parse(readFileSync(join(folder, 'summary.json'), 'utf8'));

/** What a run has started and not finished, in any folder below. */
export const leftovers = (folder: string): string[] =>
  readdirSync(folder, { recursive: true, encoding: 'utf8' }).filter((path) =>
    /(^|\/)\.pavm-[^/]*$/.test(path),
  );
