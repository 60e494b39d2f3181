import { describe, expect, it } from 'vitest';
import { compareNumbers, type NumberChange } from '../../src/compare/numbers.js';
import type { Result } from '../../src/result/result.generated.js';

const result = (parts: object): Result => parts as unknown as Result;
/** Paths of the shares of a shunt, by the keys. */
const numberPaths = (one: Result): string[] =>
  (['shunt', 'shunt_after'] as const)
    .filter((visit) => one[visit]?.fraction !== undefined)
    .map((visit) => `${visit}.fraction`);
const pathsOf = (rows: readonly NumberChange[]): string[] => rows.map(({ path }) => path);

describe('the numbers of two results', () => {
  it('come in the order of the old one, then what only the new one has', () => {
    const rows = compareNumbers(
      result({ sac: { volume_ml: 4, longest_mm: 20 } }),
      result({ sac: { longest_mm: 21, surface_cm2: 9 } }),
    );
    expect(pathsOf(rows)).toEqual(['sac.volume_ml', 'sac.longest_mm', 'sac.surface_cm2']);
    expect(rows[0]).toMatchObject({ old: 4, unit: 'mL' });
    expect(rows[0]).not.toHaveProperty('new');
    expect(rows[0]).not.toHaveProperty('change');
    expect(rows[1]).toMatchObject({ old: 20, new: 21, change: 1, unit: 'mm' });
    expect(rows[2]).not.toHaveProperty('old');
  });

  it('judges a change by the intervals of both', () => {
    const sac = (volume: number, low: number, high: number): Result =>
      result({ sac: { volume_ml: volume, volume_interval_ml: [low, high] } });
    // legs of 3 and 4 facing each other
    const [row] = compareNumbers(sac(10, 9, 13), sac(15.5, 11.5, 20));
    expect(row).toMatchObject({ oldInterval: [9, 13], newInterval: [11.5, 20], combined: 5, exceeds: true });
  });

  it('leaves out positions, samples, findings and hashes', () => {
    const one = result({
      inputs: [{ bytes: 5 }],
      vessels: {
        A1: {
          profile: [{ at_mm: 1 }],
          centreline_mm: [[1, 2, 3]],
          neck: { point_mm: [1, 2, 3], at_mm: 30 },
          landing: { from_mm: 2, to_mm: 20 },
        },
      },
      print: {
        gauges: [{ expected_mm: 5 }],
        parts: [{ name: 'model', triangles: 9, volume_ml: 2, to_mm: [1, 2, 3] }],
      },
      findings: [{ level: 'stop' }],
    });
    expect(pathsOf(compareNumbers(one, one))).toEqual([
      'vessels.A1.neck.at_mm',
      'vessels.A1.landing.from_mm',
      'vessels.A1.landing.to_mm',
      'print.parts.model.volume_ml',
    ]);
  });

  it('matches closures by what is closed, pairs by both ends, entries by name or code, others by position', () => {
    const one = result({
      closure: [
        { closed: ['A2', 'A1'], shunt_fraction: 0.1 },
        { closed: ['A1'], occlusion_percent: 100, shunt_fraction: 0.2 },
        { closed: ['A1'], occlusion_percent: 90, shunt_fraction: 0.22 },
        { closed: 'lobe', shunt_fraction: 0.05 },
      ],
      neighbours: [{ from: 'A1', to: 'bronchus', distance_mm: 3 }],
      devices: { A1: { alternatives: [{ code: 'PLUG-08', oversize_percent: 40 }] } },
      radiation: { values: [7] },
    });
    const other = result({ ...one, closure: [...one.closure].reverse() });
    const rows = compareNumbers(one, other);
    expect(pathsOf(rows)).toEqual(
      [
        'closure.A1+A2.shunt_fraction',
        'closure.A1.shunt_fraction',
        'closure.A1@90%.occlusion_percent',
        'closure.A1@90%.shunt_fraction',
        'closure.lobe.shunt_fraction',
        'neighbours.A1-bronchus.distance_mm',
        'devices.A1.alternatives.PLUG-08.oversize_percent',
        'radiation.values.0',
      ].flatMap((path) =>
        path === 'closure.A1.shunt_fraction' ? ['closure.A1.occlusion_percent', path] : [path],
      ),
    );
    expect(rows.every(({ change }) => change === 0)).toBe(true);
  });

  it('shunts by different methods, and what depends on them, have no trend', () => {
    const one = (method: string, fraction: number): Result =>
      result({
        shunt: { method, fraction, hb_g_dl: 14 },
        closure: [{ closed: ['A1'], shunt_fraction: fraction / 2 }],
        sac: { volume_ml: 4 },
      });
    const rows = compareNumbers(one('content', 0.3), one('dissolved', 0.2));
    const without = rows.filter(({ noTrendBecause }) => noTrendBecause !== undefined);
    expect(pathsOf(without)).toEqual(['shunt.fraction', 'closure.A1.shunt_fraction']);
    for (const row of without) expect(row).not.toHaveProperty('change');
    expect(compareNumbers(one('content', 0.3), one('content', 0.2)).some((row) => row.noTrendBecause)).toBe(
      false,
    );
  });

  it('the shunt that the plan depends on comes first where one of them is after a treatment', () => {
    const before = result({
      baseline: 'before',
      shunt: { method: 'content', fraction: 0.3, interval: [0.27, 0.33] },
    });
    const after = result({
      baseline: 'after',
      shunt: { method: 'content', fraction: 0.3, interval: [0.27, 0.33] },
      shunt_after: { method: 'content', fraction: 0.06, interval: [0.02, 0.1] },
    });
    expect(compareNumbers(before, before)[0].path).toBe('shunt.fraction');
    const [row] = compareNumbers(before, after);
    // legs of 0.03 and 0.04
    expect(row).toMatchObject({ path: 'headline_shunt.fraction', old: 0.3, new: 0.06, exceeds: true });
    expect(row.combined).toBeCloseTo(0.05, 12);
    expect(row).toMatchObject({
      what: 'shunt that the plan depends on',
      oldInterval: [0.27, 0.33],
      newInterval: [0.02, 0.1],
    });
    // the same for the two visits the other way round
    expect(compareNumbers(after, before)[0]).toMatchObject({ old: 0.06, new: 0.3 });
    const without = result({ baseline: 'after', shunt: { method: 'content', fraction: 0.3 } });
    for (const pair of [
      [after, without],
      [without, after],
      [before, result({ ...after, shunt_after: { method: 'content' } })],
    ] as const)
      expect(pathsOf(compareNumbers(...pair)).sort()).toEqual([...new Set(pair.flatMap(numberPaths))].sort());
    const bare = result({ baseline: 'after', shunt_after: { method: 'content', fraction: 0.05 } });
    const [loose] = compareNumbers(bare, bare);
    expect(loose).toStrictEqual({
      path: 'headline_shunt.fraction',
      what: 'shunt that the plan depends on',
      unit: '',
      old: 0.05,
      new: 0.05,
      change: 0,
    });
    const other = result({ baseline: 'after', shunt_after: { method: 'dissolved', fraction: 0.05 } });
    const [head, own] = compareNumbers(after, other).filter(({ noTrendBecause }) => noTrendBecause);
    expect([head.path, own.path]).toEqual(['headline_shunt.fraction', 'shunt_after.fraction']);
    for (const one of [head, own]) {
      expect(one.noTrendBecause).toBe('the shunts were found by different methods (content and dissolved)');
      expect(one).not.toHaveProperty('change');
    }
    // the shunt before belongs to another visit
    const both = result({ ...other, shunt: { method: 'content', fraction: 0.3 } });
    const shunt = compareNumbers(after, both).find(({ path }) => path === 'shunt.fraction');
    expect(shunt).toHaveProperty('change', 0);
  });

  it('what only one plan contains has no trend', () => {
    const one = result({
      shunt: { method: 'content', fraction: 0.3 },
      closure: [{ closed: ['A1'], shunt_fraction: 0.1 }],
    });
    const other = result({ shunt: { method: 'dissolved', fraction: 0.2 }, closure: [] });
    for (const rows of [compareNumbers(one, other), compareNumbers(other, one)]) {
      const row = rows.find(({ path }) => path === 'closure.A1.shunt_fraction');
      expect(row).not.toHaveProperty('noTrendBecause');
      expect(row).not.toHaveProperty('change');
    }
  });

  it('are given in words, with the unit and the interval of a list entry', () => {
    const one = result({
      lesion: { side: 'left', lobe: null },
      sac: { axes_mm: [24, 22, 21] },
      closure: [{ closed: ['A1'], shunt_fraction: 0.1, intervals: { shunt_fraction: [0.05, 0.15] } }],
      neighbours: [
        { from: 'A1', to: 'bronchus', distance_mm: 3 },
        { from: 'A1', to: 5, name: 'rib', distance_mm: 4 },
        { from: 5, to: 'A1', name: 'heart', distance_mm: 6 },
        null,
        7,
      ],
    });
    const rows = compareNumbers(one, one).map(({ path, what, unit, oldInterval }) => [
      path,
      what,
      unit,
      ...(oldInterval ?? []),
    ]);
    expect(rows).toEqual([
      ['sac.axes_mm.0', 'sac: longest axis', 'mm'],
      ['sac.axes_mm.1', 'sac: middle axis', 'mm'],
      ['sac.axes_mm.2', 'sac: shortest axis', 'mm'],
      ['closure.A1.shunt_fraction', 'after closing A1: shunt', '', 0.05, 0.15],
      ['neighbours.A1-bronchus.distance_mm', 'between A1 and bronchus: least distance', 'mm'],
      ['neighbours.rib.to', 'between rib: to', ''],
      ['neighbours.rib.distance_mm', 'between rib: least distance', 'mm'],
      ['neighbours.heart.from', 'between heart: from', ''],
      ['neighbours.heart.distance_mm', 'between heart: least distance', 'mm'],
      ['neighbours.4', 'between 4', ''],
    ]);
  });
});
