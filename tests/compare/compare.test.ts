import { describe, expect, it } from 'vitest';
import { compareResults } from '../../src/compare/compare.js';
import { comparisonJson } from '../../src/compare/comparison-json.js';
import { comparisonText } from '../../src/compare/comparison-text.js';
import { yearsBetween } from '../../src/compare/growth.js';
import { judgeChange } from '../../src/compare/numbers.js';
import type { Result } from '../../src/result/result.generated.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { resultOf } from '../grade/make.js';

const rules = loadRules();
const compare = (change: (result: Result) => void, before: (result: Result) => void = () => {}) =>
  compareResults(resultOf(before), resultOf(change), { rules });

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

  it('years count from the dates alone', () => {
    expect(yearsBetween('2024-01-01', '2028-01-01')).toBeCloseTo(4, 9);
    expect(yearsBetween('2028-01-01', '2024-01-01')).toBeCloseTo(-4, 9);
    expect(yearsBetween('2024-01-01', '2024-01-01')).toBeUndefined();
    expect(yearsBetween(undefined, '2024-01-01')).toBeUndefined();
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
      /device for A1: vascular-plug 8\.0 mm, PLUG-08 to vascular-plug 9\.0 mm, PLUG-09/,
    ],
    [
      'no device',
      (r) => {
        r.devices.A1 = { alternates: [], rejected: [], borderline: false, absent_because: 'nothing fits' };
      },
      /device for A1: .* to none/,
    ],
    [
      'more coils only',
      (r) => {
        r.devices.A1.count = 2;
      },
      undefined,
    ],
    [
      'a later delivery only',
      (r) => void Object.assign(r.devices.A1, { on_shelf: false, ready_by: '2026-05-01' }),
      undefined,
    ],
    [
      'a landing zone lost',
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
      'an order that the intervals do not settle',
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
      'a checklist item that stops',
      (r) => {
        r.checklist[0].level = 'stop';
      },
      /checklist item nickel: caution to stop/,
    ],
    ['a feeder gone', (r) => void delete r.vessels['A2.b'], /A2\.b is no longer seen/],
  ];
  it.each(changed)('%s', (_, change, because) => {
    const comparison = compare(change);
    expect(comparison.verdict).toBe(because ? 'plan changes' : 'plan stands');
    if (because) expect(comparison.because.join('; ')).toMatch(because);
  });

  it('that do not change the plan are listed all the same', () => {
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
      'another side',
      (r: Result) => {
        r.lesion.side = 'right';
      },
      'The side differs: left and right',
    ],
    [
      'another version',
      (r: Result) => {
        r.tool.version = '9.9.9';
      },
      "program's versions differ: 0.0.0 and 9.9.9",
    ],
    [
      'other rules',
      (r: Result) => {
        r.tool.rule_set = 'def';
      },
      'The rule sets differ',
    ],
    [
      'swapped scans',
      (r: Result) => {
        r.scan_date = '2020-01-01';
      },
      'are the two swapped?',
    ],
    ['no date', (r: Result) => void delete r.scan_date, 'A scan date is missing'],
    ['the same files', () => {}, 'the same files, byte for byte'],
  ])('%s', (_, change, text) => {
    expect(notesOf(change)).toContain(text);
  });
  it('no growth where the dates are swapped', () => {
    expect(
      compare((r) => {
        r.scan_date = '2020-01-01';
      }).growth,
    ).toEqual([]);
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
  it('Markdown starts with the verdict, holds every section and no markup from a case', () => {
    const text = comparisonText(grown);
    expect(text).toMatch(/^# Old and new plan: .*\n\n\*\*Verdict: plan changes: /);
    for (const heading of ['Decisions', 'Vessels', 'Growth', 'After treatment', 'Every number', 'Cautions'])
      expect(text).toContain(`\n## ${heading}\n`);
    expect(text).toContain('**Verdict');
    expect(text).not.toContain('<script>');
    expect(text).not.toContain('<b>');
    expect(text).toMatch(
      /landing\.calibre_mm \| +6\.100 mm \(5\.800 to 6\.400\) \| +7\.500 mm \(7\.200 to 7\.800\) \| +\+1\.400 mm \| yes/,
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
