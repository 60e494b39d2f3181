import { describe, expect, it } from 'vitest';
import type { Case, GasSample } from '../../src/case/case.js';
import { assumedAvDifference } from '../../src/physiology/assumed-av-difference.js';
import { assumedOutput } from '../../src/physiology/assumed-output.js';
import { bloodViscosity, meanVelocity } from '../../src/physiology/blood-flow.js';
import { closureSets } from '../../src/physiology/closure-sets.js';
import { gasLimits } from '../../src/physiology/gas-limits.js';
import { predictLungFunction } from '../../src/physiology/lung-function.js';
import {
  countedSegments,
  lobeSegments,
  lobesOf,
  segmentNames,
  subsegmentsOf,
} from '../../src/physiology/lung-segments.js';
import { predictedUptake } from '../../src/physiology/predicted-uptake.js';
import { judgePressure, pulmonaryPressureFindings } from '../../src/physiology/pulmonary-pressure.js';
import { countResection, type ResectionCount } from '../../src/physiology/resection-count.js';
import { standardAtmosphere } from '../../src/physiology/standard-atmosphere.js';
import { visitsOf } from '../../src/physiology/visit.js';
import { ruleNumber } from '../../src/rules/rule.js';
import { citeOf } from '../../src/rules/source-text.js';
import { RULES, sampleOf } from './make.js';

describe('sets of feeders', () => {
  const sets = (count: number, order: number[]): string[] =>
    closureSets(
      Array.from({ length: count }, (_, i) => `A${i + 1}`),
      order.map((i) => `A${i}`),
    ).map((set) => set.map((name) => name.slice(1)).join(''));

  it('up to four: every one, the small ones first, in the order of the case', () => {
    expect(sets(0, [])).toEqual([]);
    expect(sets(1, [1])).toEqual(['1']);
    expect(sets(3, [3, 2, 1])).toEqual(['1', '2', '3', '12', '13', '23', '123']);
    expect(sets(4, [1, 2, 3, 4])).toHaveLength(15);
  });

  it('five: each, then in the order of closing, then all but one, then all', () => {
    // by order 5, 5+3, 5+3+1, 5+3+1+2: two, three and four of them, of which the last is all but the fourth
    expect(sets(5, [5, 3, 1, 2, 4])).toEqual([
      ...['1', '2', '3', '4', '5'],
      ...['35', '135', '1235', '2345', '1345', '1245', '1234', '12345'],
    ]);
  });

  it('a name that begins like another is another', () => {
    expect(closureSets(['A', 'A,A'], ['A', 'A,A'])).toEqual([['A'], ['A,A'], ['A', 'A,A']]);
  });
});

describe('segments', () => {
  it('and the lobes that they make, from above', () => {
    const lobes = (side: 'left' | 'right', ...names: string[]): string[] =>
      lobesOf(side, names).map(({ lobe, whole }) => `${whole ? 'all of ' : 'of '}${lobe}`);
    expect(lobes('right', 'S1', 'S2', 'S3')).toEqual(['all of upper']);
    expect(lobes('right', 'S4', 'S6')).toEqual(['of middle', 'of lower']);
    expect(lobes('right')).toEqual([]);
    // on the left S4 and S5 alone are the lingula, with more of the upper lobe they are of that
    expect(lobes('left', 'S4', 'S5')).toEqual(['all of lingula']);
    expect(lobes('left', 'S4')).toEqual(['of lingula']);
    expect(lobes('left', 'S3', 'S4')).toEqual(['of upper']);
    expect(lobes('left', 'S4', 'S5', 'S6')).toEqual(['all of lingula', 'of lower']);
    expect(lobes('left', 'S9')).toEqual(['of lower']);
    expect(lobes('right', 'S4', 'S5')).toEqual(['all of middle']);
  });

  it('as the table names them', () => {
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
    // one of two that is not there makes the pair unknown
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
    // 19 - 2 work; of the upper lobe S2 and S3 are left to take. 42 - 2 - 2.4 and 2 · 2 subsegments
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

describe('lung function that is left', () => {
  const count = (side: 'left' | 'right', lobe: 'upper' | 'lower', surgery: Case['surgery'] = {}) =>
    countResection({ side, lobe, segments: [] }, surgery);
  const predict = (
    spirometry: Parameters<typeof predictLungFunction>[0]['spirometry'],
    of = count('right', 'lower'),
    rules: typeof RULES = RULES,
  ) => predictLungFunction({ count: of, spirometry, rules });
  const guideline = citeOf(ruleNumber(RULES, 'moderate-predicted-function').source);
  const citations = (text: string): number => text.split(guideline).length - 1;
  /** What must be measured before to leave so much after the right lower lobe, 14 of 19. */
  const needed = (left: number): number => (left * 19) / 14;

  it('says what the count rests on, and no more than that', () => {
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

  it('has the published limits of agreement as its interval, never below none', () => {
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

  it('by subsegments on the other side of a limit: 30 of 42 are left of 14 of 19', () => {
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

describe('the pulmonary pressure before anything is closed', () => {
  const judge = (
    mean: number | undefined,
    wedge: number | undefined,
    output: number | undefined,
    fraction?: number,
    interval?: [number, number],
  ) =>
    judgePressure(
      { meanPaPressureMmHg: mean, wedgePressureMmHg: wedge, cardiacOutputLMin: output },
      fraction === undefined && interval === undefined ? undefined : { fraction, interval },
      RULES,
    );

  it.each<[number | undefined, number | undefined, number | undefined]>([
    [10, 10, 5],
    [10, 11, 5],
    [20, undefined, 5],
    [20, 10, undefined],
    [20, 10, 0],
  ])('no resistance of %d mmHg, wedge %d mmHg, output %d L/min', (mean, wedge, output) => {
    expect(judge(mean, wedge, output, 0.2)).toMatchObject({
      resistanceWu: undefined,
      bedResistanceWu: undefined,
    });
  });

  it('the bed carries what the shunt does not, and its interval that of the shunt', () => {
    // (26 - 8) / 6 = 3 Wood units; over 1 - f
    const at = (fraction: number | undefined, interval?: [number, number]) =>
      judge(26, 8, 6, fraction, interval);
    expect(at(0.25, [0.2, 0.4])).toMatchObject({ resistanceWu: 3, bedResistanceWu: 4 });
    expect(at(0.25, [0.2, 0.4])!.bedIntervalWu![0]).toBeCloseTo(3.75, 12);
    expect(at(0.25, [0.2, 0.4])!.bedIntervalWu![1]).toBeCloseTo(5, 12);
    // an end below none is none; one of all has no bed
    expect(at(0.25, [-0.1, 0.4])!.bedIntervalWu![0]).toBe(3);
    expect(at(0.25, [0.2, 1])!.bedIntervalWu).toBeUndefined();
    expect(at(undefined, [0.2, 0.4])).toMatchObject({ bedResistanceWu: undefined, bedIntervalWu: undefined });
    expect(at(0)!.bedResistanceWu).toBe(3);
    expect(at(-0.01)!.bedResistanceWu).toBeUndefined();
    expect(at(1)!.bedResistanceWu).toBeUndefined();
  });

  it('is said in one sentence', () => {
    expect(judge(26, 8, 6, 0.25, [0.2, 0.4])!.text).toBe(
      'Mean pulmonary artery pressure 26 mmHg, wedge 8 mmHg, output 6.0 L/min: pre-capillary, resistance 3.0, of the normal bed 4.0 (3.8 to 5.0) Wood units',
    );
    expect(judge(26, 8, 6, 0.25)!.text).toContain('of the normal bed 4.0 Wood units');
    expect(judge(26, 8, 6)!.text).toContain(
      'resistance 3.0, of the normal bed not known without a shunt Wood units',
    );
    expect(judge(26, undefined, undefined)!.text).toBe(
      'Mean pulmonary artery pressure 26 mmHg, wedge not given, output not given, not classifiable',
    );
    expect(judge(18, undefined, undefined)!.text).toBe(
      'Mean pulmonary artery pressure 18 mmHg, wedge not given, output not given',
    );
  });

  it.each<[string, Parameters<typeof judge>, string[], string?]>([
    ['none', [undefined, 8, 6], []],
    ['normal', [18, 8, 6], []],
    ['normal, wedge 15 mmHg', [18, 15, 6], []],
    [
      'normal, wedge above it',
      [18, 15.1, 6],
      ['caution wedge-raised circulation.wedge_pressure'],
      'Wedge above 15 mmHg: heart, anaemia and liver first.',
    ],
    [
      'raised',
      [26, 8, 6],
      ['caution pulmonary-hypertension circulation.mean_pa_pressure'],
      'A relative contraindication',
    ],
    [
      'raised, by the heart',
      [26, 18, 6],
      ['caution pulmonary-hypertension circulation.mean_pa_pressure'],
      'heart, anaemia and liver first.',
    ],
    [
      'raised, nothing else known',
      [26, undefined, 6],
      ['caution pulmonary-hypertension circulation.mean_pa_pressure'],
      'Not classifiable: wedge pressure or output is missing.',
    ],
    [
      'severe',
      [35, 8, 6],
      ['stop pulmonary-hypertension circulation.mean_pa_pressure'],
      'Neither closing nor resecting',
    ],
    [
      'severe, nothing else known',
      [35, undefined, 6],
      ['stop pulmonary-hypertension circulation.mean_pa_pressure'],
      'Measure wedge and output (right heart catheter).',
    ],
    [
      'severe by its resistance',
      [29, 8, 4],
      ['stop pulmonary-hypertension circulation.mean_pa_pressure'],
      'Neither closing',
    ],
    ['a resistance of 5', [28, 8, 4], ['caution pulmonary-hypertension circulation.mean_pa_pressure']],
    [
      'severe by that of the bed',
      [28, 8, 4, 0.1],
      ['stop pulmonary-hypertension circulation.mean_pa_pressure'],
    ],
    ['such a resistance at a normal pressure', [19, 2, 3], []],
  ])('%s', (_, given, expected, words = '') => {
    const found = pulmonaryPressureFindings(judge(...given), RULES);
    expect(found.map(({ level, id, where }) => `${level} ${id} ${where}`)).toEqual(expected);
    if (expected.length > 0) expect(found[0].text).toContain(words);
  });

  it('which advice goes with which', () => {
    const text = (...given: Parameters<typeof judge>): string =>
      pulmonaryPressureFindings(judge(...given), RULES)[0].text;
    expect(text(26, 8, 6)).not.toMatch(/heart, anaemia and liver first|Not classifiable/);
    expect(text(26, undefined, 6)).not.toContain('contraindication');
    expect(text(35, 8, 6)).not.toMatch(/right heart catheter|liver first/);
    const bleeding = pulmonaryPressureFindings(judge(18, 8, 6), RULES, true);
    expect(bleeding).toEqual([]);
  });
});

describe('which visit, in words', () => {
  const visit = (given: {
    treated?: string;
    scan?: string;
    gases: Partial<GasSample>[];
    surfaces?: boolean;
  }) =>
    visitsOf({
      lesion: { treated: given.treated, segments: [] },
      scan: { date: given.scan },
      gases: given.gases.map((one, i) => sampleOf({ name: `s${i}`, path: `gases[${i}]`, ...one })),
      ...(given.surfaces !== false && { surfaces: {} as never }),
    });
  const text = (given: Parameters<typeof visit>[0]): string => visit(given).findings[0].text;
  const [BEFORE, ON, AFTER] = ['2025-06-01', '2025-06-24', '2025-07-01'];
  const before = { when: 'before' } as const;
  const after = { when: 'after' } as const;

  it('a scan of one state and gases of the other name both dates where they are known', () => {
    expect(text({ treated: ON, scan: AFTER, gases: [before] })).toMatch(
      /^The scan of 2025-07-01 shows the lesion after the treatment of 2025-06-24, the blood gases are from before it/,
    );
    expect(text({ treated: ON, scan: BEFORE, gases: [after] })).toMatch(
      /^The scan of 2025-06-01 shows the lesion before the treatment of 2025-06-24, the latest blood gases/,
    );
    // by dated samples alone: the treatment lies between them
    expect(
      text({
        scan: BEFORE,
        gases: [
          { ...before, on: AFTER },
          { ...after, on: '2025-08-01' },
        ],
      }),
    ).toMatch(/^The scan of 2025-06-01 shows the lesion before the treatment, the latest/);
    expect(visit({ treated: ON, scan: AFTER, gases: [before] }).apartBecause).toBe(
      'the blood gases are from before the treatment, the surfaces from after it',
    );
    expect(visit({ treated: ON, scan: BEFORE, gases: [after] }).apartBecause).toBe(
      'the blood gases are from after the treatment, the surfaces from before it',
    );
  });

  it.each<[string, Parameters<typeof visit>[0], string]>([
    ['no treatment date', { scan: AFTER, gases: [after] }, 'lesion.treated'],
    ['no scan date', { treated: ON, gases: [after] }, 'scan.date'],
    ['neither date', { gases: [after] }, 'lesion.treated'],
  ])('%s: the one that is missing is named', (_, given, missing) => {
    const [found] = visit(given).findings;
    expect(found).toMatchObject({ level: 'caution', id: 'visit-assumed', where: missing });
    expect(found.text).toContain(`is not stated: ${missing} is missing. The gases are from after it`);
    expect(text({ ...given, gases: [before, after] })).toContain('The plan depends on the time before it;');
    expect(visit(given).apartBecause).toContain('no date tells whether the surfaces are too');
    expect(visit({ ...given, gases: [before, after] }).apartBecause).toBeUndefined();
  });

  it('mixed-venous blood tells of no visit', () => {
    const venous = { ...after, site: 'mixed-venous' } as const;
    expect(visit({ scan: AFTER, gases: [before, venous] })).toMatchObject({
      baseline: 'before',
      findings: [],
    });
    expect(visit({ treated: ON, scan: BEFORE, gases: [before, venous] }).findings).toEqual([]);
    expect(visit({ treated: ON, scan: AFTER, gases: [{ ...before, site: 'mixed-venous' }] })).toMatchObject({
      baseline: 'after',
      findings: [],
    });
  });

  it('gases alone: the scan is older than the treatment only where both dates say so', () => {
    const alone = (treated: string | undefined, scan: string | undefined) =>
      visit({ treated, scan, gases: [after], surfaces: false }).baseline;
    expect(alone(ON, BEFORE)).toBe('before');
    expect(alone(ON, ON)).toBe('after');
    expect(alone(undefined, BEFORE)).toBe('after');
    expect(alone(ON, undefined)).toBe('after');
    expect(text({ treated: ON, scan: BEFORE, gases: [after], surfaces: false })).toMatch(
      /^The scan of 2025-06-01 is older than the treatment of 2025-06-24: /,
    );
  });

  it.each<[string, Partial<GasSample>[], string, string[]]>([
    // one of two samples after the treatment that is not younger than the scan is enough
    [
      'one later sample not after the scan',
      [
        { ...after, on: '2025-09-01' },
        { ...after, on: AFTER },
      ],
      'after',
      [],
    ],
    ['an undated one beside it', [after, { ...after, on: AFTER }], 'after', []],
    [
      'both after the scan',
      [
        { ...after, on: '2025-09-01' },
        { ...after, on: '2025-08-01' },
      ],
      'before',
      ['visit-assumed'],
    ],
    [
      'an earlier sample on the day of the scan',
      [
        { ...before, on: AFTER },
        { ...after, on: '2025-09-01' },
      ],
      'before',
      ['treatment-states-differ'],
    ],
    [
      'an earlier sample from before the scan',
      [
        { ...before, on: '2025-06-30' },
        { ...after, on: '2025-09-01' },
      ],
      'before',
      ['visit-assumed'],
    ],
    ['undated samples', [before, after], 'before', ['visit-assumed']],
  ])('no treatment date, scan of 1 July: %s', (_, gases, baseline, expected) => {
    const found = visit({ scan: AFTER, gases });
    expect(found.baseline).toBe(baseline);
    expect(found.findings.map(({ id }) => id)).toEqual(expected);
  });

  it('a dated sample is taken by its date, except on the day of the treatment', () => {
    const at = (on: string | undefined, when: GasSample['when'], treated: string | undefined = ON) => {
      const { samples, findings } = visit({ treated, scan: AFTER, gases: [{ when, on }] });
      return [
        samples[0].when,
        findings.filter(({ id }) => id === 'gas-visit-by-date').map(({ where }) => where),
      ];
    };
    expect(at(AFTER, 'before')).toEqual(['after', ['gases[0].on']]);
    expect(at(BEFORE, 'after')).toEqual(['before', ['gases[0].on']]);
    expect(at(AFTER, 'after')).toEqual(['after', []]);
    expect(at(BEFORE, 'before')).toEqual(['before', []]);
    expect(at(ON, 'before')).toEqual(['before', []]);
    expect(at(ON, 'after')).toEqual(['after', []]);
    expect(at(undefined, 'before')).toEqual(['before', []]);
    expect(text({ treated: ON, scan: AFTER, gases: [{ ...before, on: AFTER }] })).toBe(
      'The sample s0 says when: before, but 2025-07-01 lies after the treatment of 2025-06-24: the date counts. Correct one.',
    );
  });
});

describe('what is taken by body size', () => {
  it('the words of an adult say whether the age is known', () => {
    const of = (ageYears: number | undefined) => {
      const found = assumedOutput({ ageYears });
      return 'output' in found ? found.output : undefined;
    };
    expect(of(40)?.words).toContain('cardiac output 5 L/min, a normal value (');
    expect(of(undefined)?.words).toContain(
      'cardiac output 5 L/min, a normal value of adults, the age is not given (',
    );
    expect(of(40)).toMatchObject({ lMin: 5, intervalLMin: [4, 6] });
    expect(assumedOutput({ ageYears: 0.99, heightCm: 75, weightKg: 9 })).toHaveProperty('absentBecause');
    expect(assumedOutput({ ageYears: 1, heightCm: 75, weightKg: 9 })).toHaveProperty('output');
  });

  it('the uptake of 157.3 m² and its 30 % either way, from one year on', () => {
    const size = { heightCm: 180, weightKg: 72 };
    const surface = 0.007184 * 180 ** 0.725 * 72 ** 0.425;
    const of = (patient: Parameters<typeof predictedUptake>[0]) => {
      const found = predictedUptake(patient);
      return 'uptake' in found ? found.uptake : found.absentBecause;
    };
    const byHand = (man: number, age: number): number => 157.3 * surface + man - 10.5 * Math.log(age) + 4.8;
    for (const [sex, man] of [
      ['male', 10],
      ['female', 0],
      ['unknown', 5],
    ] as const) {
      const found = of({ ...size, ageYears: 40, sex });
      if (typeof found === 'string') throw new Error(found);
      expect(found.mlMin).toBeCloseTo(byHand(man, 40), 9);
      expect(found.intervalMlMin[0]).toBeCloseTo(0.7 * byHand(man, 40), 9);
      expect(found.intervalMlMin[1]).toBeCloseTo(1.3 * byHand(man, 40), 9);
    }
    expect(of({ ...size, sex: 'male' })).toBe('the age is not given');
    expect(of({ ...size, ageYears: 0.99 })).toContain('under one year');
    expect(of({ ...size, ageYears: 1 })).toHaveProperty('mlMin');
    expect(of({ ageYears: 40, weightKg: 72 })).toBe('height and weight are not both given');
  });

  it('the difference of a child: predicted uptake over its own output, or over the assumed one', () => {
    const child = { ageYears: 10, sex: 'male', weightKg: 30, heightCm: 138 } as const;
    const surface = 0.007184 * 138 ** 0.725 * 30 ** 0.425;
    const uptake = 157.3 * surface + 10 - 10.5 * Math.log(10) + 4.8;
    const of = (patient: Parameters<typeof assumedAvDifference>[0], output?: number) => {
      const found = assumedAvDifference(patient, output);
      return 'difference' in found ? found.difference : found.absentBecause;
    };
    expect(of(child)).toMatchObject({ impliedBy: { outputLMin: 3.4 * surface } });
    expect(of(child, 4)).toMatchObject({
      mlDl: uptake / 40,
      impliedBy: { uptakeMlMin: uptake, outputLMin: 4 },
    });
    expect(of({ ...child, ageYears: 18 })).toEqual({ mlDl: 5 });
    expect(of({ ...child, ageYears: undefined })).toEqual({ mlDl: 5 });
    expect(of({ ...child, ageYears: 17.9 })).toHaveProperty('impliedBy');
    // an output without a size: no uptake; an infant without an output: no output
    expect(of({ ...child, heightCm: undefined }, 4)).toBe('height and weight are not both given');
    expect(of({ ...child, ageYears: 0.5 })).toContain('no cardiac output is assumed');
  });
});

describe('single formulas', () => {
  it('the velocity of 3 L/min in 8 mm: 50 mL/s over 0.5027 cm² is 0.995 m/s', () => {
    expect(meanVelocity(3, 8)).toBeCloseTo(50 / (Math.PI * 0.4 ** 2) / 100, 12);
  });

  it('the viscosity is the nominal one outside a haematocrit of 0.2 to 0.75', () => {
    for (const outside of [0.199, 0.751]) expect(bloodViscosity(outside)).toBe(3.5);
    expect(bloodViscosity(0.2)).toBeCloseTo(10 ** (0.01138 * 20 + 0.03699), 12);
    expect(bloodViscosity(0.75)).toBeCloseTo(10 ** (0.01138 * 75 + 0.03699), 12);
  });

  it('the standard atmosphere holds from -2000 to 11 000 m', () => {
    for (const outside of [-2001, 11_001, Number.NaN])
      expect(() => standardAtmosphere(outside)).toThrow(RangeError);
    for (const at of [-2000, 11_000]) expect(standardAtmosphere(at)).toBeGreaterThan(100);
  });

  it('percent of the rules are parts here', () => {
    expect(gasLimits(RULES)).toEqual({
      po2AboveAlveolarMmHg: 40,
      po2AboveAlveolarFraction: 0.06,
      saturationAboveEndCapillary: 0.03,
      venousDifferenceUnusedMlDl: 1.5,
      venousDifferenceDoubtfulMlDl: 2.5,
      venousLikePo2MmHg: 45,
      venousLikeSaturation: 0.8,
      roomAirSaturationMargin: 0.05,
      normalShuntFraction: 0.05,
      lowestRestUptakeMlKgMin: 1.8,
      highestRestUptakeMlKgMin: 4.5,
      obeseBmi: 30,
    });
  });
});
