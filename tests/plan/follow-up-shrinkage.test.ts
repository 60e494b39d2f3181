import { describe, expect, it } from 'vitest';
import { readShrinkage } from '../../src/plan/follow-up-shrinkage.js';
import { RULES } from './make.js';

const vein = (after: number) => readShrinkage({ veinMm: { before: 100, after } }, RULES)?.reading;
const sac = (after: number) => readShrinkage({ sacMm: { before: 100, after } }, RULES)?.reading;

describe('shrinkage after treatment', () => {
  // By hand: vein 8.0 -> 3.4 mm = 57.5 %.
  it('8.0 to 3.4 mm: probably closed, fails the 70 % rule', () => {
    const found = readShrinkage({ veinMm: { before: 8, after: 3.4 } }, RULES);
    expect(found).toMatchObject({ veinPercent: 57.5, reading: 'probably closed' });
    expect(found?.text).toContain(
      'Mean calibre of the draining vein 57.5 % smaller (8.0 to 3.4 mm): probably closed, fails the 70 % rule',
    );
  });
  // CVIR Endovasc 2021 (excerpt): above 42 % all closed, below 32 % all reopened; 70 % the usual rule (BTS 2017).
  it.each([
    [30, 'closed'],
    [30.1, 'probably closed'],
    [57.9, 'probably closed'],
    [58, 'indeterminate'],
    [68, 'indeterminate'],
    [68.1, 'persistence likely'],
    [120, 'persistence likely'],
  ])('vein left at %f of 100', (after, reading) => expect(vein(after)).toBe(reading));
  // Makimoto (excerpt): sac shrinkage under 60 % at 12 months, all reperfused.
  it.each([
    [30, 'closed'],
    [40, 'probably closed'],
    [40.1, 'persistence likely'],
  ])('sac left at %f of 100', (after, reading) => expect(sac(after)).toBe(reading));
  it('the worse reading counts; nothing measured, nothing reported', () => {
    expect(
      readShrinkage({ veinMm: { before: 8, after: 1 }, sacMm: { before: 20, after: 10 } }, RULES)?.reading,
    ).toBe('persistence likely');
    expect(readShrinkage({}, RULES)).toBeUndefined();
    expect(readShrinkage({ veinMm: { before: 0, after: 1 } }, RULES)).toBeUndefined();
  });
});
