import { describe, expect, it } from 'vitest';
import type { Case, Shelf } from '../../src/case/case.js';
import { examinePatient, type PatientFile } from '../../src/case/parse-patient.js';
import { allDevices } from '../../src/patient/all-lesions.js';
import { assemblePatient } from '../../src/patient/assemble-patient.js';
import type { LesionPlan, PatientBasis } from '../../src/patient/patient-basis.js';
import { assembleResult } from '../../src/plan/assemble-result.js';
import { checkPatientResult } from '../../src/report/result-check.js';
import type { PatientResult } from '../../src/result/patient-result.js';
import { plug } from '../devices/make.js';
import { RULES, sampleOf, vesselOf } from '../physiology/make.js';
import { landing, lesionOf, makeCase } from '../resection/make.js';

// Two synthetic lesions: A1 of 6 mm and A2 of 4 mm in the left lower lobe, A1 of 5 mm in the right middle lobe, all tubes of
// 60 mm. By Poiseuille's law they carry flow as d^4, by Murray's as d^3.

const TODAY = '2026-03-20';
const BY_POISEUILLE = [1296 / 2177, 256 / 2177, 625 / 2177];
const BY_MURRAY = [216 / 405, 64 / 405, 125 / 405];

const PATIENT: Partial<Case> = {
  patient: { history: [], hht: {}, spirometry: { fev1Percent: 88, dlcoPercent: 74 } },
  blood: { haemoglobinGDl: 15 },
  gases: [sampleOf({ po2MmHg: 118 })],
  circulation: { cardiacOutputLMin: 6, meanPaPressureMmHg: 16, wedgePressureMmHg: 8 },
};
const SHELF: Shelf = { devices: [plug(8, { inStock: 1 }), plug(6, { inStock: 1 }), plug(7, { inStock: 0 })] };

/** A planned lesion with straight feeders; calibres in mm. */
function lesionOfTubes(id: string, calibresMm: readonly number[], given: Partial<Case>): LesionPlan {
  const vessels = calibresMm.map((calibreMm, i) => ({
    ...vesselOf(`A${i + 1}`, 60, calibreMm),
    landing: landing({ calibreMm, calibreIntervalMm: [calibreMm - 0.1, calibreMm + 0.1] }),
  }));
  const lesion = lesionOf(vessels);
  const patientCase = makeCase({ ...PATIENT, id, ...given });
  const basis = { case: patientCase, lesion, rules: RULES, findings: [], inputs: [], version: '7.8.9' };
  return { id, file: `${id}/case.yaml`, case: patientCase, lesion, result: assembleResult(basis).result };
}

const left = lesionOfTubes('left', [6, 4], {
  title: 'The left one',
  lesion: { side: 'left', lobe: 'lower', segments: ['S9'] },
});
const right = lesionOfTubes('right', [5], {
  lesion: { side: 'right', lobe: 'middle', segments: [] },
  surgery: { obstructedSegments: ['S1'], extent: 'segments', segments: ['S4'] },
});
const TREATED = '2025-06-12';
const treated = lesionOfTubes('treated', [3], {
  lesion: { side: 'right', lobe: 'upper', segments: ['S2'], treated: TREATED },
  surfaces: { unit: 'mm', unitMm: 1, frame: 'LPS', parts: [] },
});

function patientOf(planned: Partial<Case['planned']> = {}, more: Partial<PatientBasis> = {}): PatientResult {
  const shared = makeCase({
    ...PATIENT,
    id: 'invented',
    planned: { approach: 'auto', date: '2026-05-04', ...planned },
  });
  const lesions = more.lesions ?? [left, right, treated];
  const patient: PatientFile = { shared, lesions: [], remainder: 'none', ...more.patient };
  const { shelf = SHELF } = more;
  return assemblePatient({
    findings: [],
    failed: [],
    rules: RULES,
    inputs: [],
    version: '7.8.9',
    todayOption: TODAY,
    ...more,
    shelf,
    patient,
    lesions,
    devices: allDevices(lesions, shared, shelf, TODAY, RULES),
  });
}

const shuntOf = ({ shunt }: PatientResult): number => shunt!.fraction!;

/**
 * Fraction of the output that bypasses the lung when feeders with these fractions of the shunt stay open in parallel with the
 * bed.
 */
const leftOpen = (fraction: number, part: number): number =>
  (fraction * part) / (fraction * part + 1 - fraction);

it('who is planned, and in which format', async () => {
  const result = patientOf({}, {});
  expect(result).toMatchObject({ format: 'pavm-patient-result/1', patient: 'invented', purpose: 'demo' });
  expect(result.today).toEqual({ date: TODAY, from: 'option' });
  const dated = { ...left, case: { ...left.case, scan: { date: '2026-03-14' } } };
  const whole = patientOf({}, { lesions: [dated, right] });
  expect(whole.scan_date).toBe('2026-03-14');
  expect(await checkPatientResult(whole)).toEqual([]);
});

it('each lesion: what its case says, its feeders, and its share of the flow by d^4 and d^3', () => {
  const result = patientOf();
  const above = shuntOf(result) - 0.027;
  const [a1, a2, ofRight] = BY_POISEUILLE;
  expect(result.lesions.left).toEqual({
    case: 'left/case.yaml',
    title: 'The left one',
    side: 'left',
    lobe: 'lower',
    segments: ['S9'],
    state: 'open',
    feeder_count: 2,
    feeders: ['left/A1', 'left/A2'],
    largest_feeder_mm: 6,
    flow_share: expect.closeTo(a1 + a2, 9),
    flow_share_range: [expect.closeTo(BY_MURRAY[0] + BY_MURRAY[1], 9), expect.closeTo(a1 + a2, 9)],
    shunt_fraction: expect.closeTo((a1 + a2) * above, 9),
    recommended: left.result.readiness.recommended,
    plan_a_ready: 'to be confirmed',
    plan_b_ready: 'to be confirmed',
    extent: 'lobe',
    stops: 0,
    plan: 'lesions/left/plan.md',
  });
  expect(result.lesions.right).toMatchObject({
    flow_share_range: [expect.closeTo(ofRight, 9), expect.closeTo(BY_MURRAY[2], 9)],
    shunt_fraction: expect.closeTo(ofRight * above, 9),
    extent: 'segments',
  });
  expect(result.lesions.treated).toMatchObject({
    state: 'closed',
    treated: TREATED,
    feeders: [],
    feeder_count: 0,
  });
  expect(result.lesions.treated.largest_feeder_mm).toBeUndefined();
  expect(result.order).toEqual(['left', 'right']);
  expect(result.order_because).toHaveLength(1);
});

it('how far each plan is, its stops, and whether its surface is confirmed', () => {
  const { result } = left;
  const plan: typeof result.readiness.plan_a = { ready_today: false, missing: [] };
  const states: [typeof plan, string][] = [
    [{ ...plan, ready_today: true }, 'ready'],
    [{ ...plan, ready_by: '2026-04-10' }, 'from 2026-04-10'],
    [{ ...plan, missing: ['a device'] }, 'not ready'],
    [plan, 'to be confirmed'],
  ];
  const stop = { id: 'bleeding', level: 'stop', where: 'bleeding', text: 't' } as const;
  for (const [i, [state, text]] of states.entries()) {
    const own = {
      ...result,
      findings: Array.from({ length: i }, () => stop),
      proposal: { confirmed: i % 2 ? 'yes' : 'no' } as typeof result.proposal,
      readiness: { ...result.readiness, plan_a: state, plan_b: states[3 - i][0] },
    };
    expect(patientOf({}, { lesions: [{ ...left, result: own }, right] }).lesions.left).toMatchObject({
      plan_a_ready: text,
      plan_b_ready: states[3 - i][1],
      stops: i,
      surface_confirmed: i % 2 ? 'yes' : 'no',
    });
  }
});

it('sessions within the stated limits: dates, devices, contrast and what each leaves', () => {
  const result = patientOf({ session: { mostFeeders: 2, contrastLimitMl: 250, gapDays: 21 } });
  expect(result.session_limits).toEqual({
    contrast_ml: 250,
    contrast_of: 'hospital',
    contrast_from: 'planned.session.contrast_limit',
    one_lung: false,
    most_feeders: 2,
    gap_days: 21,
    gap_binds: true,
  });
  const rows = ['left/A1+left/A2', 'left/A1+left/A2+right/A1'].map(
    (set) => result.closure.find(({ closed }) => (closed as string[]).join('+') === set)!,
  );
  const after = (i: number) => ({
    shunt_after_fraction: rows[i].shunt_fraction,
    shunt_after_interval: rows[i].intervals!.shunt_fraction,
    so2_room_air_percent: rows[i].so2_room_air_percent,
    so2_room_air_interval: rows[i].intervals!.so2_room_air_percent,
    mean_pa_pressure_mmhg: rows[i].mean_pa_pressure_mmhg,
  });
  const piece = (vessel: string, diameter_mm: number, ready_by: string) =>
    ({
      vessel,
      code: `PLUG-${diameter_mm}`,
      kind: 'vascular-plug',
      diameter_mm,
      count: 1,
      ready_by,
    }) as const;
  // one lung 20 to 40 mL, each feeder 15 to 40 mL
  expect(result.sessions).toEqual([
    {
      number: 1,
      on: '2026-05-04',
      on_because: 'the planned date',
      lesions: ['left'],
      sides: ['left'],
      closes: ['left/A1', 'left/A2'],
      contrast_ml: [20 + 2 * 15, 40 + 2 * 40],
      devices: [piece('left/A1', 8, TODAY), piece('left/A2', 6, TODAY)],
      shunt_before_fraction: result.shunt!.fraction,
      ...after(0),
    },
    {
      number: 2,
      on: '2026-05-25',
      on_because: '21 days on, as the file says',
      lesions: ['right'],
      sides: ['right'],
      closes: ['right/A1'],
      contrast_ml: [20 + 15, 40 + 40],
      devices: [piece('right/A1', 7, '2026-04-10')],
      shunt_before_fraction: rows[0].shunt_fraction,
      ...after(1),
    },
  ]);
  expect(rows[0].shunt_fraction).toBeCloseTo(leftOpen(shuntOf(result), BY_POISEUILLE[2]), 4);
  expect(rows[1].shunt_fraction).toBe(0.027);
  // without the limit of two feeders one session closes all three
  expect(result.sessions_without).toEqual([{ limit: 'most_feeders', sessions: 1 }]);
  expect(result.sessions_because).toContain('Without most_feeders 1 session would do.');
  expect(result.sessions_proven_fewest).toBe(true);
  // it takes 21 days to arrive, for the session of 25 May
  expect(result.order_list).toEqual([
    { item: 'PLUG-7', count: 1, ready_by: '2026-04-10', order_by: '2026-05-04', for: ['right/A1'] },
  ]);
});

it('one session for both lungs where no limit is stated, and the price of what is preferred', () => {
  const result = patientOf();
  expect(result.session_limits).toEqual({ one_lung: false, gap_days: 28, gap_binds: false });
  expect(result.sessions.map(({ closes, sides }) => [closes, sides])).toEqual([
    [
      ['left/A1', 'left/A2', 'right/A1'],
      ['left', 'right'],
    ],
  ]);
  expect(result.sessions_alternatives).toEqual([
    {
      keeps: 'one_lung',
      text: expect.stringMatching(/^One lung a session: .*1 session more, at least 28 days longer/),
      sessions: [['left/A1', 'left/A2'], ['right/A1']],
      more_sessions: 1,
      more_days: 28,
    },
  ]);
});

it('a feeder that no session closes is named with the reason, in the closure of the rest as well', () => {
  const [open] = left.lesion.vessels;
  const unmeasured = { ...open, landing: undefined, landingAbsentBecause: 'no stretch is even' };
  const lesion = { ...left.lesion, vessels: [unmeasured, left.lesion.vessels[1]] };
  const result = patientOf({}, { lesions: [{ ...left, lesion }, right] });
  expect(result.not_planned).toEqual([{ vessel: 'left/A1', because: 'no stretch is even' }]);
  expect(result.sessions.flatMap(({ closes }) => closes)).toEqual(['left/A2', 'right/A1']);
  // without a landing zone the mean calibre is used
  expect(result.lesions.left.largest_feeder_mm).toBeCloseTo(6, 9);
});

it('shunt through lesions outside all surfaces: none, a share of all flow, or unknown', () => {
  expect(patientOf()).toMatchObject({ remainder: 'none', remainder_share: 0 });
  const patient = { shared: left.case, lesions: [], remainder: 0.2 };
  const share = patientOf({}, { patient: { ...patient, shared: makeCase({ ...PATIENT, id: 'invented' }) } });
  expect(share).toMatchObject({
    remainder: 'share',
    remainder_share: 0.2,
    remainder_because: 'stated in the patient file',
  });
  expect(share.remainder_share_range).toBeUndefined();
  expect(share.lesions.right.flow_share).toBeCloseTo(0.8 * BY_POISEUILLE[2], 9);
  expect(share.lesions.right.flow_share_is).toBeUndefined();

  const problems = ['case.yaml:3:1 lesion: no.'];
  const unknown = patientOf({}, { failed: [{ id: 'lost', file: 'lost/case.yaml', problems }] });
  expect(unknown.lesions.lost).toEqual({
    case: 'lost/case.yaml',
    state: 'not planned',
    absent_because: problems[0],
  });
  expect(unknown).toMatchObject({
    remainder: 'unknown',
    remainder_because: 'not planned: lost',
    remainder_share: 0,
    remainder_share_range: [0, 1],
  });
  expect(unknown.lesions.right.flow_share_is).toBe('at-most');
  expect(unknown.sessions.at(-1)!.shunt_after_is).toBe('at-least');
  expect(unknown.findings.filter(({ id }) => id === 'lesion-not-planned')).toMatchObject([{ where: 'lost' }]);
});

it('without blood gases the sessions remain, with the reason why nothing is predicted', () => {
  const shared = makeCase({ id: 'invented', planned: { approach: 'auto', date: '2026-05-04' } });
  const [session] = patientOf({}, { patient: { shared, lesions: [], remainder: 'none' } }).sessions;
  expect(session).toMatchObject({
    closes: ['left/A1', 'left/A2', 'right/A1'],
    absent_because: expect.any(String),
  });
  expect(session.shunt_after_fraction).toBeUndefined();
});

it('lung function after all resections: segments of both lungs, each counted once', () => {
  // left lower lobe S6, S8, S9, S10; right S4; the right S1 does not breathe: 18 of 19 work, 13 are left
  expect(patientOf().resection_all).toEqual({
    lesions: ['left', 'right'],
    working_segments: 18,
    left_segments: 13,
    predicted_fev1_percent: expect.closeTo((88 * 13) / 18, 3),
    predicted_dlco_percent: expect.closeTo((74 * 13) / 18, 3),
  });
  const noSide = { ...right, case: { ...right.case, lesion: { segments: [] } } };
  expect(patientOf({}, { lesions: [left, noSide] }).resection_all).toEqual({
    lesions: ['left', 'right'],
    absent_because: 'right: the side is not given',
  });
});

it('the advice: that of the lesions where they agree, both where they differ, discuss where one says so', () => {
  const advised = (lesion: LesionPlan, recommended: 'embolise' | 'resect' | 'discuss'): LesionPlan => ({
    ...lesion,
    result: { ...lesion.result, readiness: { ...lesion.result.readiness, recommended, because: ['shared'] } },
  });
  const advice = (a: Parameters<typeof advised>[1], b: Parameters<typeof advised>[1]) =>
    patientOf({}, { lesions: [advised(left, a), advised(right, b)] }).advice;
  expect(advice('embolise', 'embolise')).toEqual({
    recommended: 'embolise',
    because: ['shared'],
    lesions: { left: 'embolise', right: 'embolise' },
  });
  expect(advice('embolise', 'resect').recommended).toBe('both');
  expect(advice('resect', 'resect').recommended).toBe('resect');
  expect(advice('discuss', 'resect').recommended).toBe('discuss');
});

describe('findings of a patient', () => {
  const idsOf = ({ findings }: PatientResult): string[] => findings.map(({ id }) => id);
  const about = ({ findings }: PatientResult, id: string) => findings.filter((one) => one.id === id);

  it('a feeder that no session closes is a caution with the reason', () => {
    const vessels = left.lesion.vessels.map((one, i) =>
      i === 0 ? { ...one, landing: undefined, landingAbsentBecause: 'no stretch is even.' } : one,
    );
    const lesion = { ...left.lesion, vessels };
    const found = about(patientOf({}, { lesions: [{ ...left, lesion }, right] }), 'feeder-not-in-session');
    expect(found).toMatchObject([{ level: 'caution', where: 'left/A1' }]);
    expect(found[0].text).toBe('No session closes left/A1: no stretch is even.');
    expect(idsOf(patientOf())).not.toContain('feeder-not-in-session');
  });

  it('a feeder that needs more contrast than the limit allows is named; one within it is not', () => {
    // one lung 40 mL and one feeder 40 mL at most
    const at = (contrastLimitMl: number) =>
      about(patientOf({ session: { contrastLimitMl } }), 'session-contrast-above').map(({ where }) => where);
    expect(at(79)).toEqual(['left/A1', 'left/A2', 'right/A1']);
    expect(at(80)).toEqual([]);
  });

  it('reports more feeders than can be tried exhaustively, where the bound leaves it open', () => {
    // 13 feeders in two lungs, the widest of each lesion first: a session takes four in both lungs, (250 - 80) / 40, or five
    // in one, (250 - 40) / 40. First fit mixes the lungs and needs four sessions, while 13 / 5 leaves three possible.
    const lesions = ['a', 'b', 'c', 'd', 'e'].map((id, i) =>
      lesionOfTubes(id, i < 4 ? [6, 5, 4] : [6], {
        lesion: { side: i % 2 ? 'left' : 'right', lobe: 'lower', segments: [] },
      }),
    );
    const within = (contrastLimitMl: number) => {
      const result = patientOf({ session: { contrastLimitMl } }, { lesions, shelf: undefined });
      expect(result.sessions.flatMap(({ closes }) => closes)).toHaveLength(13);
      const isSaid = idsOf(result).includes('sessions-not-proven-fewest');
      return [result.sessions.length, result.sessions_proven_fewest, isSaid];
    };
    expect(within(250)).toEqual([4, false, true]);
    // all in one: (600 - 80) / 40 = 13
    expect(within(600)).toEqual([1, true, false]);
  });

  it('a lesion of the left lung to the right of one of the right lung is a caution, in both frames', () => {
    const placed = (lesion: LesionPlan, x: number, frame: 'LPS' | 'RAS'): LesionPlan => ({
      ...lesion,
      case: { ...lesion.case, surfaces: { unit: 'mm', unitMm: 1, frame, parts: [] } },
      lesion: {
        ...lesion.lesion,
        vessels: lesion.lesion.vessels.map((one) => ({
          ...one,
          centrelineMm: [[x, 0, 0]],
          neck: { ...one.neck!, pointMm: [x, 0, 0] },
        })),
      },
    });
    const contradicts = (frame: 'LPS' | 'RAS', leftX: number, rightX: number): boolean =>
      idsOf(patientOf({}, { lesions: [placed(left, leftX, frame), placed(right, rightX, frame)] })).includes(
        'lesion-sides-contradict',
      );
    // x increases to the left in LPS, to the right in RAS
    expect([contradicts('LPS', 40, -40), contradicts('LPS', -40, 40)]).toEqual([false, true]);
    expect([contradicts('RAS', -40, 40), contradicts('RAS', 40, -40)]).toEqual([false, true]);
  });

  it('the order of closure is that of the shares; an unstated remainder is a note', async () => {
    const [note] = about(patientOf(), 'closure-order');
    expect(note).toMatchObject({ level: 'note' });
    expect(note.text).toContain('in the order left/A1, right/A1, left/A2.');
    const text = (more: string) =>
      `format: pavm-patient/1\nid: one\npurpose: demo\n${more}lesions:\n  - { id: a, case: a/case.yaml }\n`;
    const found = async (more: string) =>
      (await examinePatient(text(more), 'patient.yaml')).findings.map(({ id }) => id);
    expect(await found('')).toContain('remainder-assumed');
    expect(await found('remainder: unknown\n')).not.toContain('remainder-assumed');
  });
});
