import { describe, expect, it } from 'vitest';
import type { GasSample } from '../../src/case/case.js';
import { visitsOf } from '../../src/physiology/visit.js';
import { sampleOf } from './make.js';

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
    // only from dated samples: the treatment lies between them
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
  ])('%s: the missing one is named', (_, given, missing) => {
    const [found] = visit(given).findings;
    expect(found).toMatchObject({ level: 'caution', id: 'visit-assumed', where: missing });
    expect(found.text).toContain(`is not stated: ${missing} is missing. The gases are from after it`);
    expect(text({ ...given, gases: [before, after] })).toContain('The plan depends on the time before it;');
    expect(visit(given).apartBecause).toContain('no date tells whether the surfaces are too');
    expect(visit({ ...given, gases: [before, after] }).apartBecause).toBeUndefined();
  });

  it('mixed-venous blood says nothing about a visit', () => {
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
    // one of two samples after the treatment that is not later than the scan is enough
    [
      'one of two samples after treatment not later than the scan',
      [
        { ...after, on: '2025-09-01' },
        { ...after, on: AFTER },
      ],
      'after',
      [],
    ],
    ['one sample on the day of the scan, one undated', [after, { ...after, on: AFTER }], 'after', []],
    [
      'both samples later than the scan',
      [
        { ...after, on: '2025-09-01' },
        { ...after, on: '2025-08-01' },
      ],
      'before',
      ['visit-assumed'],
    ],
    [
      'a sample before treatment on the day of the scan',
      [
        { ...before, on: AFTER },
        { ...after, on: '2025-09-01' },
      ],
      'before',
      ['treatment-states-differ'],
    ],
    [
      'a sample before treatment, earlier than the scan',
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

  it('a dated sample goes by its date, except on the day of the treatment', () => {
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
      'The sample s0 says when: before, but 2025-07-01 is after the treatment of 2025-06-24: the date counts. Correct one.',
    );
  });
});
