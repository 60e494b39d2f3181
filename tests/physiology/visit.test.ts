import { describe, expect, it } from 'vitest';
import type { GasSample } from '../../src/case/case.js';
import { shuntChange, trendRefusal } from '../../src/physiology/shunt-change.js';
import { visitsOf } from '../../src/physiology/visit.js';
import { sampleOf, shuntBy } from './make.js';

const TREATED = '2025-06-24';
const of = (
  treated: string | undefined,
  scan: string | undefined,
  samples: [GasSample['when'], string?][],
  surfaces = true,
) =>
  visitsOf({
    lesion: { treated, segments: [] },
    scan: { date: scan },
    gases: samples.map(([when, on], i) => sampleOf({ name: `s${i}`, when, on, path: `gases[${i}]` })),
    ...(surfaces && { surfaces: {} as never }),
  });

describe('which visit a plan depends on', () => {
  it.each([
    // treated, scan, samples, baseline, finding, apart
    [undefined, '2026-01-10', [['before']], 'before', undefined, false],
    [TREATED, '2026-01-10', [['after']], 'after', undefined, false],
    [TREATED, '2026-01-10', [['before'], ['after']], 'after', undefined, false],
    [TREATED, TREATED, [['after', TREATED]], 'after', undefined, false],
    [TREATED, '2025-06-23', [['before'], ['after']], 'before', 'treatment-states-differ', false],
    [TREATED, '2025-06-23', [['after']], 'before', 'treatment-states-differ', true],
    [TREATED, '2025-06-23', [['before']], 'before', undefined, false],
    [TREATED, '2026-01-10', [['before']], 'before', 'treatment-states-differ', true],
    [TREATED, '2026-01-10', [], 'after', undefined, false],
    [TREATED, '2026-01-10', [['before', '2026-01-09']], 'after', 'gas-visit-by-date', false],
    [TREATED, '2026-01-10', [['after', '2025-06-23']], 'before', 'treatment-states-differ', true],
    // A sample from after the treatment counts only with a scan from after it.
    [TREATED, undefined, [['after']], 'before', 'visit-assumed', true],
    [TREATED, undefined, [['before'], ['after']], 'before', 'visit-assumed', false],
    [TREATED, undefined, [], 'before', 'visit-assumed', false],
    [undefined, '2026-01-10', [['after']], 'before', 'visit-assumed', true],
    [undefined, '2026-01-10', [['before'], ['after']], 'before', 'visit-assumed', false],
    [undefined, '2026-01-10', [['before'], ['after', '2026-01-10']], 'after', undefined, false],
    [undefined, '2026-01-10', [['before'], ['after', '2026-01-11']], 'before', 'visit-assumed', false],
    [
      undefined,
      '2026-01-10',
      [
        ['before', '2026-01-10'],
        ['after', '2026-01-20'],
      ],
      'before',
      'treatment-states-differ',
      false,
    ],
  ] as [
    string | undefined,
    string | undefined,
    [GasSample['when'], string?][],
    string,
    string | undefined,
    boolean,
  ][])('treated %s, scan %s, samples %j: %s, %s', (treated, scan, samples, baseline, id, apart) => {
    const visits = of(treated, scan, samples);
    expect(visits.baseline).toBe(baseline);
    expect(visits.apartBecause !== undefined).toBe(apart);
    const ids = visits.findings.map((f) => f.id);
    if (id === undefined) expect(ids).toEqual([]);
    else expect(ids).toContain(id);
    for (const { id: found, level } of visits.findings)
      expect(level).toBe(found === 'treatment-states-differ' ? 'stop' : 'caution');
  });

  it('without surfaces nothing can contradict the gases', () => {
    expect(of(TREATED, undefined, [['after']], false)).toMatchObject({ baseline: 'after', findings: [] });
  });

  it('gases alone refer to the time before where the scan is older than the treatment', () => {
    const older = of(TREATED, '2025-06-23', [['after']], false);
    expect(older).toMatchObject({
      baseline: 'before',
      findings: [{ id: 'visit-assumed', level: 'caution' }],
    });
    expect(of(TREATED, TREATED, [['after']], false)).toMatchObject({ baseline: 'after', findings: [] });
    expect(of(TREATED, '2025-06-23', [['before']], false)).toMatchObject({
      baseline: 'before',
      findings: [],
    });
  });

  it('a sample counts by its date, and the given ones are left alone', () => {
    const given = sampleOf({ when: 'before', on: '2026-01-09' });
    const { samples } = visitsOf({
      lesion: { treated: TREATED, segments: [] },
      scan: { date: '2026-01-10' },
      gases: [given],
    });
    expect(samples[0].when).toBe('after');
    expect(given.when).toBe('before');
  });
});

describe('a trend', () => {
  const shunt = (given: Partial<GasSample>, more = {}) =>
    shuntBy({ samples: [sampleOf(given)], when: 'before', haemoglobinGDl: 15, ...more }).shunt;
  const fick = {
    oxygenUptakeMlMin: 250,
    oxygenUptakeMethod: 'measured',
    cardiacOutputLMin: 6,
    cardiacOutputMethod: 'thermodilution',
  } as const;

  it.each([
    ['a different FiO2', shunt({ po2MmHg: 300 }), shunt({ fio2: 0.21, po2MmHg: 70 }), false],
    [
      'without haemoglobin',
      shunt({ po2MmHg: 300 }),
      shunt({ po2MmHg: 400 }, { haemoglobinGDl: undefined }),
      false,
    ],
    ['a different arterio-venous difference', shunt({ po2MmHg: 300 }), shunt({ po2MmHg: 400 }, fick), false],
    ['the same method', shunt({ po2MmHg: 300 }), shunt({ po2MmHg: 500 }), true],
  ])('%s', (_, before, after, isDrawn) => {
    expect(shuntChange(before, after) !== undefined).toBe(isDrawn);
    expect(trendRefusal(before, after) === undefined).toBe(isDrawn);
  });
});
