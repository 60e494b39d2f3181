import { type Rules, ruleNumber } from './rule.js';

/** Limits of one quantity that must stay in order: the first at most as large as the second. */
const ORDERED: readonly [low: string, high: string][] = [
  ['pulmonary-hypertension', 'severe-pulmonary-hypertension'],
  ['low-predicted-function', 'breathless-predicted-function'],
  ['breathless-predicted-function', 'moderate-predicted-function'],
  ['vein-shrinkage-open', 'vein-shrinkage-closed'],
  ['vein-shrinkage-closed', 'shrinkage-success'],
  ['sac-shrinkage-suspect', 'shrinkage-success'],
  ['smallest-usual-feeder', 'large-feeder-from'],
  ['feeder-calibre-lowest', 'feeder-calibre-highest'],
  ['pregnancy-age-from', 'pregnancy-age-to'],
  ['curacao-possible', 'curacao-definite'],
  ['contrast-prophylaxis-egfr', 'contrast-caution-egfr'],
  ['leak-test-low', 'leak-test-warn'],
  ['leak-test-warn', 'leak-test-confirm'],
];

/** One line for each pair of limits that an overlay has put in the wrong order, which would leave no level between them. */
export function limitsOutOfOrder(rules: Pick<Rules, 'byId'>): string[] {
  return ORDERED.flatMap(([lowId, highId]) => {
    const [low, high] = [ruleNumber(rules, lowId), ruleNumber(rules, highId)];
    if (low.value <= high.value) return [];
    const [ours, other, how] = high.origin === 'built-in' ? [low, high, 'above'] : [high, low, 'below'];
    return [
      `${ours.origin}: rule ${ours.id}: ${ours.value} ${ours.unit} lies ${how} the ${other.value} ${other.unit} of rule ${other.id}. Change one of them.`,
    ];
  });
}
