import { describe, expect, it } from 'vitest';
import { compareDecisions, type DecisionChange } from '../../src/compare/decisions.js';
import type { Closure, Device, Result } from '../../src/result/result.generated.js';
import { resultOf } from '../grade/make.js';

type Change = (result: Result) => void;
const same: Change = () => {};
const decisions = (after: Change, before: Change = same): DecisionChange[] =>
  compareDecisions(resultOf(before), resultOf(after));
/** The only decision that changed. */
const only = (after: Change, before?: Change): DecisionChange => {
  const found = decisions(after, before);
  expect(found).toHaveLength(1);
  return found[0];
};

describe('kind and recommendation', () => {
  it('with the reasons of the new plan', () => {
    const simple: Change = (r) =>
      void Object.assign(r.lesion, { kind: 'simple', kind_because: 'one artery' });
    const what = { what: 'kind of lesion', old: 'complex', new: 'simple', changesPlan: true };
    expect(decisions(simple)).toEqual([{ ...what, because: ['one artery'] }]);
    expect(
      decisions((r) => {
        simple(r);
        delete r.lesion.kind_because;
      }),
    ).toEqual([{ ...what, because: [] }]);
    const unstated: Change = (r) => void delete r.lesion.kind;
    expect(only(unstated)).toMatchObject({ old: 'complex', new: 'not stated' });
    expect(only(same, unstated)).toMatchObject({ old: 'not stated', new: 'complex' });
    expect(
      only((r) => void Object.assign(r.readiness, { recommended: 'resect', because: ['one', 'two'] })),
    ).toEqual({
      what: 'recommendation',
      old: 'discuss',
      new: 'resect',
      because: ['one', 'two'],
      changesPlan: true,
    });
  });

  it('kind is not a decision where a plan has no feeder to count', () => {
    const none: Change = (r) => {
      r.lesion.feeders_absent_because = 'all closed';
      delete r.lesion.kind;
    };
    expect(decisions(none)).toEqual([]);
    expect(decisions(same, none)).toEqual([]);
    expect(decisions(none, none)).toEqual([]);
  });
});

describe('landing zones', () => {
  const lost: Change = (r) => {
    delete r.vessels.A1.landing;
    r.vessels.A1.landing_absent_because = 'it tapers';
  };
  it('that appeared or disappeared, with the reason from the plan without one', () => {
    const change = { what: 'landing zone on A1', because: ['it tapers'], changesPlan: true };
    expect(decisions(lost)).toEqual([{ ...change, old: '48.0 mm long', new: 'none' }]);
    expect(decisions(same, lost)).toEqual([{ ...change, old: 'none', new: '48.0 mm long' }]);
    expect(only((r) => void delete r.vessels.A1.landing).because).toEqual([]);
  });

  it('are those of feeders in both plans', () => {
    const onDrain: Change = (r) => {
      r.vessels.V1.landing = r.vessels.A1.landing;
    };
    expect(decisions(onDrain)).toEqual([]);
    expect(decisions((r) => void delete r.vessels.A1)).toEqual([]);
    expect(decisions(same, (r) => void delete r.vessels.A1)).toEqual([]);
    expect(decisions(lost, lost)).toEqual([]);
  });
});

const device =
  (parts: Partial<Device>): Change =>
  (r) =>
    void Object.assign(r.devices.A1, parts);
const both =
  (...changes: Change[]): Change =>
  (r) => {
    for (const change of changes) change(r);
  };

describe('devices', () => {
  it.each<[string, Partial<Device>, string]>([
    ['only another kind', { kind: 'micro-plug' }, 'microvascular plug 8.0 mm, PLUG-08'],
    ['only another code', { code: 'X' }, 'vascular plug 8.0 mm, X'],
    ['only another diameter', { diameter_mm: 9 }, 'vascular plug 9.0 mm, PLUG-08'],
    ['no diameter', { diameter_mm: undefined }, 'vascular plug, PLUG-08'],
    ['no kind', { kind: undefined }, 'device 8.0 mm, PLUG-08'],
    ['none', { code: undefined }, 'none'],
  ])('%s', (_, parts, text) => {
    expect(only(device(parts))).toMatchObject({
      what: 'device for A1',
      old: 'vascular plug 8.0 mm, PLUG-08',
      new: text,
      changesPlan: true,
    });
    expect(only(same, device(parts))).toMatchObject({ old: text, new: 'vascular plug 8.0 mm, PLUG-08' });
  });

  it('of a feeder in only one of the plans do not count as a change of device', () => {
    expect(decisions((r) => void delete r.devices.A1)).toEqual([]);
    expect(decisions(same, (r) => void delete r.devices.A1)).toEqual([]);
  });

  const other = { code: 'PLUG-10', diameter_mm: 10 };
  const calibre =
    (mm: number, interval: [number, number]): Change =>
    (r) =>
      void Object.assign(r.vessels.A1.landing!, { calibre_mm: mm, calibre_interval_mm: interval });
  const shelf =
    (path: string, sha256: string): Change =>
    (r) =>
      void r.inputs.push({ path, sha256: sha256.repeat(64), bytes: 1 });
  it.each<[string, Change, Change, string[]]>([
    [
      'the old one is no longer considered',
      device(other),
      same,
      ['PLUG-08 is not among the devices the new plan looked at'],
    ],
    [
      'the old one is rejected',
      device({
        ...other,
        rejected: [
          { code: 'X', why: 'no' },
          { code: 'PLUG-08', why: 'too small' },
        ],
      }),
      same,
      ['PLUG-08 no longer fits: too small'],
    ],
    [
      'the old one is an alternate',
      device({
        ...other,
        alternates: [
          { code: 'X', kind: 'vascular-plug', diameter_mm: 9, oversize_percent: 40 },
          { code: 'PLUG-08', kind: 'vascular-plug', diameter_mm: 8, oversize_percent: 30 },
        ],
      }),
      same,
      ['PLUG-08 still fits, as an alternate'],
    ],
    ['none fits', device({ code: undefined, absent_because: 'nothing fits' }), same, ['nothing fits']],
    ['none before', same, device({ code: undefined, absent_because: 'nothing fits' }), []],
    [
      'a borderline size',
      both(device({ ...other, borderline_because: 'at the edge' })),
      same,
      ['PLUG-08 is not among the devices the new plan looked at', 'borderline: at the edge'],
    ],
    // 6.1 (5.8 to 6.4) mm to 7: halves of 0.3 and 0.4 make 0.5; 0.9 is beyond
    [
      'a wider vessel',
      both(device({ code: undefined }), calibre(7, [6.6, 7.4])),
      same,
      ['landing calibre 6.10 to 7.00 mm, beyond both intervals'],
    ],
    // 0.4 is within 0.5
    [
      'a slightly wider vessel',
      both(device({ code: undefined }), calibre(6.5, [6.1, 6.9])),
      same,
      ['landing calibre 6.10 to 6.50 mm, inside both intervals: measure again'],
    ],
    [
      'a new shelf file',
      both(device({ code: undefined }), shelf('s.yml', '2')),
      same,
      ['a shelf file was added'],
    ],
    [
      'no longer a shelf file',
      device({ code: undefined }),
      shelf('shelf.yaml', '2'),
      ['no shelf file is given now'],
    ],
    [
      'another shelf file',
      both(device({ code: undefined }), shelf('s.yaml', '3')),
      shelf('s.yaml', '2'),
      ['the shelf file differs'],
    ],
    ['the same shelf file', both(device({ code: undefined }), shelf('s.yaml', '2')), shelf('t.yml', '2'), []],
    ['another mesh', both(device({ code: undefined }), shelf('a.yaml.stl', '2')), same, []],
    [
      'another case file',
      both(device({ code: undefined }), (r) => {
        r.inputs[0].sha256 = '9'.repeat(64);
      }),
      same,
      [],
    ],
    [
      'the vessel is missing now',
      both(device({ code: undefined }), (r) => void delete r.vessels.A1),
      same,
      [],
    ],
    ['the vessel was missing before', device({ code: undefined }), (r) => void delete r.vessels.A1, []],
  ])('another device: %s', (_, after, before, because) => {
    expect(only(after, before).because).toEqual(because);
  });

  it('without a landing zone in one plan, calibre is not the reason', () => {
    const without: Change = (r) => void delete r.vessels.A1.landing;
    for (const [after, before] of [
      [both(device({ code: undefined }), without), same],
      [device({ code: undefined }), without],
    ] as const)
      expect(decisions(after, before).find(({ what }) => what === 'device for A1')?.because).toEqual([]);
  });

  it('more of the same device, with the calibre as the reason', () => {
    const count = { what: 'number of devices for A1', changesPlan: false };
    expect(decisions(device({ count: 3 }))).toEqual([{ ...count, old: '1', new: '3', because: [] }]);
    expect(decisions(device({ count: undefined }))).toEqual([
      { ...count, old: '1', new: 'not stated', because: [] },
    ]);
    expect(only(same, device({ count: undefined }))).toMatchObject({ old: 'not stated', new: '1' });
    expect(only(both(device({ count: 3 }), calibre(7, [6.6, 7.4]))).because).toEqual([
      'landing calibre 6.10 to 7.00 mm, beyond both intervals',
    ]);
    // Another device: its number is not a separate decision.
    expect(only(device({ code: 'X', count: 3 })).what).toBe('device for A1');
  });

  it('on another day, because of the shelf or otherwise of the date', () => {
    const delivery = { what: 'delivery for A1', old: 'on the shelf', changesPlan: false };
    const later = device({ on_shelf: false, ready_by: '2026-05-01' });
    expect(decisions(later)).toEqual([{ ...delivery, new: 'by 2026-05-01', because: [] }]);
    expect(only(device({ on_shelf: false }))).toMatchObject({ new: 'no date' });
    expect(only(device({ ready_by: '2026-05-01' }))).toMatchObject({ new: 'on the shelf' });
    const today =
      (date: string | undefined): Change =>
      (r) => {
        r.today.date = date;
      };
    expect(only(both(later, today('2026-04-01'))).because).toEqual([
      'lead times count from 2026-04-01 instead of 2026-03-20',
    ]);
    expect(only(both(later, today(undefined))).because).toEqual([
      'lead times count from no date instead of 2026-03-20',
    ]);
    expect(only(later, today(undefined)).because).toEqual([
      'lead times count from 2026-03-20 instead of no date',
    ]);
    expect(only(both(later, today('2026-04-01'), shelf('s.yaml', '2'))).because).toEqual([
      'a shelf file was added',
    ]);
    // Another device, or none, has no delivery date of its own.
    expect(only(both(later, device({ code: 'X' }))).what).toBe('device for A1');
    const none = device({ code: undefined });
    expect(decisions(both(none, later), none)).toEqual([]);
  });
});

describe('the order of closure', () => {
  const order =
    (...names: string[]): Change =>
    (r) => {
      r.closure_order = names;
    };
  const alone =
    (name: string, fraction?: number, interval?: [number, number]): Change =>
    (r) =>
      void r.closure.push({
        closed: [name],
        ...(fraction !== undefined && { shunt_fraction: fraction }),
        ...(interval && { intervals: { shunt_fraction: interval } }),
      } as Closure);
  const turned = order('A2.b', 'A1');

  it('changes where the remaining shunts do not overlap', () => {
    expect(decisions(both(turned, alone('A2.b', 0.1, [0.05, 0.15]), alone('A1', 0.2, [0.16, 0.25])))).toEqual(
      [
        {
          what: 'order of closure',
          old: 'A1, A2.b',
          new: 'A2.b, A1',
          because: [
            'closing A2.b alone now leaves a shunt of 10.0 %',
            'closing A1 alone now leaves a shunt of 20.0 %',
          ],
          changesPlan: true,
        },
      ],
    );
  });

  it.each<[string, [number, number] | undefined, [number, number] | undefined, boolean]>([
    ['intervals that touch', [0.05, 0.16], [0.16, 0.25], false],
    ['one within the other', [0.05, 0.3], [0.16, 0.25], false],
    ['separate intervals', [0.05, 0.15], [0.16, 0.25], true],
    ['only one interval', [0.05, 0.15], undefined, true],
    ['no interval', undefined, undefined, true],
  ])('%s', (_, a, b, changesPlan) => {
    const found = only(both(turned, alone('A2.b', undefined, a), alone('A1', undefined, b)));
    expect(found).toMatchObject({
      changesPlan,
      because: changesPlan
        ? []
        : ['the intervals of these feeders overlap: the order is not settled by the numbers'],
    });
  });

  it('is not settled by one missing interval', () => {
    const rotated = both(
      order('A2', 'A3', 'A1'),
      alone('A1', 0.2, [0.1, 0.3]),
      alone('A2', 0.2, [0.1, 0.3]),
      alone('A3'),
    );
    expect(only(rotated, order('A1', 'A2', 'A3')).changesPlan).toBe(false);
  });

  it('counts the feeders in both plans, and of these the ones that swapped places', () => {
    expect(decisions(order('A2.b', 'A1', 'A3'), order('A1', 'B', 'A2.b'))[0]).toMatchObject({
      old: 'A1, A2.b',
      new: 'A2.b, A1',
    });
    expect(decisions(order('A1', 'A3', 'A2.b'))).toEqual([]);
    for (const [after, before] of [
      [(r: Result) => void delete r.closure_order, same],
      [same, (r: Result) => void delete r.closure_order],
    ] as const)
      expect(decisions(after, before)).toEqual([]);
    // A1 stayed first: its interval, far from the others, does not distinguish them
    const far = both(
      alone('A1', 0.9, [0.8, 1]),
      alone('A2', 0.1, [0.05, 0.15]),
      alone('A3', 0.1, [0.1, 0.2]),
      order('A1', 'A3', 'A2'),
    );
    expect(only(far, order('A1', 'A2', 'A3')).changesPlan).toBe(false);
  });

  it('a closure of several, or of the lobe, does not count for one feeder', () => {
    const several: Change = (r) => {
      r.closure = [
        { closed: ['A2.b', 'A1'], shunt_fraction: 0.5 },
        { closed: 'lobe', shunt_fraction: 0.4 },
        { closed: ['A1'], shunt_fraction: 0.2 },
      ];
    };
    expect(only(both(turned, several)).because).toEqual(['closing A1 alone now leaves a shunt of 20.0 %']);
  });
});

describe('readiness', () => {
  it('with what is missing now and what no longer is', () => {
    const missing =
      (ready: boolean, items: string[], by?: string): Change =>
      (r) => {
        r.readiness.plan_a = { ready_today: ready, missing: items, ...(by && { ready_by: by }) };
      };
    expect(decisions(missing(true, ['x']), missing(false, ['x', 'y'], '2026-05-01'))).toEqual([
      {
        what: 'plan A',
        old: 'ready by 2026-05-01',
        new: 'ready today',
        because: ['no longer missing: y'],
        changesPlan: true,
      },
    ]);
    expect(only(missing(false, ['x', 'y']), missing(true, ['x']))).toMatchObject({
      old: 'ready today',
      new: 'not ready',
      because: ['now missing: y'],
    });
    expect(decisions(missing(false, ['x']), missing(false, ['y'], '2026-05-01'))).toEqual([]);
  });
});

describe('stops', () => {
  const finding =
    (id: string, level: 'stop' | 'caution', where: string): Change =>
    (r) =>
      void r.findings.push({ id, level, where, text: `at ${where}` });
  it('are new by id and place', () => {
    expect(decisions(finding('a', 'stop', 'A1'))).toEqual([
      { what: 'finding a', old: 'not there', new: 'stop at A1', because: ['at A1'], changesPlan: true },
    ]);
    expect(decisions(finding('a', 'caution', 'A1'))).toEqual([]);
    expect(decisions(finding('a', 'stop', 'A1'), finding('a', 'stop', 'A1'))).toEqual([]);
    expect(only(finding('a', 'stop', 'A1'), finding('a', 'caution', 'A1')).what).toBe('finding a');
    expect(only(finding('a', 'stop', 'A1'), finding('a', 'stop', 'A2')).new).toBe('stop at A1');
    expect(only(finding('a', 'stop', 'A1'), finding('b', 'stop', 'A1')).what).toBe('finding a');
  });

  it('of the checklist, by what the item was before', () => {
    const item =
      (level: 'stop' | 'ok'): Change =>
      (r) =>
        void r.checklist.push({ id: 'x', level, text: '', because: 'asked', source: '' });
    const stop = { what: 'checklist item x', new: 'stop', because: ['asked'], changesPlan: true };
    expect(decisions(item('stop'))).toEqual([{ ...stop, old: 'not there' }]);
    expect(decisions(item('stop'), item('ok'))).toEqual([{ ...stop, old: 'ok' }]);
    expect(decisions(item('stop'), item('stop'))).toEqual([]);
    expect(decisions(item('ok'))).toEqual([]);
  });
});
