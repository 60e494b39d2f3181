import { describe, expect, it } from 'vitest';
import type { Case, Lobe, Patient } from '../../src/case/case.js';
import { predictLungFunction } from '../../src/physiology/lung-function.js';
import {
  countedSegments,
  lobeSegments,
  segmentNames,
  type Side,
  subsegmentsOf,
} from '../../src/physiology/lung-segments.js';
import { countResection } from '../../src/physiology/resection-count.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { readCheckValues, worked } from '../check-values/read-check-values.js';

const rules = loadRules();

/** The prediction for a case that asks for these segments (none: the lobe). */
function predict(
  lesion: { side?: Side; lobe?: Lobe; segments?: string[] },
  spirometry: Patient['spirometry'],
  surgery: Case['surgery'] = {},
) {
  return predictLungFunction({
    count: countResection({ segments: [], ...lesion }, surgery),
    spirometry,
    rules,
  });
}

const wordsOf = (cell: string): string[] => cell.split(' ').filter(Boolean);

describe('lung function after resection against its table', () => {
  for (const row of readCheckValues('lung-function')) {
    it(`${row.id}: ${row.source}`, () => {
      const pre = row.need('pre');
      const segments = wordsOf(row.word('segments'));
      const predicted = predict(
        { side: row.word('side') as Side, lobe: row.word('lobe') as Lobe, segments: ['S1'] },
        { fev1L: pre, fev1Percent: pre, dlcoPercent: pre },
        {
          ...(segments.length > 0 && { extent: 'segments', segments }),
          obstructedSegments: wordsOf(row.word('obstructed')),
        },
      );
      const value = worked(row, {
        fev1_l: () => predicted.predicted_fev1_l,
        fev1_percent: () => predicted.predicted_fev1_percent,
        dlco_percent: () => predicted.predicted_dlco_percent,
        fev1_low: () => predicted.predicted_fev1_percent_interval?.[0],
        fev1_high: () => predicted.predicted_fev1_percent_interval?.[1],
        dlco_low: () => predicted.predicted_dlco_percent_interval?.[0],
        dlco_high: () => predicted.predicted_dlco_percent_interval?.[1],
        fev1_loss: () => pre - (predicted.predicted_fev1_percent ?? Number.NaN),
      });
      expect(Math.abs(value - row.expected)).toBeLessThanOrEqual(row.tolerance);
    });
  }
});

describe('counting segments', () => {
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

  it('combines the left S7 and S8, splits the left S1+2, and counts a subsegment as its segment', () => {
    expect(countedSegments('left', ['S7', 'S8', 'S7+8']).known).toEqual(['S7+8']);
    expect(countedSegments('left', ['S1+2']).known).toEqual(['S1', 'S2']);
    expect(segmentNames('left', ['S1', 'S2', 'S3'])).toEqual(['S1+2', 'S3']);
    expect(segmentNames('left', ['S1', 'S7+8'])).toEqual(['S1', 'S7+8']);
    expect(segmentNames('right', ['S1', 'S2'])).toEqual(['S1', 'S2']);
    expect(countedSegments('right', ['S9a', 's9']).known).toEqual(['S9']);
    expect(countedSegments('left', ['S11', 'base']).unknown).toEqual(['S11', 'base']);
    expect(subsegmentsOf('right', 'S9')).toBeCloseTo(2.4, 12);
    expect(subsegmentsOf('right', 'S11')).toBe(0);
  });

  it('a lesion alone obstructs nothing: its segments count as working', () => {
    const pre = { fev1Percent: 95 };
    const plain = predict({ side: 'right', lobe: 'upper' }, pre);
    expect(predict({ side: 'right', lobe: 'upper', segments: ['S1', 'S2', 'S3'] }, pre)).toEqual(plain);
    expect(plain.predicted_because).toContain('16 of 19 working segments are left (84.2 %)');
    expect(plain.predicted_because).toContain('segments with the malformation count as working');
    const blocked = predict({ side: 'right', lobe: 'upper' }, pre, { obstructedSegments: ['S1'] });
    expect(blocked.predicted_because).toContain('S1 no longer breathes by the case');
    expect(blocked.predicted_because).toContain('16 of 18');
  });

  it('what cannot be counted gives the reason', () => {
    const at = (lesion: { side?: Side; lobe?: Lobe; segments?: string[] }, surgery?: Case['surgery']) =>
      predict(lesion, { fev1Percent: 88 }, surgery);
    expect(at({ side: 'left', lobe: 'middle' }).predicted_because).toContain('no middle lobe');
    expect(at({ lobe: 'lower' }).predicted_because).toContain('side');
    expect(at({ side: 'left' }).predicted_because).toContain('lobe');
    const unknown = at({ side: 'left', lobe: 'lower' }, { extent: 'segments', segments: ['S11'] });
    expect(unknown.predicted_because).toContain('no segment S11 on the left');
    expect(unknown.predicted_fev1_percent).toBeUndefined();
    expect(at({ side: 'left', lobe: 'lower' }, { obstructedSegments: ['S12'] }).predicted_because).toContain(
      'S12',
    );
    expect(at({ side: 'left', lobe: 'lower' }, { extent: 'wedge' }).predicted_because).toContain('names any');
  });

  it('names what is removed: lobes, segments, a wedge; without segments those of the lesion', () => {
    const what = (lesion: { side: Side; lobe: Lobe; segments?: string[] }, surgery: Case['surgery']) => {
      const count = countResection({ segments: [], ...lesion }, surgery);
      return 'what' in count ? count.what : count.absentBecause;
    };
    const right = { side: 'right', lobe: 'upper' } as const;
    expect(what(right, {})).toBe('the right upper lobe');
    expect(what({ side: 'left', lobe: 'lingula' }, {})).toBe('the left lingula');
    expect(what(right, { extent: 'segments', segments: ['S5', 'S4', 'S1', 'S2', 'S3'] })).toBe(
      'the right upper lobe and middle lobe (S1, S2, S3, S4, S5)',
    );
    expect(what(right, { segments: ['S3'] })).toBe('S3 of the right lung');
    expect(what({ ...right, segments: ['S2'] }, { extent: 'segments' })).toBe('S2 of the right lung');
    expect(what({ side: 'left', lobe: 'upper' }, { extent: 'segments', segments: ['S4', 'S5'] })).toBe(
      'the left lingula (S4, S5)',
    );
    expect(what(right, { extent: 'wedge', segments: ['S3'] })).toBe('a wedge of S3 of the right lung');
    const wedge = predict(right, { fev1Percent: 95 }, { extent: 'wedge', segments: ['S3'] });
    expect(wedge.predicted_because).toContain('more is left than this count says');
  });

  it('removing more segments never leaves more function, and the interval contains the value', () => {
    const names = ['S1', 'S2', 'S3', 'S4', 'S5', 'S6', 'S7', 'S8', 'S9', 'S10'];
    for (const side of ['left', 'right'] as const) {
      let last = 100;
      for (let n = 1; n <= names.length; n++) {
        const predicted = predict(
          { side, lobe: 'upper' },
          { fev1Percent: 100 },
          { segments: names.slice(0, n) },
        );
        const value = predicted.predicted_fev1_percent as number;
        expect(value).toBeLessThanOrEqual(last);
        expect(value).toBeGreaterThan(0);
        expect(predicted.predicted_fev1_percent_interval?.[0]).toBeLessThanOrEqual(value);
        last = value;
      }
      expect(last).toBeCloseTo((100 * (side === 'left' ? 10 : 9)) / 19, 3);
    }
  });
});

describe('reading the predicted values', () => {
  const read = (fev1Percent: number | undefined, dlcoPercent?: number, lobe: Lobe = 'lower') =>
    predict({ side: 'right', lobe }, { fev1Percent, dlcoPercent });
  /** Value needed before surgery to leave `ppo` after right lower lobectomy. */
  const preFor = (ppo: number) => (ppo * 19) / 14;

  it.each([
    [60.01, 'low risk, no further test'],
    [60, 'stair climb'],
    [30, 'stair climb'],
    [29.99, 'exercise test before deciding'],
  ])('both at %d %%: %s', (ppo, words) => {
    expect(read(preFor(ppo), preFor(ppo)).predicted_reading).toContain(words);
  });

  it('40 % is the limit for the risk of breathlessness', () => {
    expect(read(preFor(39.99), preFor(80)).predicted_reading).toContain('higher risk of breathlessness');
    expect(read(preFor(40.01), preFor(80)).predicted_reading).toContain('not below 40 %');
  });

  it('mentions 42 subsegments where they fall on the other side of a threshold, and only there', () => {
    expect(read(82, 75).predicted_because).toContain('By 42 subsegments');
    expect(read(82, 75).predicted_because).toContain('58.6 %, on the other side of 60 %');
    expect(read(95, 95).predicted_because).not.toContain('42');
  });

  it('without spirometry nothing is predicted, and that is reported', () => {
    const none = read(undefined);
    expect(none.predicted_fev1_percent).toBeUndefined();
    expect(none.predicted_reading).toBeUndefined();
    expect(none.predicted_because).toContain('spirometry is not given');
    expect(read(90).predicted_dlco_percent).toBeUndefined();
    expect(read(90).predicted_reading).toContain('needs both');
  });
});
