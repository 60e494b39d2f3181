import { describe, expect, it } from 'vitest';
import type { ShelfDevice } from '../../src/case/case.js';
import { allocate } from '../../src/devices/allocate.js';
import { judgeShelf, piecesOf } from '../../src/devices/candidates.js';
import { judgeSize } from '../../src/devices/device-window.js';
import type { FeederToClose, FitContext } from '../../src/devices/feeder.js';
import { planDevices } from '../../src/devices/plan-devices.js';
import { mulberry32 } from '../../src/foundation/mulberry32.js';
import { coil, context, plug } from './make.js';

const feeder = (name: string, calibreMm: number, more: Partial<FeederToClose> = {}): FeederToClose => ({
  name,
  calibreMm,
  zoneLengthMm: 20,
  toSacMm: 2,
  ...more,
});

function planOf(
  shelf: ShelfDevice[] | undefined,
  feeders = [feeder('A1', 6)],
  more: Partial<FitContext> = {},
) {
  const plan = planDevices(feeders, context(shelf, more));
  return { ...plan, a1: plan.devices.A1, ids: plan.findings.map(({ id }) => id) };
}
const without = (key: keyof ShelfDevice) => ({ [key]: undefined });

describe('sharing the stock', () => {
  // Every allocation by brute force, with its own sums: most feeders from the shelf, then the fewest that have no obtainable
  // device, then the kind, an unstated metal, and the distance from the middle of the window.
  it('agrees with trying every allocation, by need and by quality', () => {
    const random = mulberry32(20260320);
    for (let round = 0; round < 12; round += 1) {
      const some = (count: number): number => Math.floor(count * random());
      const shelf = [plug(8), plug(8.4), plug(8.8), coil(7.2), coil(7.5)].map((device, i) => ({
        ...device,
        code: `D${i}`,
        inStock: some(3),
        leadTimeDays: [undefined, 5, 30][some(3)],
        nickel: (['no', undefined, 'no'] as const)[some(3)],
      }));
      const calibres = [5.6, 6, 6.4].map((mm) => mm + 0.2 * random());
      const demands = calibres.map((calibreMm, i) => ({
        name: `A${i}`,
        candidates: judgeShelf(
          { ...feeder(`A${i}`, calibreMm), calibreMm },
          context(shelf, { allergies: ['nickel'] }),
        ).fitting,
      }));
      const { assigned } = allocate(demands);
      const worth = (choice: readonly { device?: number; fromStock: boolean }[]): number[] => {
        const left = new Map(shelf.map(({ code, inStock }) => [code, inStock]));
        let [ordered, unobtainable, cost] = [0, 0, 0];
        for (const [i, { device, fromStock }] of choice.entries()) {
          if (device === undefined) {
            ordered += 1;
            continue;
          }
          const one = demands[i].candidates[device];
          if (fromStock) {
            const stock = left.get(one.device.code)! - piecesOf(one);
            if (stock < 0) return [Number.POSITIVE_INFINITY];
            left.set(one.device.code, stock);
          } else {
            ordered += 1;
            if (one.device.leadTimeDays === undefined) unobtainable += 1;
          }
          cost += 1000 * one.kindRank + (one.nickelDoubt ? 100 : 0) + one.offMiddle;
        }
        return [ordered, unobtainable, cost];
      };
      const all = demands.map(({ candidates }) =>
        candidates.length === 0
          ? [{ fromStock: false }]
          : candidates.flatMap((_, device) => [
              { device, fromStock: true },
              { device, fromStock: false },
            ]),
      );
      let best = [Number.POSITIVE_INFINITY];
      for (const a of all[0])
        for (const b of all[1])
          for (const c of all[2]) {
            const value = worth([a, b, c]);
            const at = value.findIndex((x, k) => Math.abs(x - (best[k] ?? Number.POSITIVE_INFINITY)) > 1e-9);
            if (at >= 0 && value[at] < (best[at] ?? Number.POSITIVE_INFINITY)) best = value;
          }
      const taken = assigned.map((one, i) => ({
        device: one && demands[i].candidates.indexOf(one.candidate),
        fromStock: one?.fromStock ?? false,
      }));
      const found = worth(taken);
      expect(found.slice(0, 2), `round ${round}`).toEqual(best.slice(0, 2));
      expect(found[2]).toBeCloseTo(best[2], 5);
    }
  });

  it('is proven optimal for fourteen feeders with a device each: the bounds prune what cannot be better', () => {
    // each has its own size in the middle of its window, and those of its neighbours near the edges: 4 to 5 sizes at 14
    // feeders
    const calibres = Array.from({ length: 14 }, (_, i) => 5 * 1.03 ** i);
    const shelf = calibres.map((mm, i) => plug(1.4 * mm, { code: `P${i}` }));
    const { findings, devices } = planDevices(
      calibres.map((mm, i) => feeder(`A${i}`, mm)),
      context(shelf),
    );
    expect(findings.map(({ id }) => id)).not.toContain('allocation-not-proven-best');
    expect(calibres.map((_, i) => devices[`A${i}`].code)).toEqual(calibres.map((_, i) => `P${i}`));
  });

  it('a feeder that no device fits takes none, and keeps none from the others', () => {
    const fitting = judgeShelf({ ...feeder('A1', 6), calibreMm: 6 }, context([plug(8.4)])).fitting;
    const { assigned } = allocate([
      { name: 'A0', candidates: [] },
      { name: 'A1', candidates: fitting },
    ]);
    expect(assigned.map((one) => one?.candidate.device.code)).toEqual([undefined, 'PLUG-8.4']);
  });

  it('what others take is not left as an alternate', () => {
    // three 8.4 for three feeders: each also has an 8.0, which nobody takes
    const three = ['A1', 'A2', 'A3'].map((name) => feeder(name, 6));
    const all = planOf([plug(8.4, { inStock: 4 }), plug(8, { inStock: 1 })], three);
    expect(Object.values(all.devices).map(({ code }) => code)).toEqual(['PLUG-8.4', 'PLUG-8.4', 'PLUG-8.4']);
    expect(all.devices.A3.alternates).toMatchObject([{ code: 'PLUG-8', on_shelf: true }]);
    // A1 and A2 take two of three, and one of them is the alternate for A3
    const other = planOf(
      [plug(8.4, { inStock: 3 }), plug(9.4, { inStock: 1 })],
      [feeder('A1', 6), feeder('A2', 6), feeder('A3', 6.45)],
    );
    expect(other.devices.A3.code).toBe('PLUG-9.4');
    expect(other.devices.A3.alternates).toMatchObject([{ code: 'PLUG-8.4', on_shelf: true }]);
  });

  it('orders what one feeder has taken from the stock of another', () => {
    // two coils each, two in stock: A1 uses up those for A2
    const two = [feeder('A1', 6), feeder('A2', 6)];
    expect(planOf([coil(7.5, { inStock: 2 })], two).orderList).toMatchObject([{ count: 2, for: ['A2'] }]);
  });
});

describe('the choice at another calibre', () => {
  /** Code of the device for the calibre from the scan; the surface's own is 6.0 mm too, so that only the shelf decides. */
  const shown = (shelf: ShelfDevice[]) =>
    planOf(shelf, [feeder('A1', 6, { imageCalibreMm: 6 })]).a1.by_image?.code;
  const none = { inStock: 0, leadTimeDays: undefined };
  const onOrder = { inStock: 0 };

  // 8.4 mm is the middle of the window of a plug, 8.1 mm off it
  it.each([
    ['a device in stock before a better one on order', [plug(8.4, onOrder), plug(8.1)], 'PLUG-8.1'],
    ['a device on order before another kind in stock', [plug(8.4, onOrder), coil(7.5)], 'PLUG-8.4'],
    ['another kind in stock before an unavailable device', [plug(8.4, none), coil(7.5)], 'COIL-7.5'],
    ['another kind on order before an unavailable device', [plug(8.4, none), coil(7.5, onOrder)], 'COIL-7.5'],
    ['a device on order before an unavailable one', [plug(8.4, none), plug(8.1, onOrder)], 'PLUG-8.1'],
    ['the best of the unavailable devices', [plug(8.1, none), plug(8.4, none)], 'PLUG-8.4'],
    ['exactly the stock needed', [coil(7.5, { inStock: 2 }), coil(7.4, onOrder)], 'COIL-7.5'],
    ['less stock than needed', [coil(7.4, { inStock: 1 }), coil(7.5, { inStock: 2 })], 'COIL-7.5'],
    [
      'a stock that is not stated',
      [plug(8.4, { ...without('inStock'), leadTimeDays: 3 }), plug(8.1)],
      'PLUG-8.1',
    ],
  ] as [string, ShelfDevice[], string][])('%s', (_, shelf, code) => {
    expect(shown(shelf)).toBe(code);
  });

  it('a calibre or an interval that reaches zero decides nothing', () => {
    const { a1 } = planOf(
      [plug(8.4), plug(3)],
      [feeder('A1', 6, { imageCalibreMm: 0, calibreIntervalMm: [0, 6.2] })],
    );
    expect(a1).not.toHaveProperty('by_image');
    expect(a1).not.toHaveProperty('oversize_interval_percent');
    expect(a1).toMatchObject({ borderline: false });
  });

  it('is given where the surface leaves none', () => {
    const image = planOf([plug(9.4)], [feeder('A1', 6, { imageCalibreMm: 6.7 })]).a1;
    expect(image.borderline_because).toMatch(
      /at 6\.00 mm none by the surface; at 6\.70 mm PLUG-9\.4 .* by the scan/,
    );
    const end = planOf([plug(9.4)], [feeder('A1', 6, { calibreIntervalMm: [5.9, 6.4] })]).a1;
    expect(end.borderline_because).toMatch(/at 5\.90 mm none; at 6\.00 mm none; at 6\.40 mm PLUG-9\.4/);
  });
});

describe('what is refused, and in which order', () => {
  const fitting = (shelf: ShelfDevice[], more: Partial<FitContext> = {}) =>
    judgeShelf({ ...feeder('A', 6), calibreMm: 6 }, context(shelf, more)).fitting;

  it('a size is given with a refusal only for refusals by size', () => {
    const { rejected } = planOf(
      [plug(8.4, { code: 'LONG', lengthMm: 30 }), plug(8.4, { code: 'METAL' }), plug(7, { code: 'SMALL' })],
      [feeder('A1', 6)],
      { allergies: ['nickel'] },
    ).a1;
    const [long, metal] = rejected;
    expect([long.code, metal.code]).toEqual(['LONG', 'METAL']);
    for (const one of rejected) expect(one.why).toMatch(/nickel/);
    for (const one of rejected) expect(one).not.toHaveProperty('size');
    const plain = planOf([plug(8.4, { code: 'LONG', lengthMm: 30 })]).a1.rejected[0];
    expect(plain.why).toMatch(/30 mm long/);
    expect(plain).not.toHaveProperty('size');
  });

  it('of two equal sizes, the first is the nearest', () => {
    const { rejected } = planOf([plug(7.5, { code: 'X' }), plug(7.5, { code: 'Y' }), plug(10)]).a1;
    expect(rejected.map(({ code, size }) => [code, size?.is_nearest])).toEqual([
      ['X', true],
      ['Y', false],
      ['PLUG-10', true],
    ]);
  });

  it('in words: as wide as the vessel, below and above its own range', () => {
    const why = (device: ShelfDevice) => planOf([device]).a1.rejected[0].why;
    expect(why(plug(6))).toContain('6 mm on 6.00 mm is 0.00 % over');
    expect(why(plug(8, { vesselMinMm: 6.5, vesselMaxMm: 7 }))).toContain(
      'the landing calibre is below its vessel range of 6.50 to 7.00 mm',
    );
  });

  it('equally far from the middle: the smaller lumen decides, whichever comes first', () => {
    // 8.1 and 8.7 lie 0.3 mm to either side of 8.4
    const codes = (low: number, high: number): string[] =>
      fitting([plug(8.1, { needsLumenMm: low }), plug(8.7, { needsLumenMm: high })]).map(
        ({ device }) => device.code,
      );
    expect(codes(2, 1)).toEqual(['PLUG-8.7', 'PLUG-8.1']);
    expect(codes(1, 2)).toEqual(['PLUG-8.1', 'PLUG-8.7']);
  });

  it('equal in everything: by the code, in any order of the shelf', () => {
    for (const order of ['ABC', 'CBA', 'BCA', 'ACB']) {
      const shelf = [...order].map((code) => plug(8.4, { code }));
      expect(fitting(shelf).map(({ device }) => device.code)).toEqual(['A', 'B', 'C']);
    }
  });

  it('metal is doubted only under an allergy', () => {
    const doubt = (allergies: string[] | undefined, nickel?: 'no') =>
      fitting([plug(8.4, { nickel })], { allergies })[0].nickelDoubt;
    expect([doubt(undefined), doubt([]), doubt(['latex'])]).toEqual([false, false, false]);
    expect([doubt(['nickel']), doubt(['nickel'], 'no')]).toEqual([true, false]);
  });

  it('a vessel range with only one end counts as the instructions', () => {
    const { rules } = context([]);
    expect(judgeSize(plug(8.4, { vesselMinMm: 5 }), 6, rules).byInstructions).toBe(true);
    expect(judgeSize(plug(8.4, { vesselMaxMm: 7 }), 6, rules).byInstructions).toBe(true);
    expect(judgeSize(plug(8.4), 6, rules).byInstructions).toBe(false);
    expect(() => judgeSize({ ...plug(8.4), kind: 'balloon' as never }, 6, rules)).toThrow(/no window rule/);
  });
});

describe('remarks on a choice', () => {
  const plain = plug(8.4, { lengthMm: 7, needsLumenMm: 1.8, nickel: 'no' });

  it('none on an ordinary one, and none without a shelf', () => {
    expect(planOf([plain]).ids).toEqual([]);
    expect(planOf(undefined).ids).toEqual([]);
    expect(planOf(undefined).a1.borderline).toBe(false);
    expect(planDevices([{ name: 'A1' }], context([plain])).findings).toEqual([]);
  });

  it.each([
    ['no length of the landing zone', [plain], { zoneLengthMm: undefined }, {}, ['zone-length-unknown']],
    [
      'a micro plug without a range',
      [plug(3.2, { kind: 'micro-plug', nickel: 'no' })],
      { calibreMm: 2.6 },
      {},
      ['small-feeder', 'micro-plug-range-unknown'],
    ],
    [
      'a coil without a length',
      [coil(7.5, without('lengthMm'))],
      {},
      {},
      ['coil-recanalisation', 'coil-length-unknown'],
    ],
    ['a coil with a length', [coil(7.5)], {}, {}, ['coil-recanalisation']],
    ['on order', [plug(8.4, { ...plain, inStock: 0 })], {}, {}, ['device-not-on-shelf']],
    ['available on the day', [plain], {}, { plannedDate: '2026-03-20' }, []],
    [
      'one day late',
      [plug(8.4, { ...plain, inStock: 0, leadTimeDays: 1 })],
      {},
      { plannedDate: '2026-03-20' },
      ['device-not-on-shelf', 'device-after-planned-date'],
    ],
    ['no device that fits', [plug(20)], {}, {}, ['no-device-fits']],
  ] as [string, ShelfDevice[], Partial<FeederToClose>, Partial<FitContext>, string[]][])(
    '%s',
    (_, shelf, more, given, ids) => {
      expect(planOf(shelf, [feeder('A1', 6, more)], given).ids).toEqual(ids);
    },
  );

  it('with the advice of the rules, or without it where they have none', () => {
    const { findings, a1 } = planOf([plug(20)]);
    expect(a1.if_none!.length).toBeGreaterThan(20);
    expect(findings[0].text).toBe(`${a1.absent_because}. ${a1.if_none}`);
    const { rules } = context([]);
    const list = rules.list.filter((rule) => rule.kind !== 'advice' || rule.about !== 'if-none');
    const bare = planOf([plug(20)], undefined, { rules: { ...rules, list } });
    expect(bare.a1).not.toHaveProperty('if_none');
    expect(bare.findings[0].text).toBe(`${a1.absent_because}.`);
  });

  it('how many are needed, how many are in stock, and when they arrive', () => {
    const text = (device: ShelfDevice, more: Partial<FitContext> = {}): string =>
      planOf([device], undefined, more).findings.find(({ id }) => id === 'device-not-on-shelf')!.text;
    expect(text(plug(8.4, { inStock: 0, leadTimeDays: 5 }))).toBe(
      'PLUG-8.4: 1 needed, 0 in stock (pieces planned for other feeders count as taken); ordered today it is there by 2026-03-25.',
    );
    expect(text(plug(8.4, { ...without('inStock'), leadTimeDays: 5 }))).toContain(
      '1 needed, the shelf file does not say how many (',
    );
    expect(text(plug(8.4, { inStock: 0, leadTimeDays: undefined }))).toMatch(
      /; the shelf file gives no lead time\.$/,
    );
    expect(text(plug(8.4, { inStock: 0, leadTimeDays: 5 }), { today: undefined })).toMatch(
      /; it takes 5 days and no date is given to count from\.$/,
    );
    expect(text(coil(7.5, { inStock: 0, ...without('lengthMm') }))).toContain('at least 1 needed');
    expect(text(coil(7.5, { inStock: 1 }))).toContain('2 needed, 1 in stock');
  });

  it('what the shelf does not state has no key', () => {
    const bare = planOf([plug(8.4), coil(7.5, without('lengthMm'))]);
    for (const key of ['length_mm', 'needs_lumen_mm', 'packing']) expect(bare.a1).not.toHaveProperty(key);
    expect(bare.a1.alternates[0]).not.toHaveProperty('count');
    const late = planOf([plug(8.4, { inStock: 0, leadTimeDays: undefined })]);
    expect(late.a1).not.toHaveProperty('ready_by');
    expect(late.orderList[0]).not.toHaveProperty('ready_by');
    expect(planOf([coil(7.5, { ...without('lengthMm') })]).a1).not.toHaveProperty('count');
    const sourced = planOf([plug(8.4)]).a1;
    expect(sourced).toMatchObject({ rule: 'window-vascular-plug' });
    expect(sourced.rule_source).toBe(context([]).rules.byId.get('window-vascular-plug')!.source);
  });

  it('the sac next to the packing, where it was measured', () => {
    const note = (sacVolumeMl?: number) =>
      planOf([coil(7.5)], [feeder('A1', 6, { sacVolumeMl })]).a1.packing!.note;
    expect(note(6.14)).toContain('The sac itself, 6.1 mL, is not counted in.');
    expect(note()).not.toContain('The sac');
  });
});
