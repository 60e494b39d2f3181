import { createHash } from 'node:crypto';
import type { Result } from '../result/result.generated.js';

/** Everything that determines a plan. */
export interface PlanGrounds {
  inputs: Result['inputs'];
  ruleSet: string;
  version: string;
  /** The date given on the command line; otherwise it comes from the inputs. */
  today?: string;
}

/** SHA-256 of the inputs' hashes, the rules, the version and the options; the same fingerprint means the same plan. */
export function fingerprintOf({ inputs, ruleSet, version, today }: PlanGrounds): string {
  const files = inputs
    .map(({ path, sha256, bytes }) => [path, sha256, bytes] as const)
    .sort(([a], [b]) => (a < b ? -1 : a > b ? 1 : 0));
  return createHash('sha256')
    .update(JSON.stringify([files, ruleSet, version, today ?? null]))
    .digest('hex');
}

/** The input of the fingerprint, as stated in a result. */
export function groundsOf(result: Pick<Result, 'inputs' | 'tool' | 'today'>): PlanGrounds {
  return {
    inputs: result.inputs,
    ruleSet: result.tool.rule_set,
    version: result.tool.version,
    ...(result.today.from === 'option' && { today: result.today.date }),
  };
}
