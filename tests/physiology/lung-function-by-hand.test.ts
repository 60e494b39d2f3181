import { describe, expect, it } from 'vitest';
import type { Case } from '../../src/case/case.js';
import { predictLungFunction } from '../../src/physiology/lung-function.js';
import {
  countedSegments,
  lobeSegments,
  lobesOf,
  segmentNames,
  subsegmentsOf,
} from '../../src/physiology/lung-segments.js';
import { countResection, type ResectionCount } from '../../src/physiology/resection-count.js';
import { ruleNumber } from '../../src/rules/rule.js';
import { citeOf } from '../../src/rules/source-text.js';
import { RULES } from './make.js';

describe('segments', () => {
  it('and the lobes that they make up, from above', () => {
    const lobes = (side: 'left' | 'right', ...names: string[]): string[] =>
      lobesOf(side, names).map(({ lobe, whole }) => `${whole ? 'all of ' : 'of '}${lobe}`);
    expect(lobes('right', 'S1', 'S2', 'S3')).toEqual(['all of upper']);
    expect(lobes('right', 'S4', 'S6')).toEqual(['of middle', 'of lower']);
    expect(lobes('right')).toEqual([]);
    // on the left S4 and S5 alone are the lingula; with more of the upper lobe they belong to that
    expect(lobes('left', 'S4', 'S5')).toEqual(['all of lingula']);
    expect(lobes('left', 'S4')).toEqual(['of lingula']);
    expect(lobes('left', 'S3', 'S4')).toEqual(['of upper']);
    expect(lobes('left', 'S4', 'S5', 'S6')).toEqual(['all of lingula', 'of lower']);
    expect(lobes('left', 'S9')).toEqual(['of lower']);
    expect(lobes('right', 'S4', 'S5')).toEqual(['all of middle']);
  });

  it('as named in the table', () => {
    const known = (side: 'left' | 'right', ...names: string[]) => countedSegments(side, names);
    expect(known('right', ' S10 ', '9', 's1a', 'S2ab')).toEqual({
      known: ['S1', 'S2', 'S9', 'S10'],
      unknown: [],
    });
    expect(known('right', 'S9+10', 'S7+8')).toEqual({ known: ['S7', 'S8', 'S9', 'S10'], unknown: [] });
    expect(known('right', 'xS9', 'S9x', 'S9+', 'SS9', 'S123', '')).toEqual({
      known: [],
      unknown: ['xS9', 'S9x', 'S9+', 'SS9', 'S123', ''],
    });
    // if one of two is missing, the pair is unknown
    expect(known('right', 'S10+11')).toEqual({ known: [], unknown: ['S10+11'] });
    expect(known('left', '7', 'S8', 'S7+8')).toEqual({ known: ['S7+8'], unknown: [] });
    expect(known('left', 'S11')).toEqual({ known: [], unknown: ['S11'] });
    expect(segmentNames('left', ['S2', 'S3'])).toEqual(['S2', 'S3']);
    expect(lobeSegments('left', 'middle')).toBeUndefined();
    expect(lobeSegments(undefined, 'upper')).toBeUndefined();
    expect(lobeSegments('left', undefined)).toBeUndefined();
    // four subsegments of two segments; the left upper lobe ten of five, its lingula within it
    expect(subsegmentsOf('right', 'S4')).toBe(2);
    expect(subsegmentsOf('left', 'S7+8')).toBe(2.5);
  });

  it('that no longer breathe are counted once, by segments and by subsegments', () => {
    const count = countResection(
      { side: 'right', lobe: 'upper', segments: [] },
      { obstructedSegments: ['S1', 'S6'] },
    ) as ResectionCount;
    // 19 - 2 work; of the upper lobe S2 and S3 are left to remove. 42 - 2 - 2.4 and 2 · 2 subsegments
    expect(count).toMatchObject({
      working: 17,
      left: 15,
      taken: ['S1', 'S2', 'S3'],
      obstructed: ['S1', 'S6'],
    });
    expect(count.kept).toBeCloseTo(15 / 17, 12);
    expect(count.keptBySubsegments).toBeCloseTo((37.6 - 4) / 37.6, 12);
  });

  it('that cannot be counted: what is missing', () => {
    const why = (lesion: Partial<Case['lesion']>, surgery: Case['surgery'] = {}): string => {
      const found = countResection({ segments: [], ...lesion }, surgery);
      return 'absentBecause' in found ? found.absentBecause : found.what;
    };
    expect(why({})).toBe('the side is not given');
    expect(why({ side: 'left' })).toBe('the lobe is not given');
    expect(why({ side: 'left', lobe: 'middle' })).toBe('there is no middle lobe on the left side');
    expect(why({ side: 'left' }, { extent: 'segments' })).toContain('surgery.extent is segments and neither');
    expect(why({ side: 'left', segments: ['S11', 'S12'] }, { extent: 'wedge' })).toBe(
      'there is no segment S11, S12 on the left',
    );
    expect(why({ side: 'left', lobe: 'lower' }, { obstructedSegments: ['S11', 'S12'] })).toBe(
      'there is no segment S11, S12 on the left',
    );
    // a whole lobe and a part of another are named by segments
    expect(why({ side: 'right' }, { segments: ['S4', 'S5', 'S6'] })).toBe('S4, S5, S6 of the right lung');
  });
});

describe('remaining lung function', () => {
  const count = (side: 'left' | 'right', lobe: 'upper' | 'lower', surgery: Case['surgery'] = {}) =>
    countResection({ side, lobe, segments: [] }, surgery);
  const predict = (
    spirometry: Parameters<typeof predictLungFunction>[0]['spirometry'],
    of = count('right', 'lower'),
    rules: typeof RULES = RULES,
  ) => predictLungFunction({ count: of, spirometry, rules });
  const guideline = citeOf(ruleNumber(RULES, 'moderate-predicted-function').source);
  const citations = (text: string): number => text.split(guideline).length - 1;
  /** Value needed before surgery to leave this much after the right lower lobe, 14 of 19. */
  const needed = (left: number): number => (left * 19) / 14;

  it('reports what the count depends on, and nothing else', () => {
    const plain = predict({ fev1L: 3 });
    expect(plain.predicted_because).toMatch(
      /^19-segment count \(.*\); segments with the malformation count as working\. Without the right lower lobe, 14 of 19 working segments are left \(73\.7 %\)\.$/,
    );
    expect(plain).toEqual({ predicted_fev1_l: 2.2105, predicted_because: plain.predicted_because });
    for (const one of [{ fev1Percent: 90 }, { dlcoPercent: 90 }]) {
      const text = predict(one).predicted_because;
      expect(text).toContain('Intervals: published limits of agreement');
      expect(text).not.toContain('not given');
      expect(text).not.toContain('wedge');
    }
    expect(predict({}).predicted_because).toMatch(/No value is predicted: spirometry is not given\.$/);
    expect(predict({}, { absentBecause: 'x' })).toEqual({ predicted_because: 'Not predicted: x.' });
    const blocked = (obstructedSegments: string[]) =>
      predict({}, count('left', 'lower', { obstructedSegments })).predicted_because;
    expect(blocked(['S3'])).toContain('; S3 no longer breathes by the case.');
    expect(blocked(['S1', 'S2', 'S3'])).toContain('; S1+2, S3 no longer breathe by the case.');
    const wedge = count('right', 'lower', { extent: 'wedge', segments: ['S8'] });
    expect(predict({}, wedge).predicted_because).toContain('A wedge takes less');
  });

  it('has the published limits of agreement as its interval, never below zero', () => {
    const found = predict({ fev1Percent: needed(50), dlcoPercent: needed(10) });
    expect(found.predicted_fev1_percent_interval).toEqual([30.3, 89.3]);
    expect(found.predicted_dlco_percent_interval).toEqual([0, 35.6]);
  });

  it.each<[number, number | undefined, string, string]>([
    [60.1, 61, 'Both above 60 %: low risk', 'not below 40 %'],
    [61, 60, 'A value of 30 to 60 %', 'not below 40 %'],
    [40, 61, 'A value of 30 to 60 %', 'not below 40 %'],
    [39.9, 61, 'A value of 30 to 60 %', 'below 40 %: higher risk'],
    [30, 61, 'A value of 30 to 60 %', 'below 40 %: higher risk'],
    [61, 29.9, 'A value below 30 %: cardiopulmonary', 'below 40 %: higher risk'],
    [61, undefined, 'Above 60 %, but low risk needs both', 'not below 40 %'],
  ])('%d and %d %% of predicted: %s', (fev1, dlco, first, second) => {
    const found = predict({
      fev1Percent: needed(fev1),
      dlcoPercent: dlco === undefined ? undefined : needed(dlco),
    }).predicted_reading!;
    expect(found.startsWith(first)).toBe(true);
    expect(found).toMatch(new RegExp(`; ${second}`));
    // one guideline for both limits, and one for breathlessness
    expect(citations(found)).toBe(1);
  });

  it('cites both guidelines where a hospital takes its low limit from another', () => {
    const rule = RULES.byId.get('low-predicted-function')!;
    const rules = {
      ...RULES,
      byId: new Map([...RULES.byId, [rule.id, { ...rule, source: 'local: protocol 7' }]]),
    } as typeof RULES;
    const both = predict({ fev1Percent: 80 }, count('right', 'lower'), rules).predicted_reading!;
    expect(both).toContain('protocol 7');
    expect(citations(both)).toBe(1);
  });

  it('by subsegments on the other side of a limit: 30 of 42 remain instead of 14 of 19', () => {
    // 82 % leaves 60.4 % by segments and 58.6 % by subsegments
    const told = (fev1Percent: number | undefined, dlcoPercent?: number): string[] =>
      predict({ fev1Percent, dlcoPercent }).predicted_because!.match(
        /By 42 subsegments .*? (FEV1|DLCO) would be [\d.]+ %, on the other side of \d+ %\./g,
      ) ?? [];
    expect(told(82)).toEqual([expect.stringMatching(/FEV1 would be 58\.6 %, on the other side of 60 %\.$/)]);
    expect(told(90, 55)).toEqual([
      expect.stringMatching(/DLCO would be 39\.3 %, on the other side of 40 %\.$/),
    ]);
    expect(told(41.5)).toEqual([
      expect.stringMatching(/FEV1 would be 29\.6 %, on the other side of 30 %\.$/),
    ]);
    expect(told(90, 95)).toEqual([]);
    // a value on the limit lies above it by both counts, or by one
    expect(told((60 * 42) / 30)).toEqual([]);
    expect(told(needed(60))).toHaveLength(1);
  });
});
