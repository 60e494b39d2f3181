import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { ShelfDevice } from '../../src/case/case.js';
import type { FeederToClose } from '../../src/devices/feeder.js';
import { fitDevice } from '../../src/devices/fit-device.js';
import { planDevices } from '../../src/devices/plan-devices.js';
import { coil, context, plug } from './make.js';

const feeder = (name: string, calibreMm: number): FeederToClose => ({ name, calibreMm, zoneLengthMm: 20 });

describe('sharing the stock', () => {
  it('does not use one plug twice: the second is ordered', () => {
    const plan = planDevices([feeder('A1', 6), feeder('A2', 6)], context([plug(8)]));
    expect(plan.devices.A1).toMatchObject({ code: 'PLUG-8', on_shelf: true, ready_by: '2026-03-20' });
    expect(plan.devices.A2).toMatchObject({ code: 'PLUG-8', on_shelf: false, ready_by: '2026-04-10' });
    expect(plan.orderList).toEqual([{ item: 'PLUG-8', count: 1, ready_by: '2026-04-10', for: ['A2'] }]);
  });

  it('gives up the middle of the window so that both feeders are ready', () => {
    // 8.4 mm fits both and is the best for each; 9 mm fits only the larger.
    const plan = planDevices([feeder('A2', 6.1), feeder('A1', 5.9)], context([plug(8.4), plug(9)]));
    expect(plan.devices.A1.code).toBe('PLUG-8.4');
    expect(plan.devices.A2.code).toBe('PLUG-9');
    expect(plan.orderList).toEqual([]);
  });

  it('does so whatever the order of the feeders', () => {
    const feeders = [feeder('A1', 5.9), feeder('A2', 6.1), feeder('A3', 4)];
    const shelf = [plug(8.4), plug(9), plug(5.5)];
    const plans = [feeders, [...feeders].reverse()].map((list) => planDevices(list, context(shelf)).devices);
    for (const name of ['A1', 'A2', 'A3']) expect(plans[0][name]).toEqual(plans[1][name]);
  });

  it('takes a coil for the second feeder where the plug cannot be ordered', () => {
    const plan = planDevices(
      [feeder('A1', 6), feeder('A2', 6)],
      context([plug(8, { leadTimeDays: undefined }), coil(7.5)]),
    );
    expect(plan.devices.A1.code).toBe('PLUG-8');
    expect(plan.devices.A2.code).toBe('COIL-7.5');
  });

  it('the best option for today takes coils where plugs must be ordered', () => {
    const plan = planDevices(
      [feeder('A1', 6), feeder('A2', 7)],
      context([plug(8), plug(10, { inStock: 0 }), coil(8.8)]),
    );
    expect(plan.devices.A2).toMatchObject({ code: 'PLUG-10', on_shelf: false });
    expect(plan.bestToday).toEqual([
      { feeder: 'A1', code: 'PLUG-8', kind: 'vascular-plug', diameter_mm: 8, count: 1 },
      { feeder: 'A2', code: 'COIL-8.8', kind: 'detachable-coil', diameter_mm: 8.8, count: 2 },
    ]);
  });

  it('both ready either way: the better sum of fits wins, not the first feeder', () => {
    // A1 alone would take 8.5 (0.17 off the middle, 8.2 is 0.33 off); A2 is 0.51 off with 8.5 but 0.98 off with 8.2.
    const plan = planDevices([feeder('A1', 6), feeder('A2', 6.3)], context([plug(8.5), plug(8.2)]));
    expect([plan.devices.A1.code, plan.devices.A2.code]).toEqual(['PLUG-8.2', 'PLUG-8.5']);
  });

  it('an alternate that another feeder takes is not on the shelf', () => {
    const plan = planDevices([feeder('A1', 6), feeder('A2', 6.2)], context([plug(8.2), plug(9)]));
    expect(plan.devices.A1).toMatchObject({
      code: 'PLUG-8.2',
      alternates: [{ code: 'PLUG-9', on_shelf: false }],
    });
    expect(plan.devices.A2).toMatchObject({
      code: 'PLUG-9',
      alternates: [{ code: 'PLUG-8.2', on_shelf: false }],
    });
    const alone = planDevices([feeder('A1', 6)], context([plug(8.2), plug(9)]));
    expect(alone.devices.A1.alternates).toMatchObject([{ code: 'PLUG-9', on_shelf: true }]);
  });

  it('counts every coil piece and orders only the shortfall', () => {
    const three = [feeder('A1', 6), feeder('A2', 6), feeder('A3', 6)];
    const plan = planDevices(three, context([coil(7.5, { inStock: 5 })]));
    expect(three.map(({ name }) => plan.devices[name].on_shelf)).toEqual([true, true, false]);
    expect(plan.orderList).toEqual([{ item: 'COIL-7.5', count: 1, ready_by: '2026-03-23', for: ['A3'] }]);
  });

  it('leap years and months in ready_by', () => {
    const late = context([plug(8, { inStock: 0, leadTimeDays: 10 })], { today: '2028-02-25' });
    expect(planDevices([feeder('A1', 6)], late).devices.A1.ready_by).toBe('2028-03-06');
  });
});

describe('properties', () => {
  const size = fc.integer({ min: 20, max: 200 }).map((tenths) => tenths / 10);
  const device = fc.record({
    diameterMm: size,
    inStock: fc.integer({ min: 0, max: 2 }),
    leadTimeDays: fc.option(fc.integer({ min: 0, max: 60 }), { nil: undefined }),
    isCoil: fc.boolean(),
  });
  const shelfOf = (
    list: { diameterMm: number; inStock: number; leadTimeDays: number | undefined; isCoil: boolean }[],
  ) =>
    list.map(
      ({ isCoil, ...rest }, i): ShelfDevice => ({
        ...(isCoil ? coil(rest.diameterMm) : plug(rest.diameterMm)),
        ...rest,
        code: `D${i}`,
      }),
    );

  it('a larger vessel never gets a smaller device of the same kind (seed 7)', () => {
    fc.assert(
      fc.property(fc.array(device, { maxLength: 12 }), size, size, (list, a, b) => {
        const shelf = shelfOf(list.map((entry) => ({ ...entry, isCoil: false, leadTimeDays: 5 })));
        const [small, large] = [Math.max(3, Math.min(a, b)), Math.max(3, a, b)];
        const first = fitDevice({ feeder: feeder('A', small), ...context(shelf) }).device.diameter_mm;
        const second = fitDevice({ feeder: feeder('A', large), ...context(shelf) }).device.diameter_mm;
        return first === undefined || second === undefined || second >= first;
      }),
      { seed: 7, numRuns: 400 },
    );
  });

  it('stock is never oversubscribed, and a device is always within its window (seed 11)', () => {
    const calibres = fc.array(
      fc.integer({ min: 20, max: 120 }).map((tenths) => tenths / 10),
      { minLength: 1, maxLength: 5 },
    );
    fc.assert(
      fc.property(fc.array(device, { maxLength: 10 }), calibres, (list, sizes) => {
        const shelf = shelfOf(list);
        const plan = planDevices(
          sizes.map((mm, i) => feeder(`A${i}`, mm)),
          context(shelf),
        );
        const used = new Map<string, number>();
        for (const found of Object.values(plan.devices)) {
          if (found.code === undefined) continue;
          const [low, high] = found.window_mm ?? [0, 0];
          if ((found.diameter_mm ?? 0) < low - 1e-3 || (found.diameter_mm ?? 0) > high + 1e-3) return false;
          if (found.on_shelf) used.set(found.code, (used.get(found.code) ?? 0) + (found.count ?? 1));
        }
        const today = new Map<string, number>();
        for (const choice of plan.bestToday)
          today.set(choice.code, (today.get(choice.code) ?? 0) + choice.count);
        return [used, today].every((counts) =>
          [...counts].every(
            ([code, count]) => count <= (shelf.find((entry) => entry.code === code)?.inStock ?? 0),
          ),
        );
      }),
      { seed: 11, numRuns: 300 },
    );
  });

  it('as many feeders are ready today as any allocation allows, compared with trying every one (seed 13)', () => {
    const calibres = fc.array(
      fc.integer({ min: 50, max: 70 }).map((tenths) => tenths / 10),
      { minLength: 1, maxLength: 4 },
    );
    const plugs = fc.array(
      fc.record({
        diameterMm: fc.integer({ min: 66, max: 104 }).map((t) => t / 10),
        inStock: fc.integer({ min: 0, max: 2 }),
      }),
      { maxLength: 5 },
    );
    fc.assert(
      fc.property(plugs, calibres, (list, sizes) => {
        const shelf = list.map((entry, i) => plug(entry.diameterMm, { ...entry, code: `D${i}` }));
        const plan = planDevices(
          sizes.map((mm, i) => feeder(`A${i}`, mm)),
          context(shelf),
        );
        return (
          plan.bestToday.length ===
          mostReady(
            sizes,
            shelf.map((entry) => ({ mm: entry.diameterMm, left: entry.inStock ?? 0 })),
          )
        );
      }),
      { seed: 13, numRuns: 300 },
    );
  });
});

/** Largest number of vessels served, by trying every allocation; independent of the code under test. */
function mostReady(calibres: number[], stock: { mm: number; left: number }[]): number {
  if (calibres.length === 0) return 0;
  const [first, ...rest] = calibres;
  let best = mostReady(rest, stock);
  for (const entry of stock) {
    if (entry.left === 0 || entry.mm < 1.3 * first - 1e-9 || entry.mm > 1.5 * first + 1e-9) continue;
    entry.left--;
    best = Math.max(best, 1 + mostReady(rest, stock));
    entry.left++;
  }
  return best;
}
