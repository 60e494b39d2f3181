import { describe, expect, it } from 'vitest';
import type { Case } from '../../src/case/case.js';
import type { LesionMeasure, VesselMeasure } from '../../src/geometry/measure.js';
import { assembleResult, type PlanBasis } from '../../src/plan/assemble-result.js';
import { scanWitness } from '../../src/plan/scan-witness.js';
import { plug } from '../devices/make.js';
import { sampleOf } from '../physiology/make.js';
import { landing, lesionOf, makeCase, opening, vessel } from '../resection/make.js';
import { RULES } from './make.js';

// The result puts each measured value under the key of its name and unit, unchanged. Every value here is a different number,
// so that two swapped keys are noticed.

const feeder: VesselMeasure = vessel('A1', {
  centrelineMm: [
    [1, 2, 3],
    [4, 5, 6],
  ],
  lengthMm: 44.1,
  lengthIntervalMm: [43.2, 45.3],
  tortuosity: 1.14,
  calibreMm: { min: 5.15, mean: 6.16, max: 7.17 },
  profile: [
    { atMm: 0.18, equivalentMm: 6.19, minMm: 5.2, maxMm: 6.21, areaMm2: 30.22 },
    { atMm: 1.23, equivalentMm: 6.24, minMm: 5.25, maxMm: 6.26, areaMm2: 31.27, atOpening: true },
  ],
  neck: { atMm: 44.28, pointMm: [7, 8, 9], calibreMm: 6.29 },
  branches: [{ ...opening('B1', 12.3, 15.31), atMm: 13.32, calibreMm: 3.33 }],
  landing: landing({
    fromMm: 22.34,
    toMm: 40.35,
    lengthMm: 18.01,
    calibreMm: 6.36,
    calibreIntervalMm: [5.37, 7.38],
    largestWidthMm: 6.39,
    imageCalibreMm: 6.4,
    imageCalibreIntervalMm: [6.41, 6.42],
    taperPercent: 8.43,
    toSacMm: 3.93,
    toBranchMm: 7.03,
    centreMm: [10, 11, 12],
    view: { laoRaoDeg: -13, cranCaudDeg: 14 },
    viewAbsentBecause: 'a reason',
  }),
  landingAbsentBecause: 'another reason',
  wall: {
    offsetMm: 0.44,
    offsetIntervalMm: [0.15, 0.46],
    stations: [{ atMm: 20.47, surfaceMm: 6.48, imageMm: 6.49 }],
  },
});

const lesion: LesionMeasure = {
  ...lesionOf([feeder, vessel('B1', { role: 'branch', neck: undefined, landing: undefined, lengthMm: 9.5 })]),
  sac: {
    volumeMl: 6.51,
    volumeIntervalMl: [5.52, 7.53],
    surfaceCm2: 17.54,
    longestMm: 27.55,
    longestEndsMm: [
      [0, 0, 0],
      [27, 0, 0],
    ],
    axesMm: [26.56, 22.57, 20.58],
    centreMm: [15, 16, 17],
  },
  neighbours: [
    {
      from: 'sac',
      to: 'heart',
      distanceMm: 3.59,
      pointsMm: [
        [18, 19, 20],
        [21, 22, 23],
      ],
    },
  ],
  unnamed: {
    of: 5,
    ends: [{ pointMm: [24, 25, 26], calibreMm: 2.6, leadsTo: 'A1', atMm: 13.61, branch: 'unnamed-1' }],
  },
  mended: [{ structure: 'sac', point: [27, 28, 29], widthMm: 0.62, lengthMm: 4.63 }],
  leftOut: { pieces: 3, volumeMl: 1.64, share: 0.2165, past: ['A1'] },
};

const mesh = { relative: 'a.stl', absolute: 'a.stl' };
const parts: NonNullable<Case['surfaces']>['parts'] = [
  { name: 'A1', role: 'feeder', mesh, spare: false, arisesFrom: 'A9 of the lower lobe', path: 'p' },
  { name: 'B1', role: 'branch', of: 'A1', mesh, spare: true, supplies: 'S8', path: 'p' },
];

function resultOf(more: Partial<PlanBasis> = {}, patientCase: Partial<Case> = {}) {
  const basis: PlanBasis = {
    case: makeCase({
      id: 'invented',
      title: 'An invented lesion',
      purpose: 'teaching',
      scan: { date: '2026-03-14' },
      lesion: { side: 'right', lobe: 'middle', segments: ['S4'], otherLesions: 'unknown' },
      surfaces: { unit: 'mm', unitMm: 1, frame: 'RAS', parts },
      ...patientCase,
    }),
    lesion,
    rules: RULES,
    findings: [],
    inputs: [],
    version: '7.8.9',
    ...more,
  };
  return assembleResult(basis).result;
}

it('every value of a vessel', () => {
  expect(resultOf().vessels.A1).toEqual({
    role: 'feeder',
    arises_from: 'A9 of the lower lobe',
    length_mm: 44.1,
    length_interval_mm: [43.2, 45.3],
    tortuosity: 1.14,
    calibre_mm: { min: 5.15, mean: 6.16, max: 7.17 },
    profile: [
      { at_mm: 0.18, equivalent_mm: 6.19, min_mm: 5.2, max_mm: 6.21, area_mm2: 30.22 },
      { at_mm: 1.23, equivalent_mm: 6.24, min_mm: 5.25, max_mm: 6.26, area_mm2: 31.27, at_opening: true },
    ],
    neck: { at_mm: 44.28, point_mm: [7, 8, 9], calibre_mm: 6.29 },
    branches: [{ name: 'B1', from_mm: 12.3, to_mm: 15.31, at_mm: 13.32, calibre_mm: 3.33 }],
    landing: {
      from_mm: 22.34,
      to_mm: 40.35,
      length_mm: 18.01,
      calibre_mm: 6.36,
      calibre_interval_mm: [5.37, 7.38],
      largest_width_mm: 6.39,
      image_calibre_mm: 6.4,
      image_calibre_interval_mm: [6.41, 6.42],
      taper_percent: 8.43,
      to_sac_mm: 3.93,
      to_branch_mm: 7.03,
      centre_mm: [10, 11, 12],
      view: { lao_rao_deg: -13, cran_caud_deg: 14 },
      view_absent_because: 'a reason',
    },
    landing_absent_because: 'another reason',
    wall: {
      offset_mm: 0.44,
      offset_interval_mm: [0.15, 0.46],
      stations_used: 1,
      stations: [{ at_mm: 20.47, surface_mm: 6.48, image_mm: 6.49 }],
    },
    centreline_mm: [
      [1, 2, 3],
      [4, 5, 6],
    ],
  });
});

it('what the case says of a vessel', () => {
  const { A1, B1 } = resultOf().vessels;
  expect(B1).toMatchObject({ role: 'branch', of: 'A1', spare: true, supplies: 'S8', length_mm: 9.5 });
  // only a branch can be spared
  expect(A1).not.toHaveProperty('spare');
  // a vessel that should lead to a neck but has none has no length
  const cut = { ...lesion, vessels: [{ ...feeder, neck: undefined }] };
  for (const key of ['length_mm', 'length_interval_mm', 'tortuosity', 'neck'])
    expect(resultOf({ lesion: cut }).vessels.A1).not.toHaveProperty(key);
});

it('every value of the sac', () => {
  expect(resultOf().sac).toEqual({
    volume_ml: 6.51,
    volume_interval_ml: [5.52, 7.53],
    surface_cm2: 17.54,
    longest_mm: 27.55,
    axes_mm: [26.56, 22.57, 20.58],
    centre_mm: [15, 16, 17],
  });
  expect(resultOf({ lesion: { ...lesion, sac: undefined } })).not.toHaveProperty('sac');
});

it('what the surfaces contain besides the vessels', () => {
  const result = resultOf();
  expect(result.neighbours).toEqual([
    {
      from: 'sac',
      to: 'heart',
      distance_mm: 3.59,
      points_mm: [
        [18, 19, 20],
        [21, 22, 23],
      ],
    },
  ]);
  expect(result.unnamed_ends).toEqual({
    count: 1,
    of: 5,
    list: [{ point_mm: [24, 25, 26], calibre_mm: 2.6, leads_to: 'A1', at_mm: 13.61, branch: 'unnamed-1' }],
  });
  expect(result.mended).toEqual([
    { structure: 'sac', point_mm: [27, 28, 29], width_mm: 0.62, length_mm: 4.63 },
  ]);
  expect(result.left_out).toMatchObject({ pieces: 3, volume_ml: 1.64, past: ['A1'] });
  expect(result.left_out?.share_percent).toBeCloseTo(21.65, 10);
  const plain = resultOf({ lesion: { vessels: [], neighbours: [], mended: [] } });
  for (const key of ['mended', 'left_out', 'unnamed_ends']) expect(plain).not.toHaveProperty(key);
});

it('what the case and the command line say', () => {
  const inputs = [{ path: 'a.stl', sha256: '00', bytes: 84 }];
  const result = resultOf(
    { inputs },
    { lesion: { side: 'left', lobe: 'lower', segments: ['S9'], treated: '2025-01-02', otherLesions: 'no' } },
  );
  expect(result).toMatchObject({
    format: 'pavm-result/1',
    case: 'invented',
    title: 'An invented lesion',
    purpose: 'teaching',
    scan_date: '2026-03-14',
    frame_axes: 'RAS',
    tool: { name: 'pavm-planner', version: '7.8.9', rule_set: RULES.hash },
    inputs,
  });
  expect(result.tool).not.toHaveProperty('local_rules');
  expect(result.lesion).toMatchObject({
    side: 'left',
    lobe: 'lower',
    segments: ['S9'],
    treated: '2025-01-02',
    other_lesions: 'no',
    feeder_count: 1,
    drain_count: 0,
    kind: 'simple',
    kind_because: 'one feeding artery',
  });
  expect(result.lesion).not.toHaveProperty('feeders_absent_because');
});

it('structures are counted from the case, or from what was measured where it lists none', () => {
  const drain = vessel('V1', { role: 'drain', landing: undefined });
  const { lesion: counted } = resultOf(
    { lesion: { ...lesion, vessels: [feeder, vessel('A2'), drain] } },
    { surfaces: undefined },
  );
  expect(counted).toMatchObject({ feeder_count: 2, drain_count: 1 });
});

it('the rules of the hospital, file by file', () => {
  const [first, second, third] = RULES.list;
  const local = [
    { ...first, origin: 'ours.yaml' },
    { ...second, origin: 'more.yaml' },
    { ...third, origin: 'ours.yaml' },
  ];
  const rules = { ...RULES, overlay: ['ours.yaml', 'more.yaml'], list: [...local, ...RULES.list.slice(3)] };
  expect(resultOf({ rules }).tool.local_rules).toEqual([
    { file: 'ours.yaml', rules: [first.id, third.id] },
    { file: 'more.yaml', rules: [second.id] },
  ]);
});

it('today is the option, otherwise the date of the shelf, otherwise of the scan', () => {
  const shelf = { devices: [], asOf: '2026-03-20' };
  expect(resultOf({ shelf, todayOption: '2026-04-01' }).today).toEqual({
    date: '2026-04-01',
    from: 'option',
  });
  expect(resultOf({ shelf }).today).toEqual({ date: '2026-03-20', from: 'shelf' });
  expect(resultOf({ shelf: { devices: [] } }).today).toEqual({ date: '2026-03-14', from: 'scan' });
  expect(resultOf({}, { scan: {} }).today).toEqual({ from: 'unknown' });
});

it('what the pressures say', () => {
  // (40 - 10) / 5 = 6 Wood units; the shunt from the gases leaves (1 - f) of the output to the normal bed
  const result = resultOf(
    {},
    {
      circulation: { meanPaPressureMmHg: 40, wedgePressureMmHg: 10, cardiacOutputLMin: 5 },
      blood: { haemoglobinGDl: 15 },
      gases: [sampleOf({ po2MmHg: 150 })],
    },
  );
  const { fraction, interval } = result.shunt!;
  expect(fraction).toBeGreaterThan(0.1);
  const pressure = result.pulmonary_pressure!;
  expect(pressure).toMatchObject({ reading: 'severe', class: 'pre-capillary' });
  expect(pressure.resistance_wu).toBeCloseTo(6, 2);
  expect(pressure.bed_resistance_wu).toBeCloseTo(6 / (1 - fraction!), 2);
  expect(pressure.bed_resistance_interval_wu![0]).toBeCloseTo(6 / (1 - interval![0]), 2);
  expect(pressure.bed_resistance_interval_wu![1]).toBeCloseTo(6 / (1 - interval![1]), 2);
  expect(pressure.text).toContain('40 mmHg');
  expect(resultOf()).not.toHaveProperty('pulmonary_pressure');
});

describe('inputs are passed on', () => {
  it('findings once each, including those of surfaces and of the print', () => {
    const own = { id: 'open-surface', level: 'caution', where: 'sac', text: 'One.' } as const;
    const other = { ...own, text: 'Two.' };
    const { findings } = resultOf({ findings: [own, own], printFindings: [other] });
    expect(findings.filter(({ id }) => id === 'open-surface')).toEqual([own, other]);
  });

  it('the print, or why there is none', () => {
    expect(resultOf({ printAbsentBecause: 'too much work' }).print_absent_because).toBe('too much work');
    expect(resultOf()).not.toHaveProperty('print');
  });

  it('the shelf: a device for the landing zone, out of stock with its lead time', () => {
    const shelf = { asOf: '2026-03-20', devices: [plug(9, { inStock: 0, leadTimeDays: 5 })] };
    const result = resultOf({ shelf }, { planned: { approach: 'auto', date: '2026-03-21' } });
    expect(result.devices.A1).toMatchObject({ diameter_mm: 9, on_shelf: false, ready_by: '2026-03-25' });
    expect(result.findings.map(({ id }) => id)).toContain('device-after-planned-date');
  });

  it('no landing zone, and one in a flare', () => {
    const vessels = [
      vessel('A1', { landing: undefined, landingAbsentBecause: 'it is short' }),
      vessel('A2', { landing: landing({ inFlare: true, taperPercent: 17.4 }) }),
    ];
    const said = resultOf({ lesion: { ...lesion, vessels } }).findings;
    expect(said).toContainEqual(
      expect.objectContaining({ id: 'landing-zone-absent', level: 'caution', where: 'A1' }),
    );
    const flare = said.filter(({ id }) => id === 'landing-in-flare');
    expect(flare.map(({ where }) => where)).toEqual(['A2']);
    expect(flare[0].text).toContain('tapers by 17 %');
  });

  it('a feeder wider than the vein is doubted, unless the scan is from after a treatment', () => {
    const calibre = (mean: number) => ({ calibreMm: { min: mean, mean, max: mean } });
    const vessels = [vessel('A1', calibre(7)), vessel('V1', { role: 'drain', ...calibre(5.6) })];
    const doubts = (patientCase?: Partial<Case>) =>
      resultOf({ lesion: { ...lesion, vessels } }, patientCase)
        .findings.filter(({ id }) => id === 'feeder-wider-than-drain')
        .map(({ where }) => where);
    expect(doubts()).toEqual(['A1']);
    const treated = { side: 'left' as const, segments: [], treated: '2025-01-02' };
    expect(doubts({ lesion: treated, scan: { date: '2025-01-01' }, gases: [] })).toEqual(['A1']);
    expect(doubts({ lesion: treated, scan: { date: '2025-07-01' }, gases: [] })).toEqual([]);
  });

  it('a treated lesion without an open feeder has no closure rows and says why', () => {
    const drains = [{ name: 'V1', role: 'drain' as const, mesh, spare: false, path: 'p' }];
    const result = resultOf(
      { lesion: { ...lesion, vessels: [] } },
      {
        lesion: { side: 'left', lobe: 'lower', segments: [], treated: '2025-01-02' },
        surfaces: { unit: 'mm', unitMm: 1, frame: 'RAS', parts: drains },
      },
    );
    expect(result.closure).toEqual([]);
    expect(result.lesion.feeders_absent_because).toMatch(/no feeding artery is open/);
    expect(result.lesion).toMatchObject({ feeder_count: 0, drain_count: 1 });
  });
});

describe('the scan', () => {
  const missed = {
    kind: 'feeder-candidate' as const,
    pointMm: [1, 2, 3] as [number, number, number],
    calibreMm: 3,
    lengthMm: 21,
    joins: 'A1',
    joinsAtMm: 12,
    leadsToMm: [4, 5, 6] as [number, number, number],
    endMm: [7, 8, 9] as [number, number, number],
  };

  it('what a missed feeder could carry: by hand for two named feeders', () => {
    // calibres 6 (landing) and 4 (mean of a feeder without zone) mm; the drain does not count
    const measure = {
      vessels: [
        vessel('A1', { landing: landing({ calibreMm: 6 }) }),
        vessel('A2', { landing: undefined, calibreMm: { min: 3, mean: 4, max: 5 } }),
        vessel('V1', { role: 'drain', landing: landing({ calibreMm: 12 }) }),
      ],
      neighbours: [],
    };
    const [row, side] = scanWitness({
      lesion: measure,
      missed: [missed, { ...missed, kind: 'side-branch' }] as Parameters<typeof scanWitness>[0]['missed'],
    }).missed!;
    // 27/(27 + 216 + 64) and 81/(81 + 1296 + 256)
    expect(row.could_carry_percent).toEqual([5, 8.8]);
    expect(side).not.toHaveProperty('could_carry_percent');
    expect(row).toMatchObject({
      kind: 'feeder-candidate',
      point_mm: [1, 2, 3],
      calibre_mm: 3,
      length_mm: 21,
      joins: 'A1',
      joins_at_mm: 12,
      leads_to_mm: [4, 5, 6],
      end_mm: [7, 8, 9],
    });
    const alone = scanWitness({ lesion: { vessels: [], neighbours: [] }, missed: [missed] as never }).missed!;
    expect(alone[0].could_carry_percent).toBeUndefined();
  });

  it('what is not opacified; nothing where nobody looked', () => {
    expect(
      scanWitness({
        lesion,
        uncontrasted: [{ where: 'sac', volumeMl: 0.5, pointMm: [1, 2, 3] }] as never,
      }),
    ).toEqual({ missed: undefined, uncontrasted: [{ where: 'sac', volume_ml: 0.5, point_mm: [1, 2, 3] }] });
  });
});
