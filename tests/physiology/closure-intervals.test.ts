import { describe, expect, it } from 'vitest';
import { closureTable } from '../../src/physiology/closure-table.js';
import { closureCaseOf, feedersOf, RULES } from './make.js';

describe('the pressure after closure', () => {
  it('has an interval even where the shunt is exact, and a wider one where nothing was measured', () => {
    const of = (circulation: object) =>
      closureTable({
        vessels: feedersOf('6x60'),
        shunt: {
          fraction: 0.3,
          interval: [0.3, 0.3],
          method: 'content',
          assumed: [],
          av_difference_ml_dl: 5,
        },
        case: { ...closureCaseOf(), circulation },
        rules: RULES,
        sets: [['A1']],
      }).rows[0].intervals?.mean_pa_pressure_mmhg as [number, number];
    const width = ([low, high]: [number, number]) => high - low;
    const measured = width(of({ meanPaPressureMmHg: 14, wedgePressureMmHg: 8, cardiacOutputLMin: 5 }));
    expect(measured).toBeGreaterThan(6);
    expect(width(of({}))).toBeGreaterThan(1.5 * measured);
  });
});

describe('lesions outside all surfaces', () => {
  const of = (otherLesions: 'yes' | 'no' | 'unknown' | undefined) => {
    const patientCase = closureCaseOf();
    return closureTable({
      vessels: feedersOf('6x60 4x60'),
      shunt: {
        fraction: 0.3,
        interval: [0.26, 0.35],
        method: 'content',
        assumed: [],
        av_difference_ml_dl: 5,
      },
      case: { ...patientCase, lesion: { ...patientCase.lesion, otherLesions } },
      rules: RULES,
    });
  };
  const all = (rows: ReturnType<typeof of>['rows']) => rows.find((row) => row.closed.length === 2)!;

  it.each(['yes', 'unknown'] as const)('%s: closing everything promises no physiological shunt', (others) => {
    const { rows, findings } = of(others);
    const row = all(rows);
    expect(row.shunt_fraction_is).toBe('at-least');
    expect(row.intervals?.shunt_fraction?.[1]).toBeGreaterThanOrEqual(0.345);
    expect(row.intervals?.so2_room_air_percent?.[0]).toBeLessThan(90);
    const found = findings.find((f) => f.id === 'other-lesions');
    expect(found?.level).toBe('caution');
    expect(found?.text).toMatch(/no promise of the physiological shunt/);
    expect(findings.find((f) => f.id === 'feeder-flow')?.text).toContain('at most');
    expect(row.assumed?.join(' ')).toContain('at most the whole');
  });

  it.each(['no', undefined] as const)('%s: the whole shunt runs through this lesion', (others) => {
    const { rows, findings } = of(others);
    expect(all(rows).shunt_fraction_is).toBeUndefined();
    expect(all(rows).intervals?.shunt_fraction?.[1]).toBeLessThan(0.1);
    expect(findings.some((f) => f.id === 'other-lesions')).toBe(false);
  });
});
