import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import type { Shunt } from '../result/result.generated.js';
import type { Rules } from '../rules/rule.js';
import { computeShunt, shuntInputOfCase, type ShuntOutcome } from './compute-shunt.js';
import { type ShuntChange, shuntChange, trendRefusal } from './shunt-change.js';
import { type Visit, visitsOf } from './visit.js';

/** The shunts of a case, and the one that the plan depends on. */
export interface CaseShunts {
  before: ShuntOutcome;
  after: ShuntOutcome;
  baseline: Visit;
  /** The outcome of the baseline visit. */
  headline: ShuntOutcome;
  /** The starting point of a closure: the headline, or why there is none. */
  closureShunt?: Shunt;
  change?: ShuntChange;
  findings: Finding[];
}

/** Computes the shunt of both visits and which one the plan depends on (`visitsOf`). */
export function caseShunts(patientCase: Case, rules: Pick<Rules, 'byId'>): CaseShunts {
  const { samples, baseline, apartBecause, findings } = visitsOf(patientCase);
  const of = (when: Visit): ShuntOutcome => {
    const outcome = computeShunt(
      shuntInputOfCase({ ...patientCase, gases: samples }, when, when === baseline),
      rules,
    );
    return { ...outcome, shunt: outcome.shunt && { ...outcome.shunt, when } };
  };
  const [before, after] = [of('before'), of('after')];
  const headline = baseline === 'after' ? after : before;
  const refusal = trendRefusal(before.shunt, after.shunt);
  return {
    before,
    after,
    baseline,
    headline,
    closureShunt:
      apartBecause === undefined
        ? headline.shunt
        : { method: headline.shunt?.method ?? 'content', assumed: [], absent_because: apartBecause },
    change: shuntChange(before.shunt, after.shunt),
    findings: [
      ...findings,
      ...before.findings.filter(({ id }) => !(id === 'gases-absent' && after.shunt)),
      ...after.findings,
      ...(refusal === undefined ? [] : [finding('note', 'shunt-trend-absent', 'gases', refusal)]),
    ],
  };
}
