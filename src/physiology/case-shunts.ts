import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import type { Shunt } from '../result/result.generated.js';
import type { Rules } from '../rules/rule.js';
import { computeShunt, shuntInputOfCase, type ShuntOutcome } from './compute-shunt.js';
import { type ShuntChange, shuntChange, trendRefusal } from './shunt-change.js';
import { type Visit, visitsOf } from './visit.js';

/** The shunts of a case, and the one that everything else depends on. */
export interface CaseShunts {
  before: ShuntOutcome;
  after: ShuntOutcome;
  baseline: Visit;
  /** The outcome of the baseline visit. */
  headline: ShuntOutcome;
  /** What a closure starts from: the headline, or why there is nothing to start from. */
  closureShunt?: Shunt;
  change?: ShuntChange;
  findings: Finding[];
}

/** Works out the shunt of both visits and tells which one the plan depends on (`visitsOf`). */
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
