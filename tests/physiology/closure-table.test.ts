import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { VesselMeasure } from '../../src/geometry/measure.js';
import { closureSets } from '../../src/physiology/closure-sets.js';
import { type ClosureInput, closureTable } from '../../src/physiology/closure-table.js';
import type { Closure, Shunt } from '../../src/result/result.generated.js';
import { ruleNumber } from '../../src/rules/rule.js';
import { withNumber } from '../rules/with-number.js';
import { closureCaseOf, feedersOf, RULES, sampleOf, shuntBy, vesselOf } from './make.js';

const THIRTY: Shunt = {
  fraction: 0.3,
  interval: [0.26, 0.35],
  method: 'content',
  sample: 'on-oxygen',
  barometric_mmhg: 760,
  av_difference_ml_dl: 5,
  assumed: [],
};

function tableOf(vessels: readonly VesselMeasure[], more: Partial<ClosureInput> = {}) {
  return closureTable({ vessels, shunt: THIRTY, case: closureCaseOf(), rules: RULES, ...more });
}

function intervalOf(interval: [number, number] | undefined): [number, number] {
  if (!interval) throw new Error('there is no interval');
  return interval;
}

function rowOf(rows: readonly Closure[], ...closed: string[]): Closure {
  const row = rows.find((r) => r.closed !== 'lobe' && r.closed.join() === closed.join());
  if (!row) throw new Error(`no row ${closed.join()}`);
  return row;
}

describe('the wording of the least shunt', () => {
  it.each([
    [0.3, 'no shunt below the physiological 2.7 % (Whyte'],
    [0.027, 'no shunt below the physiological 2.7 % (Whyte'],
    [0.02, 'no shunt below the measured 2.0 %, which is less than the physiological 2.7 % (Whyte'],
    [0, 'closing takes nothing away, since the measured shunt cannot be told from none'],
  ])('at a shunt of %d', (fraction, text) => {
    const { rows } = tableOf(feedersOf('5x60'), { shunt: { ...THIRTY, fraction, interval: [0, 0.4] } });
    expect(rows[0].assumed?.join('; ')).toContain(text);
  });
});

describe('two equal feeders at 30 %', () => {
  const { rows, order, findings } = tableOf(feedersOf('5x60 5x60'));

  it('closing one leaves 17.65 %, not half', () => {
    expect(rowOf(rows, 'A1').shunt_fraction).toBeCloseTo(0.17647, 5);
    expect(rowOf(rows, 'A2').shunt_fraction).toBeCloseTo(0.17647, 5);
  });

  it('has rows for each, for both and for the lobe, in this order', () => {
    expect(rows.map((r) => r.closed)).toEqual([['A1'], ['A2'], ['A1', 'A2'], 'lobe']);
    expect(order).toEqual(['A1', 'A2']);
  });

  it('closing both leaves the physiological shunt', () => {
    expect(rowOf(rows, 'A1', 'A2').shunt_fraction).toBe(0.027);
    expect(rows.at(-1)?.shunt_fraction).toBe(0.027);
  });

  it('limits pressure and output: 8 mmHg become 8 x 1.1765, 6 L/min become 5.1', () => {
    const row = rowOf(rows, 'A1');
    expect(row.mean_pa_pressure_mmhg).toBeCloseTo(8 + 8 * 1.17647, 2);
    expect(row.cardiac_output_l_min).toBeCloseTo(5.1, 2);
    expect(rows.at(-1)?.mean_pa_pressure_mmhg).toBeGreaterThan(
      rowOf(rows, 'A1', 'A2').mean_pa_pressure_mmhg as number,
    );
  });

  it('says what a missed feeder leaves', () => {
    expect(findings.filter((f) => f.id === 'missed-feeder').map((f) => f.where)).toEqual(['A1', 'A2']);
    expect(findings.find((f) => f.id === 'missed-feeder')?.text).toContain('17.6 %');
  });

  it('the flow of what stays open adds up to the remaining shunt', () => {
    const row = rowOf(rows, 'A1');
    expect(Object.keys(row.remaining ?? {})).toEqual(['A2']);
    expect(row.remaining?.A2.flow_l_min).toBeCloseTo(6 * 0.17647, 3);
  });
});

describe('intervals', () => {
  it('contain the answer of both laws of flow and the central one', () => {
    const { rows } = tableOf(feedersOf('6x60 4x60'));
    const row = rowOf(rows, 'A1');
    const [low, high] = intervalOf(row.intervals?.shunt_fraction);
    expect(row.shunt_fraction).toBeCloseTo(0.066, 3);
    expect(low).toBeLessThanOrEqual(0.066);
    expect(high).toBeGreaterThanOrEqual(0.0892);
    const [sLow, sHigh] = intervalOf(row.intervals?.so2_room_air_percent);
    expect(sLow).toBeLessThan(row.so2_room_air_percent as number);
    expect(sHigh).toBeGreaterThanOrEqual(row.so2_room_air_percent as number);
    expect(row.so2_on_oxygen_percent).toBeGreaterThan(row.so2_room_air_percent as number);
  });

  it('widen with a drain that has resistance', () => {
    const width = (vessels: VesselMeasure[]) => {
      const interval = intervalOf(rowOf(tableOf(vessels).rows, 'A1').intervals?.shunt_fraction);
      return interval[1] - interval[0];
    };
    const feeders = feedersOf('5x60 5x60');
    expect(width([...feeders, vesselOf('V1', 80, 5, 'drain')])).toBeGreaterThan(width(feeders));
  });
});

describe('what is not a feeder', () => {
  it('a branch and a systemic feeder change no share', () => {
    const feeders = feedersOf('6x60 4x60');
    const others = [vesselOf('B1', 20, 5, 'branch'), vesselOf('Y1', 80, 4, 'systemic-feeder')];
    const plain = tableOf(feeders);
    const mixed = tableOf([...feeders, ...others]);
    expect(mixed.rows).toEqual(plain.rows);
    expect(mixed.findings.map((f) => f.id)).toContain('systemic-feeder-stays');
  });
});

describe('what is missing', () => {
  it('without a shunt every row says why', () => {
    const { rows } = tableOf(feedersOf('6x60 4x60'), { shunt: undefined });
    expect(rows).toHaveLength(4);
    for (const row of rows) {
      expect(row.absent_because).toContain('the shunt is not known');
      expect(row.shunt_fraction).toBeUndefined();
    }
  });

  it('a feeder without profile removes the shares, but not the answer for all', () => {
    const [a, b] = feedersOf('6x60 4x60');
    const { rows, findings } = tableOf([a, { ...b, profile: [] }]);
    expect(rowOf(rows, 'A1').absent_because).toContain('A2 has no usable calibre profile');
    expect(rowOf(rows, 'A1', 'A2').shunt_fraction).toBe(0.027);
    expect(findings.find((f) => f.id === 'feeder-without-profile')?.where).toBe('A2');
  });

  it('without haemoglobin saturations are omitted, shunts remain', () => {
    const { rows, findings } = tableOf(feedersOf('6x60 4x60'), { case: closureCaseOf({ blood: {} }) });
    expect(rowOf(rows, 'A1').so2_room_air_percent).toBeUndefined();
    expect(rowOf(rows, 'A1').shunt_fraction).toBeDefined();
    expect(findings.map((f) => f.id)).toContain('closure-saturation-absent');
  });

  it('without pressures normal ones are used and named', () => {
    const { rows, findings } = tableOf(feedersOf('6x60 4x60'), { case: closureCaseOf({ circulation: {} }) });
    expect(rows[0].assumed?.join(' ')).toContain('mean PA pressure 14 mmHg, a normal value');
    expect(findings.map((f) => f.id)).toContain('pa-pressure-not-measured');
  });

  it('with a wedge pressure above the PA pressure no pressure is given', () => {
    const circulation = { cardiacOutputLMin: 6, meanPaPressureMmHg: 8, wedgePressureMmHg: 12 };
    const { rows, findings } = tableOf(feedersOf('6x60 4x60'), { case: closureCaseOf({ circulation }) });
    expect(rows[0].mean_pa_pressure_mmhg).toBeUndefined();
    expect(rows[0].shunt_fraction).toBeDefined();
    expect(findings.map((f) => f.id)).toContain('pressures-contradict');
  });

  it('without side and lobe the lobe row has a shunt but no pressure', () => {
    const { rows } = tableOf(feedersOf('6x60'), { case: closureCaseOf({ lesion: { segments: [] } }) });
    expect(rows.at(-1)?.shunt_fraction).toBe(0.027);
    expect(rows.at(-1)?.mean_pa_pressure_mmhg).toBeUndefined();
  });
});

describe('pulmonary hypertension', () => {
  const at = (meanPaPressureMmHg: number) => {
    const circulation = { cardiacOutputLMin: 12, meanPaPressureMmHg, wedgePressureMmHg: 8 };
    return tableOf(feedersOf('6x60 4x60'), { case: closureCaseOf({ circulation }) }).findings;
  };
  const levelOf = (mmHg: number) => at(mmHg).find((f) => f.id === 'pulmonary-hypertension')?.level;

  it.each([
    [20, undefined],
    [20.1, 'caution'],
    [34.9, 'caution'],
    [35, 'stop'],
  ])('at %d mmHg: %s', (mmHg, level) => expect(levelOf(mmHg)).toBe(level));

  it('is predicted after closure where the bound exceeds 20 mmHg', () => {
    const ids = (mmHg: number) => at(mmHg).map((f) => f.id);
    expect(ids(18)).toContain('pulmonary-hypertension-after-closure');
    expect(ids(15)).not.toContain('pulmonary-hypertension-after-closure');
  });

  it('when predicted, names the largest published rise (Shovlin et al. 2008)', () => {
    const { value, unit } = ruleNumber(RULES, 'largest-published-rise');
    const found = at(18).find(({ id }) => id === 'pulmonary-hypertension-after-closure');
    expect([value, unit]).toEqual([8, 'mmHg']);
    expect(found?.text).toContain('no significant rise in 43 patients, largest 8 mmHg (');
    const circulation = { cardiacOutputLMin: 12, meanPaPressureMmHg: 18, wedgePressureMmHg: 8 };
    const changed = tableOf(feedersOf('6x60 4x60'), {
      case: closureCaseOf({ circulation }),
      rules: withNumber('largest-published-rise', 11),
    }).findings.find(({ id }) => id === 'pulmonary-hypertension-after-closure');
    expect(changed?.text).toContain('largest 11 mmHg (');
  });
});

describe('lesions outside all surfaces', () => {
  const allClosed = (otherLesions?: 'yes' | 'no' | 'unknown') => {
    const lesion = { ...closureCaseOf().lesion, otherLesions };
    const { rows, findings } = tableOf(feedersOf('6x60 4x60'), { case: closureCaseOf({ lesion }) });
    return { row: rows.find(({ closed }) => closed.length === 2), ids: findings.map(({ id }) => id) };
  };

  it('rule out a promise of the physiological shunt: the interval reaches the measured shunt', () => {
    const alone = allClosed('no');
    expect(alone.ids).not.toContain('other-lesions');
    expect(allClosed().row).toEqual(alone.row);
    for (const answer of ['yes', 'unknown'] as const) {
      const { row, ids } = allClosed(answer);
      expect(ids).toContain('other-lesions');
      expect(row?.shunt_fraction).toBe(alone.row?.shunt_fraction);
      expect(row?.intervals?.shunt_fraction?.[1]).toBeGreaterThan(
        3 * (alone.row?.intervals?.shunt_fraction?.[1] ?? 1),
      );
      expect(row?.assumed?.join(' ')).toContain('at most the whole measured shunt');
    }
  });
});

describe('sets of feeders', () => {
  it('are all subsets up to four', () => {
    const names = ['A1', 'A2', 'A3', 'A4'];
    expect(closureSets(names, names)).toHaveLength(15);
    expect(closureSets(names, names)[4]).toEqual(['A1', 'A2']);
  });

  it('beyond four: each, in order, all but one, all, none twice', () => {
    const names = ['A1', 'A2', 'A3', 'A4', 'A5', 'A6'];
    const order = ['A6', 'A1', 'A2', 'A3', 'A4', 'A5'];
    const sets = closureSets(names, order).map((s) => s.join('+'));
    expect(new Set(sets).size).toBe(sets.length);
    expect(sets).toContain('A1+A6');
    expect(sets.at(-1)).toBe(names.join('+'));
    for (const missed of names) expect(sets).toContain(names.filter((n) => n !== missed).join('+'));
    expect(sets.filter((s) => !s.includes('+'))).toEqual(names);
  });
});

describe('properties of the closure (seed 2008)', () => {
  const feeders = fc
    .array(
      fc.tuple(fc.double({ min: 2, max: 12, noNaN: true }), fc.double({ min: 10, max: 90, noNaN: true })),
      {
        minLength: 1,
        maxLength: 4,
      },
    )
    .map((parts) => parts.map(([calibre, length], i) => vesselOf(`A${i + 1}`, length, calibre)));

  it('closing more never raises the shunt nor lowers a saturation, and nothing leaves the measured range', () => {
    fc.assert(
      fc.property(feeders, fc.double({ min: 0.01, max: 0.6, noNaN: true }), (vessels, fraction) => {
        const shunt = { ...THIRTY, fraction, interval: [0.8 * fraction, 1.2 * fraction] as [number, number] };
        const { rows } = tableOf(vessels, { shunt });
        const sets = rows.filter((r) => r.closed !== 'lobe') as (Closure & { closed: string[] })[];
        for (const a of sets) {
          expect(a.shunt_fraction).toBeGreaterThan(0);
          expect(a.shunt_fraction as number).toBeLessThanOrEqual(fraction + 1e-5);
          for (const b of sets) {
            if (!a.closed.every((name) => b.closed.includes(name))) continue;
            expect(b.shunt_fraction as number).toBeLessThanOrEqual(a.shunt_fraction as number);
            expect(b.so2_room_air_percent as number).toBeGreaterThanOrEqual(a.so2_room_air_percent as number);
          }
        }
      }),
      { seed: 2008, numRuns: 15 },
    );
  });

  it('partial closing lies between nothing and all, and does not rise with occlusion', () => {
    const vessels = feedersOf('6x60 4x60');
    const at = (occlusion: number) => rowOf(tableOf(vessels, { occlusion, sets: [['A1']] }).rows, 'A1');
    const shunts = [0, 0.2, 0.5, 0.8, 1].map((o) => at(o).shunt_fraction as number);
    expect(shunts[0]).toBeCloseTo(0.3, 5);
    expect([...shunts].sort((a, b) => b - a)).toEqual(shunts);
    expect(at(0.8).occlusion_percent).toBe(80);
    expect(at(1).occlusion_percent).toBeUndefined();
    expect(() => tableOf(vessels, { occlusion: 1.2 })).toThrow(RangeError);
  });

  it('is the same twice and does not depend on the order of the feeders', () => {
    const vessels = feedersOf('6x60 4x60');
    expect(tableOf(vessels)).toEqual(tableOf(vessels));
    const turned = tableOf([...vessels].reverse());
    expect(turned.order).toEqual(['A1', 'A2']);
    expect(rowOf(turned.rows, 'A1').shunt_fraction).toBe(rowOf(tableOf(vessels).rows, 'A1').shunt_fraction);
  });

  it('before anything is closed the model gives the measured saturation', () => {
    const gases = [sampleOf({ po2MmHg: 118, ph: 7.4 })];
    const patientCase = closureCaseOf({ gases });
    const { shunt } = shuntBy({ samples: gases, when: 'before', haemoglobinGDl: 15 });
    const [row] = tableOf(feedersOf('6x60'), { shunt, case: patientCase, sets: [[]] }).rows;
    expect(row.so2_on_oxygen_percent).toBeCloseTo(shunt?.arterial_saturation_percent as number, 2);
  });
});
