import { expect, it, vi } from 'vitest';
import { kindOf, tryTree } from './tree-trial.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 180_000 });

// a fused vein runs alongside the branch B2a, which is stopped; its opening on B2 is 4.7 mm from the tree's
it('an unmeasured branch casts doubt on its opening', () => {
  const { defect, shape } = kindOf(87);
  const outcomes = tryTree(87, defect, shape);
  expect(outcomes.find(({ vessel }) => vessel === 'B2a')).toMatchObject({ end: 'stopped' });
  const parent = outcomes.find(({ vessel }) => vessel === 'B2')!;
  expect(parent.why).toContain('branch-not-measured');
  expect(parent.end).not.toBe('silent');
});
