import { describe, expect, it } from 'vitest';
import type { Case, Lobe, Part } from '../../src/case/case.js';
import { leakTest } from '../../src/resection/leak-test.js';
import { planResection } from '../../src/resection/plan-resection.js';
import { clampRoom } from '../../src/resection/spare-branches.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { rulesOf } from '../../src/rules/rule.js';
import { lesionOf, makeCase, opening, vessel } from './make.js';

const rules = loadRules();
const LOBES: ['left' | 'right', Lobe][] = [
  ['right', 'upper'],
  ['right', 'middle'],
  ['right', 'lower'],
  ['left', 'upper'],
  ['left', 'lingula'],
  ['left', 'lower'],
];
const mesh = { relative: 'a.stl', absolute: 'a.stl' };
const part = (name: string, role: Part['role'], more: Partial<Part> = {}): Part => ({
  name,
  role,
  mesh,
  spare: false,
  path: 'surfaces.parts[0]',
  ...more,
});
const withParts = (parts: Part[], more: Partial<Case> = {}): Case =>
  makeCase({ surfaces: { unit: 'mm', unitMm: 1, frame: 'LPS', parts }, ...more });
const plan = (side: 'left' | 'right' | undefined, lobe: Lobe | undefined, more: Partial<Case> = {}) =>
  planResection({ case: makeCase({ lesion: { side, lobe, segments: [] }, ...more }), rules });
const textOf = (result: ReturnType<typeof planResection>): string =>
  [...result.resection.steps, ...(result.resection.at_stake ?? [])].map((entry) => entry.text).join('\n');

describe('steps of every lobe', () => {
  it.each(LOBES)('%s %s: every stage, in order', (side, lobe) => {
    const { resection } = plan(side, lobe);
    const stages = [...new Set(resection.steps.map((step) => step.stage))];
    const wanted = ['position', 'isolation', 'exploration', 'proximal control'];
    if (lobe === 'lower') wanted.push('ligament');
    wanted.push('artery', 'vein', 'bronchus', 'before closing', 'leak test');
    expect(stages).toEqual(wanted);
    const bronchus = resection.steps.find((step) => step.stage === 'bronchus')?.text ?? '';
    expect(bronchus.indexOf('Test inflation')).toBeGreaterThan(0);
    expect(bronchus.indexOf('Only then staple')).toBeGreaterThan(bronchus.indexOf('Test inflation'));
    for (const stage of ['vein', 'bronchus'])
      expect(resection.steps.filter((step) => step.stage === stage)).toHaveLength(1);
    for (const step of resection.steps) {
      expect(step.source.length).toBeGreaterThan(3);
      expect(step.text).not.toMatch(/[{}]/);
    }
  });

  // Structures at risk by lobe: radiology teaching files (excerpts); lingular vein to the inferior vein 22 of 539.
  it.each([
    [
      'right',
      'upper',
      ['interlobar trunk', 'middle lobe artery (A4, A5)', 'A6', 'middle lobe vein', 'bronchus intermedius'],
    ],
    [
      'right',
      'middle',
      [
        'A6',
        'ascending A2',
        'basal trunk (A7 to A10)',
        'V1 to V3 of the superior vein',
        'lower lobe bronchus and B6',
      ],
    ],
    [
      'right',
      'lower',
      ['middle lobe artery (A4, A5)', 'ascending A2', 'middle lobe vein', 'middle lobe bronchus'],
    ],
    [
      'left',
      'upper',
      ['A6', 'basal trunk (A7+8, A9, A10)', 'inferior pulmonary vein', 'lower lobe bronchus'],
    ],
    [
      'left',
      'lingula',
      [
        'A1+2 and A3',
        'A6',
        'basal trunk (A7+8, A9, A10)',
        'V1+2 and V3 of the superior vein',
        'upper division bronchus',
      ],
    ],
    ['left', 'lower', ['lingular arteries (A4, A5)', 'lingular vein', 'lingular and upper lobe bronchus']],
  ] as const)('%s %s: what is at risk', (side, lobe, names) => {
    expect(plan(side, lobe).resection.at_stake?.map((entry) => entry.name)).toEqual(names);
  });

  it('the left side never mentions a middle lobe, the right never a lingula', () => {
    for (const [side, lobe] of LOBES) {
      expect(textOf(plan(side, lobe))).not.toMatch(side === 'left' ? /middle (lobe|bronchus)/i : /lingul/i);
    }
  });

  it('names the procedure, and refuses a lobe that the side does not have', () => {
    expect(plan('right', 'lower').resection.procedure).toBe('right lower lobectomy');
    expect(plan('left', 'lingula').resection.procedure).toBe('left lingulectomy (segments S4 and S5)');
    for (const [side, lobe] of [
      ['left', 'middle'],
      ['right', 'lingula'],
    ] as const) {
      const { resection, findings } = plan(side, lobe);
      expect(resection.steps).toEqual([]);
      expect(resection.absent_because).toBe(`there is no ${lobe} lobe on the ${side} side`);
      expect(findings.map((entry) => entry.id)).toContain('resection-not-planned');
    }
    expect(plan(undefined, 'lower').resection.absent_because).toMatch(/does not give side and lobe/);
  });
});

describe('conditions', () => {
  const ids = (patientCase: Case, lungFunction = {}): string[] =>
    planResection({ case: patientCase, rules, lungFunction }).resection.steps.map((step) => step.id);

  it('a systemic feeder in the ligament of a lower lobe: listed, not listed, not known', () => {
    const feeder = part('A1', 'feeder');
    expect(ids(withParts([feeder, part('S1', 'systemic-feeder')]))).toContain('step-ligament-systemic');
    expect(ids(withParts([feeder]))).toContain('step-ligament');
    expect(ids(makeCase())).toContain('step-ligament-unknown');
    for (const patientCase of [
      withParts([feeder, part('S1', 'systemic-feeder')]),
      withParts([feeder]),
      makeCase(),
    ]) {
      expect(ids(patientCase).filter((id) => id.startsWith('step-ligament'))).toHaveLength(1);
    }
  });

  it('a systemic feeder of another lobe', () => {
    const lesion = { side: 'right', lobe: 'upper', segments: [] } as const;
    const there = withParts([part('S1', 'systemic-feeder')], { lesion: { ...lesion, segments: [] } });
    expect(ids(there)).toContain('step-systemic-elsewhere');
    expect(ids(there).some((id) => id.startsWith('step-ligament'))).toBe(false);
  });

  it.each([
    ['yes', true],
    ['no', false],
    ['unknown', false],
  ] as const)('pregnant %s', (pregnant, there) => {
    const patientCase = makeCase({ patient: { history: [], hht: {}, spirometry: {}, pregnant } });
    expect(ids(patientCase).includes('step-pregnancy-position')).toBe(there);
  });

  it.each([
    [39.9, 80, true],
    [40, 40, false],
    [80, 39.9, true],
  ])('predicted FEV1 %f, DLCO %f', (fev1Percent, dlcoPercent, there) => {
    expect(ids(makeCase(), { fev1Percent, dlcoPercent }).includes('step-poor-function')).toBe(there);
  });

  it('no one-lung ventilation', () => {
    expect(ids(makeCase({ surgery: { oneLungVentilation: 'no' } }))).toContain('step-isolation-not-possible');
    expect(ids(makeCase({ surgery: { oneLungVentilation: 'yes' } }))).not.toContain(
      'step-isolation-not-possible',
    );
  });

  it('the leak test of the case or of the local protocol', () => {
    const stated = makeCase({ surgery: { leakTest: { cmH2O: 25.5, asWritten: '25 mbar' } } });
    expect(ids(stated)).toContain('step-leak-test');
    const { steps } = planResection({ case: stated, rules }).resection;
    expect(steps.at(-1)?.text).toContain('25.5 cmH2O = 18.8 mmHg for 5 seconds (the case: 25 mbar)');
    expect(ids(makeCase())).toContain('step-leak-test-unstated');
  });
});

describe('branches to keep', () => {
  const branch = part('B1', 'branch', { of: 'A1', spare: true, supplies: 'S8' });
  const measured = (openings: ReturnType<typeof opening>[], more = {}) =>
    lesionOf([vessel('A1', { branches: openings, ...more })]);

  it('distance from the division, in the middle of the landing zone, to the branch', () => {
    const lesion = measured([opening('B1', 14, 18.5)]);
    const { resection } = planResection({ case: withParts([branch]), lesion, rules });
    expect(resection.spare).toEqual([
      {
        name: 'B1',
        supplies: 'S8',
        to_division_mm: 12.5,
        division: 'middle of the landing zone of A1, 31.0 mm from its far end',
      },
    ]);
    expect(resection.steps.find((step) => step.stage === 'exploration')?.see).toBe('sac 6.1 mL, 27 mm long');
    const artery = resection.steps.find((step) => step.id === 'step-artery-left-lower');
    expect(artery?.see).toBe('A1: 6.2 mm; B1 (from A1): 3.0 mm');
  });

  it('zone that starts at the branch: half the zone', () => {
    const { resection } = planResection({
      case: withParts([branch]),
      lesion: measured([opening('B1', 18, 22)]),
      rules,
    });
    expect(resection.spare[0].to_division_mm).toBe(9);
  });

  it('a branch on the sac side of the division would be lost: stop', () => {
    const { resection, findings } = planResection({
      case: withParts([branch]),
      lesion: measured([opening('B1', 31, 34)]),
      rules,
    });
    expect(resection.spare[0].to_division_mm).toBeUndefined();
    expect(findings.find((entry) => entry.id === 'spare-beyond-division')?.level).toBe('stop');
  });

  it.each([
    ['no measurement', undefined, /A1 was not measured/],
    ['no opening', lesionOf([vessel('A1')]), /its opening on A1 was not found/],
    [
      'no landing zone',
      lesionOf([
        vessel('A1', {
          branches: [opening('B1', 1, 2)],
          landing: undefined,
          landingAbsentBecause: 'too short',
        }),
      ]),
      /no landing zone \(too short\)/,
    ],
  ])('absent with a reason: %s', (_, lesion, wanted) => {
    const { resection, findings } = planResection({
      case: withParts([branch]),
      ...(lesion && { lesion }),
      rules,
    });
    expect(resection.spare[0].to_division_absent_because).toMatch(wanted);
    expect(findings.map((entry) => entry.id)).toContain('spare-distance-absent');
  });

  it('without a parent in the case', () => {
    const { resection } = planResection({ case: withParts([part('B1', 'branch', { spare: true })]), rules });
    expect(resection.spare[0].to_division_absent_because).toMatch(/which vessel it leaves/);
  });

  it('branches not to be kept are not listed', () => {
    expect(
      planResection({ case: withParts([part('B2', 'branch', { of: 'A1' })]), rules }).resection.spare,
    ).toEqual([]);
  });

  it('room for two clamps and a cuff: 15 mm before a neck at 44 mm is enough', () => {
    expect(clampRoom(measured([opening('B1', 20, 29)]), rules)).toEqual([]);
  });

  it('room for two clamps: short of 15 mm', () => {
    const findings = clampRoom(measured([opening('B1', 20, 29.01)]), rules);
    expect(findings.map((entry) => [entry.id, entry.where])).toEqual([['clamp-room-short', 'A1']]);
    expect(clampRoom(lesionOf([vessel('A1', { neck: undefined })]), rules)[0].id).toBe('clamp-room-unknown');
    expect(clampRoom(measured([]), rules)).toEqual([]);
  });
});

describe('leak test', () => {
  // 1 mmHg = 1.35951 cmH2O (SI definitions, from memory): 30 mmHg = 40.79, 20 mmHg = 27.19, 40 cmH2O = 29.42 mmHg.
  const judgeLeak = (cmH2O: number, asWritten: string) => {
    const { leakTest: both, findings } = leakTest({ cmH2O, asWritten }, rules);
    return { ...both, ids: findings.map((entry) => entry.id) };
  };
  it.each([
    [40.785, '30 mmHg', ['leak-test-confirm', 'leak-test-unit'], 30.0],
    [27.19, '20 mmHg', ['leak-test-unit'], 20.0],
    [35, '35 cmH2O', ['leak-test-high'], 25.74],
    [30, '30 cmH2O', [], 22.07],
    [30.01, '30.01 cmH2O', ['leak-test-high'], 22.07],
    [40, '40 cmH2O', ['leak-test-high'], 29.42],
    [40.01, '40.01 cmH2O', ['leak-test-confirm'], 29.43],
    [10, '10 cmH2O', [], 7.36],
    [9.99, '9.99 cmH2O', ['leak-test-low'], 7.35],
  ])('%f cmH2O, written %s', (cmH2O, asWritten, ids, mmHg) => {
    const found = judgeLeak(cmH2O, asWritten);
    expect(found.ids).toEqual(ids);
    expect(found.mmhg).toBeCloseTo(mmHg, 1);
  });
  it('asks what was meant', () => {
    expect(judgeLeak(40.785, '30 mmHg').note).toMatch(/was that meant \(30 cmH2O would be 22\.1 mmHg\)/);
    expect(judgeLeak(25, '25 cmH2O').note).toBeUndefined();
  });
});

it('every step and every structure to keep is reached by some lobe above', () => {
  const cases = LOBES.flatMap(([side, lobe]) => [
    makeCase({ lesion: { side, lobe, segments: [] } }),
    withParts([part('S1', 'systemic-feeder')], {
      lesion: { side, lobe, segments: [] },
      surgery: { oneLungVentilation: 'no', leakTest: { cmH2O: 25, asWritten: '25 cmH2O' } },
      patient: { history: [], hht: {}, spirometry: {}, pregnant: 'yes' },
    }),
    withParts([part('A1', 'feeder')], { lesion: { side, lobe, segments: [] } }),
  ]);
  const right = { side: 'right', lobe: 'lower', segments: [] } as const;
  const taken = [['S1', 'S2', 'S3', 'S4', 'S5'], ['S4', 'S5', 'S6', 'S7', 'S8', 'S9', 'S10'], ['S8']];
  for (const segments of taken)
    cases.push(makeCase({ lesion: { ...right, segments: [] }, surgery: { extent: 'segments', segments } }));
  cases.push(
    makeCase({ lesion: { ...right, segments: [] }, surgery: { extent: 'wedge', segments: ['S8'] } }),
  );
  const plans = cases.map(
    (patientCase) => planResection({ case: patientCase, rules, lungFunction: { fev1Percent: 30 } }).resection,
  );
  const steps = new Set(plans.flatMap((entry) => entry.steps.map((step) => step.id)));
  expect(
    rulesOf(rules, 'step')
      .map((rule) => rule.id)
      .filter((id) => !steps.has(id)),
  ).toEqual([]);
});
