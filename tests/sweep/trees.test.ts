import { appendFileSync, existsSync, readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { sweepMisses, sweepTable } from './sweep-report.js';
import { kindOf, type Outcome, tryTree } from './tree-trial.js';

/** Trees of the sweep; a few in the tests, 200 with `npm run sweep`. */
const TREES = Number(process.env.PAVM_TREES ?? 2);
const SEED = Number(process.env.PAVM_SEED ?? 1);
/** Each tree's outcomes, one line each; trees already in the file are not tried again. */
const LOG = process.env.PAVM_SWEEP_LOG;

it('vessels of grown trees are right or stopped by name', { timeout: 36_000_000 }, () => {
  const known = new Map<number, Outcome[]>();
  if (LOG && existsSync(LOG))
    for (const text of readFileSync(LOG, 'utf8').split('\n').filter(Boolean)) {
      const outcomes = JSON.parse(text) as Outcome[];
      known.set(outcomes[0].seed, outcomes);
    }
  const outcomes: Outcome[] = [];
  for (let seed = SEED; seed < SEED + TREES; seed++) {
    const { defect, shape } = kindOf(seed);
    const isKnown = known.has(seed);
    const tried = known.get(seed) ?? tryTree(seed, defect, TREES > 2 || LOG ? shape : { ...shape, forks: 1 });
    if (LOG && !isKnown) appendFileSync(LOG, `${JSON.stringify(tried)}\n`);
    outcomes.push(...tried);
  }
  console.log([sweepTable(outcomes), ...sweepMisses(outcomes)].join('\n'));
  const silent = sweepMisses(outcomes.filter((o) => o.end === 'silent'));
  expect(silent.length, silent.join('\n')).toBeLessThanOrEqual(0.01 * outcomes.length);
  for (const o of outcomes) expect(o.samples.inside, `inside, ${o.seed} ${o.vessel}`).toBe(o.samples.asked);
});
