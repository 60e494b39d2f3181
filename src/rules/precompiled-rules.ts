import { readFileSync } from 'node:fs';
import type { Rules } from './rule.js';

/**
 * The built-in rules and their hash as compiled by the build (`build/precompile.mjs`); undefined when running from the sources without a
 * build.
 */
export function precompiledRules(): Pick<Rules, 'list' | 'hash'> | undefined {
  let text: string;
  try {
    text = readFileSync(new URL('built-in.json', import.meta.url), 'utf8');
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return undefined;
    throw error;
  }
  return JSON.parse(text) as Pick<Rules, 'list' | 'hash'>;
}
