import { readFileSync } from 'node:fs';
import type { Rule } from './rule.js';

/** The built-in rules as the build parsed them beforehand (`build/precompile.mjs`); undefined where the sources run without a build. */
export function precompiledRules(): Rule[] | undefined {
  let text: string;
  try {
    text = readFileSync(new URL('built-in.json', import.meta.url), 'utf8');
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return undefined;
    throw error;
  }
  return JSON.parse(text) as Rule[];
}
