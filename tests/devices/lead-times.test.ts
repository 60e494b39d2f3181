import { describe, expect, it } from 'vitest';
import type { ShelfDevice } from '../../src/case/case.js';
import { allocate } from '../../src/devices/allocate.js';
import { judgeShelf } from '../../src/devices/candidates.js';
import { judgeSize, kindOrder, oversizeFraction, windowMm } from '../../src/devices/device-window.js';
import type { FeederToClose } from '../../src/devices/feeder.js';
import { coilsForDensity, packingDensityPercent, stretchVolumeMm3 } from '../../src/devices/packing.js';
import { planDevices } from '../../src/devices/plan-devices.js';
import { coil, context, plug } from './make.js';

const feeder = (name: string, calibreMm: number, more: Partial<FeederToClose> = {}): FeederToClose => ({
  name,
  calibreMm,
  zoneLengthMm: 20,
  ...more,
});
const { rules } = context([]);
const planOf = (shelf: ShelfDevice[] | undefined, feeders = [feeder('A1', 6)], more = {}) =>
  planDevices(feeders, context(shelf, more));

describe('when a device is available', () => {
  // today is 2026-03-20
  it.each([
    [{ inStock: 1, leadTimeDays: 21 }, true, '2026-03-20'],
    [{ inStock: 0, leadTimeDays: 21 }, false, '2026-04-10'],
    [{ inStock: 0, leadTimeDays: 0 }, false, '2026-03-20'],
    [{ inStock: 0, leadTimeDays: 2.2 }, false, '2026-03-23'],
    [{ inStock: 0, leadTimeDays: undefined }, false, undefined],
    [{ inStock: undefined, leadTimeDays: 3 }, undefined, '2026-03-23'],
  ] as [Partial<ShelfDevice>, boolean | undefined, string | undefined][])('%j', (stock, onShelf, readyBy) => {
    const { device } = { device: planOf([plug(8, stock)]).devices.A1 };
    expect([device.on_shelf, device.ready_by]).toEqual([onShelf, readyBy]);
  });

  it('gives no date where today is not given', () => {
    expect(planOf([plug(8)], undefined, { today: 'soon' }).devices.A1.ready_by).toBeUndefined();
  });

  it('an alternate in stock is available today, one to order after its own lead time', () => {
    const shelf = [
      plug(8.4),
      plug(8, { inStock: 0, leadTimeDays: 7 }),
      coil(7.5, { inStock: 2 }),
      coil(7.6, { inStock: 1 }),
    ];
    const { devices } = planOf(shelf);
    expect(
      devices.A1.alternates.map(({ code, on_shelf, ready_by, count }) => [code, on_shelf, ready_by, count]),
    ).toEqual([
      ['PLUG-8', false, '2026-03-27', 1],
      // 24 % of pi/4 x 6^2 x 10 = 67.9 mm3 takes two wires of pi/4 x 0.457^2 x 300 = 49.2 mm3
      ['COIL-7.5', true, '2026-03-20', 2],
      ['COIL-7.6', false, '2026-03-23', 2],
    ]);
    expect(devices.A1.alternates[0]).toMatchObject({
      kind: 'vascular-plug',
      diameter_mm: 8,
      oversize_percent: 33.33,
    });
  });
});

describe('what to order', () => {
  it('only what the stock lacks, at least one, after what others take', () => {
    const two = [feeder('A1', 6), feeder('A2', 6)];
    expect(planOf([plug(8)], two).orderList).toEqual([
      { item: 'PLUG-8', count: 1, ready_by: '2026-04-10', for: ['A2'] },
    ]);
    expect(planOf([plug(8, { inStock: 0 })], two).orderList).toEqual([
      { item: 'PLUG-8', count: 2, ready_by: '2026-04-10', for: ['A1', 'A2'] },
    ]);
    expect(planOf([plug(8, { inStock: 2 })], two).orderList).toEqual([]);
    // two coils each, three in stock: A1 takes two, leaving one of two for A2
    expect(planOf([coil(7.5, { inStock: 3 })], two).orderList).toEqual([
      { item: 'COIL-7.5', count: 1, ready_by: '2026-03-23', for: ['A2'] },
    ]);
    expect(planOf([plug(8, { inStock: 0, leadTimeDays: undefined })], two).orderList).toEqual([
      { item: 'PLUG-8', count: 2, for: ['A1', 'A2'] },
    ]);
  });

  it('an obtainable device is preferred to one that is not, and the best option for today takes none on order', () => {
    const shelf = [
      plug(8.4, { inStock: 0, leadTimeDays: undefined }),
      plug(8, { inStock: 0, leadTimeDays: 5 }),
    ];
    const plan = planOf(shelf);
    expect(plan.devices.A1.code).toBe('PLUG-8');
    expect(plan.bestToday).toEqual([]);
  });

  it('as few feeders as possible are left without a device from the shelf', () => {
    const fitting = (calibreMm: number, shelf: ShelfDevice[]) =>
      judgeShelf({ ...feeder('A', calibreMm), calibreMm }, context(shelf)).fitting;
    const shelf = [plug(8.4), plug(9)];
    const demands = [
      { name: 'A2', candidates: fitting(6.1, shelf) },
      { name: 'A1', candidates: fitting(5.9, shelf) },
    ];
    const { assigned, provenBest } = allocate(demands, true);
    expect(assigned.map((one) => [one?.candidate.device.code, one?.fromStock])).toEqual([
      ['PLUG-9', true],
      ['PLUG-8.4', true],
    ]);
    expect(provenBest).toBe(true);
    const short = allocate([...demands, { name: 'A3', candidates: [] }], true);
    expect(short.assigned[2]).toBeUndefined();
    expect(allocate([], true)).toEqual({ assigned: [], provenBest: true });
  });
});

describe('sizes by hand', () => {
  it('window, oversize and the vessels that a device fits', () => {
    expect(windowMm('vascular-plug', 6, rules).map((mm) => mm.toFixed(9))).toEqual([
      '7.800000000',
      '9.000000000',
    ]);
    expect(oversizeFraction(8.4, 6)).toBeCloseTo(0.4, 12);
    const verdict = judgeSize(plug(7.8), 6, rules);
    expect(verdict.fits).toBe('yes');
    expect(verdict.vesselMm[0]).toBeCloseTo(7.8 / 1.5, 12);
    expect(verdict.vesselMm[1]).toBeCloseTo(6, 12);
    expect([
      judgeSize(plug(7.79), 6, rules).fits,
      judgeSize(plug(9), 6, rules).fits,
      judgeSize(plug(9.01), 6, rules).fits,
    ]).toEqual(['too-small', 'yes', 'too-large']);
    const own = judgeSize(plug(8, { vesselMinMm: 4, vesselMaxMm: 7 }), 6, rules);
    expect(own).toMatchObject({
      vesselMm: [4, 7],
      byInstructions: true,
      rule: 'instructions for use of PLUG-8',
    });
    expect(judgeSize(plug(8, { vesselMinMm: 6.1 }), 6, rules).fits).toBe('too-large');
    expect(judgeSize(plug(8, { vesselMaxMm: 5.9 }), 6, rules).fits).toBe('too-small');
    expect(judgeSize(plug(8, { vesselMaxMm: 7 }), 6, rules).vesselMm[0]).toBeCloseTo(8 / 1.5, 12);
  });

  it('every kind has its place, the named ones first', () => {
    const order = kindOrder(6, rules);
    expect(order[0]).toBe('vascular-plug');
    expect([...order].sort()).toEqual(['detachable-coil', 'micro-plug', 'pushable-coil', 'vascular-plug']);
    expect(kindOrder(2.5, rules)[0]).not.toBe('vascular-plug');
  });

  it('a refusal by size with its values, and the next size on either side', () => {
    const { rejected } = planOf([
      plug(7),
      plug(7.5),
      plug(9.5),
      plug(10),
      plug(8, { code: 'OWN', vesselMaxMm: 5 }),
    ]).devices.A1;
    const found = Object.fromEntries(rejected.map(({ code, size, why }) => [code, { size, why }]));
    expect(found['PLUG-7.5'].size).toEqual({
      diameter_mm: 7.5,
      oversize_percent: 25,
      window_percent: [30, 50],
      window_mm: [7.8, 9],
      is_nearest: true,
    });
    // OWN fits up to 5 mm, a millimetre short; 7.5 mm fits 7.5 / 1.3 = 5.77
    expect(Object.entries(found).map(([code, { size }]) => [code, size?.is_nearest])).toEqual([
      ['PLUG-7', false],
      ['PLUG-7.5', true],
      ['PLUG-9.5', true],
      ['PLUG-10', false],
      ['OWN', false],
    ]);
    expect(found['PLUG-7.5'].why).toBe(
      '7.5 mm on 6.00 mm is 25.00 % over, below the window of 30 to 50 % (7.80 to 9.00 mm); the nearest vascular-plug below',
    );
    expect(found['PLUG-10'].why).toBe(
      '10 mm on 6.00 mm is 66.67 % over, above the window of 30 to 50 % (7.80 to 9.00 mm)',
    );
    expect(found.OWN.size).toEqual({ diameter_mm: 8, oversize_percent: 33.33, is_nearest: false });
    expect(found.OWN.why).toBe(
      '8 mm on 6.00 mm is 33.33 % over; the landing calibre is above its vessel range of 5.33 to 5.00 mm',
    );
    expect(planOf([plug(5)]).devices.A1.rejected[0].why).toContain(
      '5 mm on 6.00 mm is 16.67 % smaller than the vessel, below',
    );
  });

  it('length: the device and 5 mm beyond it, just enough and just too short; 10 mm where it is not known', () => {
    const of = (device: ShelfDevice, zoneLengthMm: number) =>
      planOf([device], [feeder('A1', 6, { zoneLengthMm })]).devices.A1.rejected[0]?.why;
    expect(of(plug(8, { lengthMm: 7 }), 12)).toBeUndefined();
    expect(of(plug(8, { lengthMm: 7 }), 11.9)).toBe(
      '7 mm long and 5 mm beyond it need 12.0 mm of landing zone; the zone is 11.9 mm',
    );
    expect(of(plug(8), 10)).toBeUndefined();
    expect(of(plug(8), 9.9)).toContain('so 10.0 mm of landing zone are needed; the zone is 9.9 mm');
    expect(of(coil(7.5), 10)).toBeUndefined();
    expect(of(coil(7.5), 9.9)).toContain('its deployed length is not known');
  });

  it('of the same kind: the middle of the window, then the smaller lumen, then the code', () => {
    const codes = (shelf: ShelfDevice[]) =>
      judgeShelf({ ...feeder('A', 6), calibreMm: 6 }, context(shelf)).fitting.map(
        ({ device }) => device.code,
      );
    // window 7.8 to 9.0, middle 8.4
    expect(codes([plug(9), plug(7.9), plug(8.5), plug(8.4)])).toEqual([
      'PLUG-8.4',
      'PLUG-8.5',
      'PLUG-7.9',
      'PLUG-9',
    ]);
    const like = (code: string, needsLumenMm?: number) => plug(8.4, { code, needsLumenMm });
    expect(codes([like('Z', 1), like('B'), like('A'), like('C', 2)])).toEqual(['Z', 'C', 'A', 'B']);
    const [middle, edge] = [plug(8.4), plug(9)].map(
      (device) => judgeShelf({ ...feeder('A', 6), calibreMm: 6 }, context([device])).fitting[0].offMiddle,
    );
    expect(middle).toBeCloseTo(0, 9);
    expect(edge).toBeCloseTo(1, 9);
    const own = (vesselMinMm: number, vesselMaxMm: number) =>
      judgeShelf({ ...feeder('A', 6), calibreMm: 6 }, context([plug(8, { vesselMinMm, vesselMaxMm })]))
        .fitting[0].offMiddle;
    expect(own(5, 9)).toBeCloseTo(0.5, 12);
    expect(own(6, 6)).toBe(0);
  });

  it('wire in a stretch of vessel', () => {
    expect(stretchVolumeMm3(4, 5)).toBeCloseTo(20 * Math.PI, 12);
    // wire of 2 mm over 5 mm: 5 pi; 25 % of 20 pi is one, 26 % takes two
    expect(coilsForDensity(25, 2, 5, 20 * Math.PI)).toBe(1);
    expect(coilsForDensity(26, 2, 5, 20 * Math.PI)).toBe(2);
    expect(coilsForDensity(0, 2, 5, 20 * Math.PI)).toBe(1);
    expect(packingDensityPercent(2, 2, 5, 20 * Math.PI)).toBeCloseTo(50, 12);
  });
});

describe('what is reported of a device, and of none', () => {
  it('all of its values', () => {
    const shelf = [plug(8.4, { lengthMm: 7, needsLumenMm: 1.8 })];
    expect(planOf(shelf, [feeder('A1', 6, { calibreIntervalMm: [5.8, 6.3] })]).devices.A1).toMatchObject({
      window_mm: [7.8, 9],
      kind: 'vascular-plug',
      diameter_mm: 8.4,
      length_mm: 7,
      needs_lumen_mm: 1.8,
      count: 1,
      oversize_percent: 40,
      // 8.4 / 6.3 and 8.4 / 5.8
      oversize_interval_percent: [33.33, 44.83],
      rule: 'window-vascular-plug',
      borderline: false,
    });
  });

  it('no shelf, an empty one, none that fits, no calibre', () => {
    expect(planOf(undefined).devices.A1).toMatchObject({
      window_mm: [7.8, 9],
      rule: 'window-vascular-plug',
      absent_because: expect.stringContaining('no shelf file'),
    });
    expect(planOf([]).devices.A1.absent_because).toBe('the shelf file lists no device');
    expect(planOf([plug(20), plug(2)]).devices.A1.absent_because).toBe(
      'none of the 2 devices of the shelf suits A1',
    );
    const none = planDevices([{ name: 'A1' }], context([plug(8)])).devices.A1;
    expect(none.absent_because).toContain('no landing zone');
    expect(
      planDevices([{ name: 'A1', absentBecause: 'why' }], context([plug(8)])).devices.A1.absent_because,
    ).toBe('why');
  });
});
