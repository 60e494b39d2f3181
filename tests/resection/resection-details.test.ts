import { describe, expect, it } from 'vitest';
import type { Case, Part } from '../../src/case/case.js';
import type { LesionMeasure } from '../../src/geometry/measure.js';
import { countResection, type ResectionCount } from '../../src/physiology/resection-count.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { leakTest } from '../../src/resection/leak-test.js';
import { lungSparingOffer, sparingFindings, sparingMargin } from '../../src/resection/lung-sparing.js';
import { planResection } from '../../src/resection/plan-resection.js';
import { clampRoom, spareBranches } from '../../src/resection/spare-branches.js';
import { stated, surgeryFacts } from '../../src/resection/surgery-facts.js';
import { lesionOf, makeCase, opening, vessel } from './make.js';

const rules = loadRules();
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
  makeCase({
    lesion: { side: 'right', lobe: 'lower', segments: ['S9'] },
    surfaces: { unit: 'mm', unitMm: 1, frame: 'LPS', parts },
    ...more,
  });
const at = (from: string, to: string, distanceMm: number): LesionMeasure['neighbours'][number] => ({
  from,
  to,
  distanceMm,
  pointsMm: [
    [0, 0, 0],
    [0, 0, distanceMm],
  ],
});
const beside = (...neighbours: LesionMeasure['neighbours']): LesionMeasure => ({
  ...lesionOf([vessel('A1'), vessel('V1', { role: 'drain', landing: undefined })]),
  neighbours,
});
const countOf = (surgery: Case['surgery'], lesion: Partial<Case['lesion']> = {}): ResectionCount => {
  const count = countResection({ side: 'right', lobe: 'lower', segments: ['S9'], ...lesion }, surgery);
  if ('absentBecause' in count) throw new Error(count.absentBecause);
  return count;
};
const SEGMENT = countOf({ extent: 'segments', segments: ['S9'] });
const WEDGE = countOf({ extent: 'wedge', segments: ['S9'] });
const LOBE = countOf({});

describe('the margin of less than a lobe', () => {
  const parts = [
    part('A1', 'feeder', { supplies: 'S9' }),
    part('B1', 'branch', { of: 'A1', spare: true, supplies: 'S8' }),
    part('B2', 'branch', { of: 'A1', spare: true, supplies: 'S9' }),
    part('pleura', 'chest-wall'),
    part('lower lobe', 'lobe'),
    part('heart', 'heart'),
  ];

  it('reports each distance from the sac once, and no other', () => {
    const lesion = beside(
      at('sac', 'B1', 12.34),
      at('sac', 'B2', 3),
      at('A1 landing zone', 'B1', 1),
      at('A1 landing zone', 'pleura', 2),
      at('sac', 'heart', 4),
      at('sac', 'pleura', 9.04),
      at('sac', 'lower lobe', 1.06),
      at('sac', 'nobody', 0.5),
    );
    expect(sparingMargin(withParts(parts), lesion, SEGMENT, rules)).toEqual([
      'The plane between the lesion and S8 lies between the sac and B1, 12.3 mm apart: the margin is smaller than that.',
      'The sac lies 9.0 mm from pleura.',
      'The sac lies 1.1 mm from lower lobe.',
    ]);
  });

  it('says once that there is none: without surfaces, without a lesion and without neighbours', () => {
    for (const [patientCase, lesion] of [
      [makeCase(), beside(at('sac', 'B1', 5))],
      [withParts(parts), undefined],
      [withParts(parts), beside()],
    ] as const) {
      const lines = sparingMargin(patientCase, lesion, SEGMENT, rules);
      expect(lines).toHaveLength(1);
      expect(lines[0]).toMatch(/^No margin/);
    }
  });

  it('marks a wedge by the nearest edge of the lung, and nothing but a wedge', () => {
    const marked = (count: ResectionCount, ...mm: [number, number]): boolean =>
      sparingMargin(
        withParts(parts),
        beside(at('sac', 'pleura', mm[0]), at('sac', 'lower lobe', mm[1])),
        count,
        rules,
      ).some((line) => line.includes('the place is marked'));
    expect([
      marked(WEDGE, 2.5, 9),
      marked(WEDGE, 9, 2.5),
      marked(WEDGE, 2.4, 9),
      marked(WEDGE, 9, 2.4),
    ]).toEqual([true, true, false, false]);
    expect(marked(SEGMENT, 9, 9)).toBe(false);
    expect(sparingMargin(withParts(parts), beside(), WEDGE, rules)).toHaveLength(1);
  });
});

describe('whether less than a lobe is feasible', () => {
  const ids = (patientCase: Case, lesion: LesionMeasure | undefined, count: ResectionCount): string[] =>
    sparingFindings(patientCase, lesion, count, rules).map(({ id, level }) => `${level} ${id}`);
  const held = (
    segments: string[],
    parts: Part[] = [part('pleura', 'chest-wall'), part('lobe', 'lobe')],
  ): Case => withParts(parts, { lesion: { side: 'right', lobe: 'lower', segments } });

  it('a lobe contains what lies in it, and is no wedge', () => {
    expect(ids(held(['S1', 'S9']), undefined, LOBE)).toEqual([]);
    expect(ids(held(['S1', 'S9']), undefined, SEGMENT)).toEqual(['stop resection-misses-lesion']);
    expect(ids(held(['S9']), undefined, SEGMENT)).toEqual([]);
  });

  it('goes by the nearest edge, for the sac and for each feeder', () => {
    const near = (sac: [number, number], zone: [number, number]): string[] =>
      ids(
        held(['S9']),
        beside(
          at('sac', 'pleura', sac[0]),
          at('sac', 'lobe', sac[1]),
          at('A1 landing zone', 'pleura', zone[0]),
          at('A1 landing zone', 'lobe', zone[1]),
          // a place that is not on an edge of the lung; the drain has none there and is not asked about
          at('A1 landing zone', 'heart', 1),
        ),
        WEDGE,
      );
    expect(near([5, 40], [6, 50])).toEqual([]);
    expect(near([40, 5], [50, 6])).toEqual([]);
    expect(near([40, 21], [5, 5])).toEqual(['stop wedge-not-at-edge']);
    expect(near([5, 5], [40, 21])).toEqual(['stop wedge-not-at-edge']);
  });

  it('names what lies deep, with its depth', () => {
    const lesion = beside(at('sac', 'pleura', 33.33), at('A1 landing zone', 'pleura', 44.44));
    const [{ text }] = sparingFindings(held(['S9']), lesion, WEDGE, rules);
    expect(text).toMatch(/^No wedge: the sac lies 33\.3 mm deep, the neck of A1 lies 44\.4 mm deep, /);
  });

  it('cannot be decided without surfaces, without measurements, or without an edge of the lung', () => {
    const unknown = ['caution wedge-edge-unknown'];
    expect(
      ids(makeCase({ lesion: { side: 'right', lobe: 'lower', segments: [] } }), undefined, WEDGE),
    ).toEqual(unknown);
    expect(ids(held(['S9']), undefined, WEDGE)).toEqual(unknown);
    expect(ids(held(['S9'], [part('heart', 'heart')]), beside(at('sac', 'heart', 2)), WEDGE)).toEqual(
      unknown,
    );
  });
});

describe('the offer to spare lung', () => {
  const offer = (predicted: Parameters<typeof lungSparingOffer>[2], segments = ['S9']) =>
    lungSparingOffer(
      withParts([], { lesion: { side: 'right', lobe: 'lower', segments } }),
      LOBE,
      predicted,
      rules,
    );

  it('names each value that falls short, and no other', () => {
    expect(offer({ predicted_fev1_percent: 60, predicted_dlco_percent: 45.55 })!.because).toEqual([
      'FEV1 without the right lower lobe 60.0 %, not above 60 %',
      'DLCO without the right lower lobe 45.5 %, not above 60 %',
    ]);
    expect(offer({ predicted_fev1_percent: 61, predicted_dlco_percent: 45 })!.because).toHaveLength(1);
    expect(offer({ predicted_fev1_percent: 61 })).toBeUndefined();
    expect(offer({})).toBeUndefined();
  });

  it('says why the segments cannot be counted', () => {
    const made = offer({ predicted_fev1_percent: 50 }, ['S12'])!;
    expect(made.absent_because).toMatch(/no segment S12/);
    expect(made.because).toHaveLength(1);
    expect(made).not.toHaveProperty('segments');
  });
});

describe('branches to keep', () => {
  const loose = (leadsTo: string | undefined, branch: string | undefined): LesionMeasure => ({
    ...lesionOf([
      vessel('A1', { branches: [opening('unnamed-1', 12, 15), opening('B1', 18, 20)] }),
      vessel('V1', { role: 'drain', branches: [opening('unnamed-2', 2, 4)] }),
    ]),
    unnamed: { of: 3, ends: [{ pointMm: [0, 0, 0], calibreMm: 3, leadsTo, branch }] },
  });

  it('those of a feeder that nobody named, with their distance', () => {
    // the middle of the landing zone lies at 31 mm
    expect(spareBranches(makeCase(), loose('A1', 'unnamed-1')).spare).toEqual([
      {
        name: 'unnamed-1',
        to_division_mm: 16,
        division: 'middle of the landing zone of A1, 31.0 mm from its far end',
      },
    ]);
    for (const [leadsTo, branch] of [
      ['V1', 'unnamed-2'],
      ['A1', undefined],
      ['A9', 'unnamed-1'],
      [undefined, 'unnamed-1'],
    ] as const)
      expect(spareBranches(makeCase(), loose(leadsTo, branch)).spare).toEqual([]);
  });

  it('one beyond the division: a stop where it is named, a caution where it is not', () => {
    const beyond = (patientCase: Case, name: string) => {
      const lesion = {
        ...lesionOf([vessel('A1', { branches: [opening(name, 31, 34)] })]),
        unnamed: { of: 1, ends: [{ pointMm: [0, 0, 0], calibreMm: 3, leadsTo: 'A1', branch: 'unnamed-1' }] },
      } as LesionMeasure;
      return spareBranches(patientCase, name === 'unnamed-1' ? lesion : { ...lesion, unnamed: undefined });
    };
    const own = beyond(withParts([part('B1', 'branch', { of: 'A1', spare: true })]), 'B1');
    const nobody = beyond(makeCase(), 'unnamed-1');
    for (const [{ findings, spare }, level] of [
      [own, 'stop'],
      [nobody, 'caution'],
    ] as const) {
      expect(findings.map((one) => `${one.level} ${one.id}`)).toEqual([`${level} spare-beyond-division`]);
      expect(spare[0]).toMatchObject({
        to_division_absent_because: 'it leaves on the sac side of the division and would be lost',
        division: 'middle of the landing zone of A1, 31.0 mm from its far end',
      });
      expect(spare[0]).not.toHaveProperty('to_division_mm');
    }
    expect(nobody.findings[0].text).toMatch(/which the case does not name/);
    expect(own.findings[0].text).toMatch(/is to be kept/);
  });

  it('a branch only with its own parent and opening, and nothing for what is not stated', () => {
    const lesion = lesionOf([
      vessel('A2', { branches: [opening('B1', 1, 2)] }),
      vessel('A1', { branches: [opening('B2', 3, 4), opening('B1', 18, 22)] }),
    ]);
    const patientCase = withParts([
      part('A1', 'feeder', { spare: true }),
      part('B1', 'branch', { of: 'A1', spare: true }),
    ]);
    const { spare, findings } = spareBranches(patientCase, lesion);
    expect(spare).toHaveLength(1);
    expect(spare[0]).toMatchObject({ name: 'B1', to_division_mm: 9 });
    expect(spare[0]).not.toHaveProperty('supplies');
    expect(findings).toEqual([]);
    expect(spareBranches(makeCase(), undefined)).toEqual({ spare: [], findings: [] });
  });

  it('room for clamps is required for feeders only', () => {
    const drain = vessel('V1', { role: 'drain', neck: undefined, landing: undefined });
    expect(clampRoom(lesionOf([drain]), rules)).toEqual([]);
    expect(clampRoom(undefined, rules)).toEqual([]);
  });
});

describe('steps', () => {
  const parts = [
    part('A1', 'feeder'),
    part('V1', 'drain'),
    part('B1', 'branch', { of: 'A1' }),
    part('bronchus', 'airway'),
    part('trachea', 'airway'),
  ];
  const lesion = lesionOf([
    vessel('A1', {
      branches: [
        opening('B1', 10, 12),
        opening('B9', 14, 16),
        { ...opening('B8', 2, 4), calibreMm: undefined },
      ],
    }),
    vessel('V1', { role: 'drain', landing: undefined, calibreMm: { min: 6, mean: 7, max: 8 } }),
    vessel('B1', { role: 'branch', landing: undefined, calibreMm: { min: 2, mean: 2.5, max: 3 } }),
  ]);
  const seen = (measured: LesionMeasure | undefined, patientCase = withParts(parts)) =>
    new Map(
      planResection({ case: patientCase, rules, ...(measured && { lesion: measured }) }).resection.steps.map(
        (step) => [step.id, step.see],
      ),
    );

  it('name the structures that they expose, with what was measured of them', () => {
    const steps = seen(lesion);
    const branches = 'B1: 2.5 mm; B9 (from A1): 3.0 mm; B8 (from A1): calibre not measured';
    // feeders and drains by role, branches by their own surface and by their openings, airways by name
    expect([...steps].filter(([, see]) => see !== undefined)).toEqual([
      ['step-look', 'sac 6.1 mL, 27 mm long'],
      ['step-artery-right-lower', `A1: 6.2 mm; ${branches}`],
      ['step-clamp-test', `landing zone of A1: 18.0 mm long; ${branches}`],
      ['step-vein-lower', 'V1: 7.0 mm'],
      ['step-bronchus-right-lower', 'bronchus; trachea'],
      ['step-count-branches', branches],
    ]);
    const { resection } = planResection({ case: withParts(parts), rules, lesion });
    const shows = (id: string) => resection.steps.find((step) => step.id === id)?.shows;
    expect(shows('step-look')).toEqual(['sac']);
    expect(shows('step-clamp-test')).toEqual(['A1', 'B1', 'B9', 'B8']);
    expect(shows('step-bronchus-right-lower')).toEqual(['bronchus', 'trachea']);
    expect(shows('step-isolation')).toBeUndefined();
  });

  it('show nothing that was not measured or is not there', () => {
    expect([...seen(undefined).values()].every((text) => text === undefined)).toBe(true);
    const bare = [...seen({ vessels: [], neighbours: [] }, makeCase()).values()];
    expect(bare.every((text) => text === undefined)).toBe(true);
    const noZone = [
      ...seen(lesionOf([vessel('A1', { landing: undefined })]), withParts([parts[0]])).values(),
    ];
    expect(noZone.join()).not.toContain('landing zone');
    expect(noZone).toContain('A1: 6.2 mm');
  });
});

describe('what is taken', () => {
  const plan = (lesion: Partial<Case['lesion']>, surgery: Case['surgery'] = {}) =>
    planResection({ case: makeCase({ lesion: { segments: [], ...lesion }, surgery }), rules });

  it('the lobe of the case is in the answer, even where there are no steps', () => {
    expect(plan({ side: 'left', lobe: 'lower' }).resection.lobe).toBe('lower');
    expect(plan({ lobe: 'lower' }).resection).toMatchObject({ lobe: 'lower', steps: [] });
    const bare = plan({ side: 'left' }).resection;
    expect(bare).not.toHaveProperty('lobe');
    expect(bare.absent_because).toMatch(/does not give side and lobe/);
  });

  it('what is at risk has a text and a source', () => {
    const { at_stake } = plan({ side: 'left', lobe: 'lower' }).resection;
    expect(at_stake!.length).toBeGreaterThan(2);
    for (const { name, text, source } of at_stake!) {
      const rule = rules.list.find((one) => one.kind === 'keep' && one.name === name && one.text === text);
      expect(rule?.kind === 'keep' && rule.sides.includes('left')).toBe(true);
      expect(source.length).toBeGreaterThan(5);
    }
  });

  it('segments and a wedge need no lobe', () => {
    for (const surgery of [
      { extent: 'segments', segments: ['S9'] },
      { segments: ['S9'] },
      { extent: 'wedge', segments: ['S9'] },
    ] as Case['surgery'][]) {
      const { resection } = plan({ side: 'right' }, surgery);
      expect(resection.steps.length).toBeGreaterThan(5);
      expect(resection).not.toHaveProperty('lobe');
    }
    expect(plan({ side: 'right' }, { extent: 'lobe' }).resection.steps).toEqual([]);
  });

  it('a lobectomy has no findings on less than a lobe', () => {
    const { findings, resection } = plan({ side: 'right', lobe: 'lower', segments: ['S1'] });
    expect(findings).toEqual([]);
    expect(resection).not.toHaveProperty('margin');
  });

  it('two lobes that no defined operation takes together are taken by segments', () => {
    const upperAndLower = ['S1', 'S2', 'S3', 'S6', 'S7', 'S8', 'S9', 'S10'];
    expect(
      plan({ side: 'right' }, { extent: 'segments', segments: upperAndLower }).resection.procedure,
    ).toMatch(/^segmentectomy of S1, S2/);
    const lingulaAndLower = ['S4', 'S5', 'S6', 'S7+8', 'S9', 'S10'];
    expect(
      plan({ side: 'left' }, { extent: 'segments', segments: lingulaAndLower }).resection.procedure,
    ).toMatch(/^segmentectomy of S4, S5/);
    const one = plan({ side: 'right' }, { extent: 'segments', segments: ['S1', 'S2', 'S3', 'S4'] }).resection;
    expect(one.procedure).toBe('segmentectomy of S1, S2, S3, S4, right lung');
  });

  it('the leak test of the case is given in both units with its findings', () => {
    const { resection, findings } = plan(
      { side: 'left', lobe: 'lower' },
      { leakTest: { cmH2O: 35, asWritten: '35 cmH2O' } },
    );
    expect(resection.leak_test).toMatchObject({ cmh2o: 35, mmhg: 25.74 });
    expect(findings.map(({ id }) => id)).toEqual(['leak-test-high']);
    expect(plan({ side: 'left', lobe: 'lower' }).resection).not.toHaveProperty('leak_test');
  });

  it('mmHg is recognised with and without spaces and brackets', () => {
    const asks = (asWritten: string): boolean =>
      leakTest({ cmH2O: 27.19, asWritten }, rules).findings.some(({ id }) => id === 'leak-test-unit');
    expect(['20mmHg', '20 mm Hg', '20 mm[Hg]', '20 mm [Hg]', '27.2 cmH2O'].map(asks)).toEqual([
      true,
      true,
      true,
      true,
      false,
    ]);
  });
});

describe('facts about the operation', () => {
  const place = (lesion: Partial<Case['lesion']>) =>
    surgeryFacts(makeCase({ lesion: { segments: [], ...lesion } }))['lesion.place'];

  it('the location in words, where side and lobe are known', () => {
    expect(place({ side: 'left', lobe: 'lower' })).toBe('left lower lobe');
    expect(place({ side: 'left', lobe: 'lingula' })).toBe('lingula of the left lung');
    expect([place({ side: 'left' }), place({ lobe: 'lower' }), place({})]).toEqual([
      undefined,
      undefined,
      undefined,
    ]);
  });

  it('an answer of unknown is not known', () => {
    expect([stated('yes'), stated('no'), stated('unknown'), stated(undefined)]).toEqual([
      'yes',
      'no',
      undefined,
      undefined,
    ]);
  });
});
