// Loads the TypeScript of the repository as it is imported, and `test-shell.mjs` in place of vitest.
import { existsSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import { transform } from 'esbuild';

const SHELL = new URL('./test-shell.mjs', import.meta.url).href;

export async function resolve(name, context, next) {
  if (name === 'vitest') return { url: SHELL, shortCircuit: true };
  if (/^\.{1,2}\/.*\.js$/.test(name) && context.parentURL?.endsWith('.ts')) {
    const url = new URL(name.replace(/\.js$/, '.ts'), context.parentURL);
    if (existsSync(url)) return { url: url.href, format: 'module', shortCircuit: true };
  }
  return next(name, context);
}

export async function load(url, context, next) {
  if (!url.endsWith('.ts')) return next(url, context);
  const source = await readFile(fileURLToPath(url), 'utf8');
  const { code } = await transform(source, { loader: 'ts', format: 'esm', target: 'node20' });
  return { format: 'module', source: code, shortCircuit: true };
}
