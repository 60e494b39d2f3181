import { describe, expect, it } from 'vitest';
import { compareResults } from '../../src/compare/compare.js';
import { verdictLine } from '../../src/compare/verdict.js';
import { comparisonJson } from '../../src/compare/comparison-json.js';
import { comparisonText } from '../../src/compare/comparison-text.js';
import { yearsBetween } from '../../src/compare/growth.js';
import { numberWords } from '../../src/compare/number-words.js';
import { judgeChange } from '../../src/compare/numbers.js';
import type { Result } from '../../src/result/result.generated.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { resultOf } from '../grade/make.js';

const rules = loadRules();
/** Two synthetic results of two case files. */
const compare = (change: (result: Result) => void, before: (result: Result) => void = () => {}) =>
  compareResults(
    resultOf(before),
    resultOf((r) => {
      r.inputs[0].sha256 = '1'.repeat(64);
      change(r);
    }),
    { rules },
  );

describe('a change against two intervals', () => {
  // JCGM 100:2008, 5.1.2: independent errors combine as the root of the sum of squares; by hand: hypot(0.3, 0.4) = 0.5
  it.each([
    [6, 6.49, [5.7, 6.3], [6.09, 6.89], false, 0.5],
    [6, 6.51, [5.7, 6.3], [6.11, 6.91], true, 0.5],
    [6, 5.4, [5.7, 6.9], [4.6, 5.8], true, 0.5],
    [6, 6, [5, 7], [5, 7], false, Math.SQRT2],
  ] as [number, number, [number, number], [number, number], boolean, number][])(
    '%d to %d: facing half-widths combine',
    (old, now, a, b, exceeds, combined) => {
      const judged = judgeChange(old, now, a, b);
      expect(judged.exceeds).toBe(exceeds);
      expect(judged.combined).toBeCloseTo(combined, 9);
    },
  );

  it('is not judged without both intervals', () => {
    expect(judgeChange(1, 2, [0, 2])).toEqual({ change: 1 });
  });

  it('years are counted from the dates alone', () => {
    expect(yearsBetween('2024-01-01', '2028-01-01')).toBeCloseTo(4, 9);
    expect(yearsBetween('2028-01-01', '2024-01-01')).toBeCloseTo(-4, 9);
    expect(yearsBetween('2024-01-01', '2024-01-01')).toBeUndefined();
    expect(yearsBetween(undefined, '2024-01-01')).toBeUndefined();
  });
});

describe('vessels outside all surfaces', () => {
  const missed =
    (...kinds: NonNullable<Result['missed']>[number]['kind'][]) =>
    (result: Result) => {
      result.missed = kinds.map((kind, i) => ({
        kind,
        point_mm: [0, 0, 0],
        leads_to_mm: [9, 0, 0],
        calibre_mm: 3 + i,
        length_mm: 9,
        joins: 'sac',
      }));
    };
  it('are reported with the verdict, for either scan; side branches are not', () => {
    const found = compare(missed('feeder-candidate', 'side-branch', 'unclear'));
    expect(found.verdict).toBe('plan stands');
    expect(found.because).toEqual([
      'caution: the new scan shows 2 opacified vessels that lie in no surface of its plan and may feed the lesion (3.0 mm wide, joining the sac; 5.0 mm wide, joining the sac); not compared',
    ]);
    expect(compare(() => {}, missed('unclear')).because).toEqual([
      'caution: the old scan shows an opacified vessel that lies in no surface of its plan and may feed the lesion (3.0 mm wide, joining the sac); not compared',
    ]);
    expect(compare(missed('side-branch'), missed()).because).toEqual([]);
  });
});

describe('decisions', () => {
  const changed: [string, (result: Result) => void, RegExp | undefined][] = [
    ['nothing', () => {}, undefined],
    [
      'the kind of lesion',
      (r) => {
        r.lesion.kind = 'simple';
      },
      /kind of lesion: complex to simple/,
    ],
    [
      'a device of another size',
      (r) => void Object.assign(r.devices.A1, { code: 'PLUG-09', diameter_mm: 9 }),
      /device for A1: vascular plug 8\.0 mm, PLUG-08 to vascular plug 9\.0 mm, PLUG-09/,
    ],
    [
      'no device',
      (r) => {
        r.devices.A1 = { alternates: [], rejected: [], borderline: false, absent_because: 'nothing fits' };
      },
      /device for A1: .* to none/,
    ],
    [
      'only more coils',
      (r) => {
        r.devices.A1.count = 2;
      },
      undefined,
    ],
    [
      'only a later delivery',
      (r) => void Object.assign(r.devices.A1, { on_shelf: false, ready_by: '2026-05-01' }),
      undefined,
    ],
    [
      'a lost landing zone',
      (r) => void delete r.vessels.A1.landing,
      /landing zone on A1: 48\.0 mm long to none/,
    ],
    [
      'plan A ready',
      (r) => void Object.assign(r.readiness.plan_a, { ready_today: true, missing: [] }),
      /plan A: not ready to ready today/,
    ],
    [
      'plan B not ready',
      (r) => {
        r.readiness.plan_b.ready_today = false;
      },
      /plan B: ready today to not ready/,
    ],
    [
      'the recommendation',
      (r) => {
        r.readiness.recommended = 'resect';
      },
      /recommendation: discuss to resect/,
    ],
    [
      'the order of closure',
      (r) => void r.closure_order?.reverse(),
      /order of closure: A1, A2\.b to A2\.b, A1/,
    ],
    [
      'an order that the intervals leave open',
      (r) => {
        r.closure_order?.reverse();
        for (const name of ['A1', 'A2.b'])
          r.closure.push({ closed: [name], shunt_fraction: 0.2, intervals: { shunt_fraction: [0.1, 0.3] } });
      },
      undefined,
    ],
    [
      'a new stop',
      (r) => void r.findings.push({ id: 'open-wall', level: 'stop', where: 'sac', text: 'a hole' }),
      /finding open-wall: not there to stop at sac/,
    ],
    [
      'a checklist item that becomes a stop',
      (r) => {
        r.checklist[0].level = 'stop';
      },
      /checklist item nickel: caution to stop/,
    ],
    [
      'a missing feeder',
      (r) => {
        delete r.vessels['A2.b'];
        r.lesion.feeder_count = 1;
      },
      /A2\.b is no longer seen/,
    ],
    [
      'a named feeder without measurements',
      (r) => void delete r.vessels['A2.b'],
      /A2\.b may be a feeder of the new case that could not be measured/,
    ],
  ];
  it.each(changed)('%s', (_, change, because) => {
    const comparison = compare(change);
    expect(comparison.verdict).toBe(because ? 'plan changes' : 'plan stands');
    if (because) expect(comparison.because.join('; ')).toMatch(because);
  });

  it('that do not change the plan are still listed', () => {
    const later = compare(
      (r) => void Object.assign(r.devices.A1, { on_shelf: false, ready_by: '2026-05-01' }),
    );
    expect(later.decisions).toMatchObject([
      { what: 'delivery for A1', old: 'on the shelf', new: 'by 2026-05-01' },
    ]);
  });
});

describe('notes', () => {
  const notesOf = (change: (result: Result) => void) => compare(change).notes.join('\n');
  it.each([
    [
      'another case',
      (r: Result) => {
        r.case = 'other';
      },
      'The case ids differ: invented and other',
    ],
    [
      'another version',
      (r: Result) => {
        r.tool.version = '9.9.9';
      },
      "program's versions differ: 0.0.0 and 9.9.9",
    ],
    [
      'different rules',
      (r: Result) => {
        r.tool.rule_set = 'def';
      },
      'The rule sets differ',
    ],
    ['no date', (r: Result) => void delete r.scan_date, 'A scan date is missing'],
  ])('%s', (_, change, text) => {
    expect(notesOf(change)).toContain(text);
  });
  it.each([
    [
      'the other side',
      (r: Result) => {
        r.lesion.side = 'right';
      },
      'plan stands, unchanged; caution: the side differs, left and right: these may be two lesions',
    ],
    [
      'swapped scans',
      (r: Result) => {
        r.scan_date = '2020-01-01';
      },
      'plan stands, unchanged; caution: the old scan is later than the new one: are the two swapped?',
    ],
    [
      'the same files',
      (r: Result) => {
        r.inputs = resultOf().inputs;
      },
      'plan stands, unchanged; caution: both plans use the same files, byte for byte',
    ],
  ])('%s: reported with the verdict', (_, change, line) => {
    expect(verdictLine(compare(change))).toBe(line);
  });
  it('no growth where the dates are swapped', () => {
    expect(
      compare((r) => {
        r.scan_date = '2020-01-01';
      }).growth,
    ).toEqual([]);
  });
});

describe('the device of the old plan on the new scan', () => {
  // by hand: 8 mm on 6.1 mm is 31.1 % over, on 6.3 mm 27.0 %, on 5.8 mm 37.9 %; the window of a plug is 30 to 50 %
  const onCalibre = (calibreMm: number, interval?: [number, number]) =>
    compare(
      (r) => {
        r.vessels.A1.landing!.calibre_mm = calibreMm;
      },
      (r) => {
        r.devices.A1.rule = 'window-vascular-plug';
        if (interval) r.devices.A1.oversize_interval_percent = interval;
      },
    );
  it('that left its window changes the plan', () => {
    const { verdict, because, oversize } = onCalibre(6.3);
    expect(verdict).toBe('plan changes');
    expect(because).toEqual([
      'PLUG-08, chosen for A1, is 27.0 % over the calibre on the new scan, outside its window of 30.0 to 50.0 %',
    ]);
    expect(oversize).toMatchObject([{ left: 'window', oldPercent: 31 }]);
  });
  it('that left only its interval is a caution', () => {
    const { verdict, because } = onCalibre(5.8, [25, 36]);
    expect([verdict, because]).toEqual([
      'plan stands',
      [
        'caution: PLUG-08, chosen for A1, is 37.9 % over the calibre on the new scan, outside the interval of the old plan, 25.0 to 36.0 %',
      ],
    ]);
  });
  it.each([
    [8 / 1.3, 'just inside the window'],
    [8 / 1.5, 'at the other end of the window'],
  ])('on %d mm, %s: reports nothing', (calibreMm) => {
    expect(onCalibre(calibreMm).because).toEqual([]);
  });
});

describe('working views', () => {
  const turnedBy = (deg: number, of: 'lao_rao_deg' | 'cran_caud_deg' = 'lao_rao_deg') => {
    const view = { lao_rao_deg: 20, cran_caud_deg: 0 };
    return compare(
      (r) => {
        r.vessels.A1.landing!.view = { ...view, [of]: view[of] + deg };
      },
      (r) => {
        r.vessels.A1.landing!.view = view;
      },
    );
  };
  it.each(['lao_rao_deg', 'cran_caud_deg'] as const)('beyond 10 degrees of %s are a caution', (of) => {
    expect(turnedBy(10, of).decisions).toEqual([]);
    const { verdict, because, decisions } = turnedBy(10.5, of);
    expect([verdict, decisions.length]).toEqual(['plan stands', 1]);
    expect(because[0]).toMatch(
      /^caution: the working view for A1 turned by 1[01]°, from LAO 20°, cranial 0°/,
    );
  });
  it('that disappeared are a caution', () => {
    const gone = compare(
      (r) => {
        r.vessels.A1.landing!.view_absent_because = 'no axes';
      },
      (r) => {
        r.vessels.A1.landing!.view = { lao_rao_deg: -20, cran_caud_deg: 5 };
      },
    );
    expect(gone.because).toEqual(['caution: working view for A1: RAO 20°, cranial 5° to none']);
  });
});

describe('shunts', () => {
  it('found by one method are compared', () => {
    expect(
      compare((r) => {
        r.shunt!.fraction = 0.4;
        r.shunt!.interval = [0.37, 0.43];
      }).shuntTrend,
    ).toBe(
      'Share of the output: 31.0 % (28.0 to 34.0) before treatment in the old plan, 40.0 % (37.0 to 43.0) before treatment in the new one: 9.0 points higher, beyond both intervals.',
    );
  });
  it('found by different methods give no trend, and neither does the closure based on them', () => {
    const other = compare((r) => {
      r.shunt!.method = 'room-air';
      r.shunt!.fraction = 0.5;
      r.closure[0].shunt_fraction = 0.2;
    });
    expect(other.shuntTrend).toContain(
      'No trend: the shunts were found by different methods (content and room-air)',
    );
    for (const path of ['shunt.fraction', 'closure.A1+A2.b.shunt_fraction']) {
      const row = other.numbers.find((one) => one.path === path);
      expect(row?.noTrendBecause).toContain('different methods');
      expect(row?.change).toBeUndefined();
    }
    expect(comparisonText(other)).toMatch(
      /shunt before treatment: share of the output +\| .* \| other method/,
    );
  });
});

describe('numbers in words', () => {
  // chosen by hand from the keys of the result
  it.each([
    [['vessels', 'A1', 'landing', 'calibre_mm'], 'A1, landing zone: calibre'],
    [['vessels', 'landing', 'calibre_mm', 'mean'], 'landing: mean calibre'],
    [['sac', 'axes_mm', '2'], 'sac: shortest axis'],
    [['closure', 'A1+A2+A3', 'so2_room_air_percent'], 'after closing A1, A2 and A3: saturation on room air'],
    [['closure', 'A1@50%', 'shunt_fraction'], 'after closing A1 to 50 %: shunt'],
    [
      ['closure', 'lobe', 'remaining', 'A2', 'flow_l_min'],
      'after removing the lobe, what is left in A2: flow',
    ],
    [['neighbours', 'sac and B1', 'distance_mm'], 'between sac and B1: least distance'],
    [['devices', 'A1', 'window_mm', '0'], 'device for A1: smallest diameter asked for'],
    [['shunt_change', 'change'], 'change of the shunt'],
    [['lesion', 'feeder_count'], 'number of feeding arteries'],
    [['some_new_part', 'width_mm'], 'some new part: width'],
  ])('%j: %s', (labels, words) => {
    expect(numberWords(labels)).toBe(words);
  });
});

describe('names', () => {
  it('of a renamed vessel are followed in findings, so that an old stop is not a new one', () => {
    const stop = (where: string) => ({ id: 'open-wall', level: 'stop' as const, where, text: 'a hole' });
    const { verdict, decisions } = compare(
      (r) => {
        r.vessels = { upper: r.vessels.A1, 'A2.b': r.vessels['A2.b'], V1: r.vessels.V1 };
        r.devices = { upper: r.devices.A1 };
        r.closure_order = ['upper', 'A2.b'];
        r.findings.push(stop('upper'));
      },
      (r) => void r.findings.push(stop('A1')),
    );
    expect([verdict, decisions]).toEqual(['plan stands', []]);
  });
});

describe('documents', () => {
  const grown = compare((r) => {
    r.scan_date = '2027-03-14';
    r.title = '<script>alert(1)</script> | x';
    r.vessels.A1.landing!.calibre_mm = 7.5;
    r.vessels.A1.landing!.calibre_interval_mm = [7.2, 7.8];
    r.vessels['<b>'] = { ...r.vessels['A2.b'] };
  });
  it('Markdown starts with the verdict, and contains every section and no markup from a case', () => {
    const text = comparisonText(grown);
    expect(text).toMatch(/^# Old and new plan: .*\n\n\*\*Verdict: plan changes: /);
    for (const heading of [
      'Decisions',
      'Vessels',
      'Growth',
      'Shunt',
      'After treatment',
      'Every number',
      'Cautions',
    ])
      expect(text).toContain(`\n## ${heading}\n`);
    expect(text).toContain('**Verdict');
    expect(text).not.toContain('<script>');
    expect(text).not.toContain('<b>');
    expect(text).toMatch(
      /A1, landing zone: calibre \| +6\.10 mm \(5\.80 to 6\.40\) \| +7\.50 mm \(7\.20 to 7\.80\) \| +\+1\.40 mm \| yes/,
    );
    expect(comparisonText(grown)).toBe(text);
  });
  it('JSON has snake case keys and is stable', () => {
    const json = comparisonJson(grown);
    expect(JSON.parse(json)).toMatchObject({
      format: 'pavm-compare/1',
      verdict: 'plan changes',
      course: 'untreated',
    });
    expect(Object.keys(JSON.parse(json).old)).toEqual(['case', 'title', 'scan_date', 'version', 'rule_set']);
    expect(json).not.toMatch(/[a-z][A-Z]\w*":/);
  });
});
