import { precompiledRules } from './precompiled-rules.js';
import type { Rules } from './rule.js';
import { rulesOf } from './rules-of-list.js';

/** The same as `loadRules`, without loading the reader of rule files if the build has parsed them and there is no overlay. */
export async function rulesInForce(overlayDir?: string): Promise<Rules> {
  const builtIn = overlayDir === undefined ? precompiledRules() : undefined;
  if (builtIn) return rulesOf(builtIn.list, { hash: builtIn.hash });
  const { loadRules } = await import('./load-rules.js');
  return loadRules(overlayDir);
}
