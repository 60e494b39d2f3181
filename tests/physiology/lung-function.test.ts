import { describe, expect, it } from 'vitest';
import type { Lobe } from '../../src/case/case.js';
import { predictLungFunction } from '../../src/physiology/lung-function.js';
import {
  countedSegments,
  lobeSegments,
  type Side,
  subsegmentsOf,
} from '../../src/physiology/lung-segments.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { readCheckValues, worked } from '../check-values/read-check-values.js';

const rules = loadRules();

describe('lung function after resection against its table', () => {
  for (const row of readCheckValues('lung-function')) {
    it(`${row.id}: ${row.source}`, () => {
      const pre = row.need('pre');
      const predicted = predictLungFunction({
        side: row.word('side') as Side,
        lobe: row.word('lobe') as Lobe,
        lesionSegments: row.word('segments').split(' ').filter(Boolean),
        spirometry: { fev1L: pre, fev1Percent: pre, dlcoPercent: pre },
        rules,
      });
      const value = worked(row, {
        fev1_l: () => predicted.predicted_fev1_l,
        fev1_percent: () => predicted.predicted_fev1_percent,
        dlco_percent: () => predicted.predicted_dlco_percent,
      });
      expect(Math.abs(value - row.expected)).toBeLessThanOrEqual(row.tolerance);
    });
  }
});

describe('counting of segments', () => {
  const whole = [
    ['right', 'upper'],
    ['right', 'middle'],
    ['right', 'lower'],
    ['left', 'upper'],
    ['left', 'lower'],
  ] as const;

  it('both lungs have 19 segments and 42 subsegments', () => {
    const lobes = whole.map(([side, lobe]) => lobeSegments(side, lobe));
    expect(lobes.reduce((sum, l) => sum + (l?.segments.length ?? 0), 0)).toBe(19);
    expect(lobes.reduce((sum, l) => sum + (l?.subsegments ?? 0), 0)).toBe(42);
  });

  it('joins the left S7 and S8, parts the left S1+2, and takes a subsegment for its segment', () => {
    expect(countedSegments('left', ['S7', 'S8', 'S7+8']).known).toEqual(['S7+8']);
    expect(countedSegments('left', ['S1+2']).known).toEqual(['S1', 'S2']);
    expect(countedSegments('right', ['S9a', 's9']).known).toEqual(['S9']);
    expect(countedSegments('left', ['S11', 'base']).unknown).toEqual(['S11', 'base']);
    expect(subsegmentsOf('right', 'S9')).toBeCloseTo(2.4, 12);
    expect(subsegmentsOf('right', 'S11')).toBe(0);
  });

  it('a lobe that the side does not have gives the reason', () => {
    const spirometry = { fev1Percent: 88 };
    const at = (side: Side | undefined, lobe: Lobe | undefined) =>
      predictLungFunction({ side, lobe, lesionSegments: [], spirometry, rules }).predicted_because;
    expect(at('left', 'middle')).toContain('no middle lobe');
    expect(at(undefined, 'lower')).toContain('side');
    expect(at('left', undefined)).toContain('lobe');
  });
});

describe('reading of the predicted values', () => {
  const read = (fev1Percent: number | undefined, dlcoPercent?: number, lobe: Lobe = 'lower') =>
    predictLungFunction({
      side: 'right',
      lobe,
      lesionSegments: [],
      spirometry: { fev1Percent, dlcoPercent },
      rules,
    });
  /** What must be measured before to leave `ppo` after right lower lobectomy. */
  const preFor = (ppo: number) => (ppo * 19) / 14;

  it.each([
    [60.01, 'low risk, no further test'],
    [60, 'stair climb'],
    [30, 'stair climb'],
    [29.99, 'exercise test before deciding'],
  ])('both at %d %%: %s', (ppo, words) => {
    expect(read(preFor(ppo), preFor(ppo)).predicted_reading).toContain(words);
  });

  it('40 % divides the risk of breathlessness', () => {
    expect(read(preFor(39.99), preFor(80)).predicted_reading).toContain('higher risk of breathlessness');
    expect(read(preFor(40.01), preFor(80)).predicted_reading).toContain('not below 40 %');
  });

  it('mentions 42 subsegments where they fall on the other side of a threshold, and only there', () => {
    expect(read(82, 75).predicted_because).toContain('By 42 subsegments');
    expect(read(82, 75).predicted_because).toContain('58.6 %, on the other side of 60 %');
    expect(read(95, 95).predicted_because).not.toContain('42');
  });

  it('without spirometry nothing is predicted and that is said', () => {
    const none = read(undefined);
    expect(none.predicted_fev1_percent).toBeUndefined();
    expect(none.predicted_reading).toBeUndefined();
    expect(none.predicted_because).toContain('spirometry is not given');
    expect(read(90).predicted_dlco_percent).toBeUndefined();
    expect(read(90).predicted_reading).toContain('needs both');
  });
});
