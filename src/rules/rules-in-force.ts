import { precompiledRules } from './precompiled-rules.js';
import type { Rules } from './rule.js';
import { rulesOf } from './rules-of-list.js';

/** What `loadRules` gives, without loading the reader of rule files where the build parsed them beforehand and nothing is laid over. */
export async function rulesInForce(overlayDir?: string): Promise<Rules> {
  const builtIn = overlayDir === undefined ? precompiledRules() : undefined;
  if (builtIn) return rulesOf(builtIn.list, { hash: builtIn.hash });
  const { loadRules } = await import('./load-rules.js');
  return loadRules(overlayDir);
}
