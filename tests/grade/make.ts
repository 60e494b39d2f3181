import type { Expectation } from '../../src/case/case.js';
import type { Result } from '../../src/result/result.generated.js';

/** A small synthetic result; numbers are chosen, not computed. */
export function resultOf(change: (result: Result) => void = () => {}): Result {
  const result: Result = {
    format: 'pavm-result/1',
    case: 'invented',
    title: 'Invented lesion',
    purpose: 'teaching',
    scan_date: '2026-03-14',
    tool: { name: 'pavm-planner', version: '0.0.0', rule_set: 'abc' },
    today: { date: '2026-03-20', from: 'shelf' },
    inputs: [{ path: 'case.yaml', sha256: '0'.repeat(64), bytes: 10 }],
    lesion: {
      side: 'left',
      lobe: 'lower',
      kind: 'complex',
      kind_because: '2 feeding arteries',
      feeder_count: 2,
      drain_count: 1,
    },
    sac: {
      volume_ml: 6,
      volume_interval_ml: [5.4, 6.6],
      surface_cm2: 16,
      longest_mm: 25,
      axes_mm: [24, 22, 21],
      centre_mm: [80, 40, -60],
    },
    vessels: {
      A1: {
        role: 'feeder',
        length_mm: 60,
        length_interval_mm: [59, 61],
        tortuosity: 1.2,
        calibre_mm: { min: 5.9, mean: 6.1, max: 6.4 },
        profile: [],
        branches: [],
        neck: { at_mm: 60, point_mm: [70, 35, -50], calibre_mm: 6.1 },
        landing: {
          from_mm: 10,
          to_mm: 58,
          length_mm: 48,
          calibre_mm: 6.1,
          calibre_interval_mm: [5.8, 6.4],
          taper_percent: 4,
          to_sac_mm: 2,
        },
        centreline_mm: [
          [40, 10, 0],
          [60, 20, -30],
          [70, 35, -50],
        ],
      },
      'A2.b': {
        role: 'feeder',
        length_mm: 40,
        tortuosity: 1.1,
        calibre_mm: { min: 3, mean: 4, max: 5 },
        profile: [],
        branches: [],
        landing_absent_because: 'no stretch of 5 mm keeps its calibre',
        neck: { at_mm: 40, point_mm: [75, 55, -45] },
        centreline_mm: [
          [50, 60, -20],
          [75, 55, -45],
        ],
      },
      V1: {
        role: 'drain',
        length_mm: 50,
        tortuosity: 1.1,
        calibre_mm: { min: 8, mean: 9, max: 10 },
        profile: [],
        branches: [],
        neck: { at_mm: 50, point_mm: [70, 30, -66] },
        centreline_mm: [
          [36, 8, -52],
          [70, 30, -66],
        ],
      },
    },
    shunt: { fraction: 0.31, interval: [0.28, 0.34], method: 'content', assumed: ['av_difference'] },
    closure: [
      { closed: ['A1', 'A2.b'], shunt_fraction: 0.03 },
      { closed: 'lobe', shunt_fraction: 0.02 },
    ],
    closure_order: ['A1', 'A2.b'],
    devices: {
      A1: {
        window_mm: [7.9, 9.2],
        kind: 'vascular-plug',
        code: 'PLUG-08',
        diameter_mm: 8,
        count: 1,
        oversize_percent: 31,
        rule: 'Plug 30 to 50 % larger.',
        on_shelf: true,
        alternates: [{ code: 'PLUG-09', kind: 'vascular-plug', diameter_mm: 9, oversize_percent: 47.5 }],
        rejected: [{ code: 'PLUG-10', why: 'oversize 64 %, above the window' }],
        borderline: false,
      },
    },
    readiness: {
      plan_a: { ready_today: false, missing: ['a device for A2.b'] },
      plan_b: { ready_today: true, missing: [] },
      recommended: 'discuss',
      because: ['No landing zone on A2.b.'],
      decided_by: 'no-landing-zone',
    },
    checklist: [{ id: 'nickel', level: 'caution', text: 'Nickel', because: 'asked', source: 'none' }],
    findings: [{ id: 'open-surface', level: 'caution', where: 'A1', text: 'The surface is open.' }],
    cautions: [],
  };
  change(result);
  return result;
}

/** Expectations as the reader of a case file gives them. */
export const keyOf = (...entries: Omit<Expectation, 'path'>[]): Expectation[] =>
  entries.map((entry, i) => ({ ...entry, path: `expected[${i}]` }));

export const locate = (path: string): string => `case.yaml:1:1 ${path}`;
