/**
 * Three made-up results for the report tests. They are only input for printing: the values are consistent (contents, shunt
 * and oversize follow from each other), but none of them is a check value of a computation.
 */
import type { Device, Result, Vessel } from '../../src/result/result.generated.js';

const COMMON = 'common practice, no source';

/** Samples of a vessel of even calibre that opens into the sac over the last millimetres. */
function profileOf(calibreMm: number, lengthMm: number): Vessel['profile'] {
  const samples: Vessel['profile'] = [];
  for (let at = 0.5; at <= lengthMm; at += 1) {
    const flare = Math.max(0, at - (lengthMm - 3)) * 0.25;
    const wave = 0.12 * Math.sin(at / 3);
    const equivalent = calibreMm * (1 - 0.002 * at) + wave + flare;
    samples.push({
      at_mm: at,
      equivalent_mm: equivalent,
      min_mm: equivalent * 0.93,
      max_mm: equivalent * 1.08,
      area_mm2: (Math.PI / 4) * equivalent ** 2,
    });
  }
  return samples;
}

const provenance = (id: string): Pick<Result, 'format' | 'case' | 'tool' | 'inputs'> => ({
  format: 'pavm-result/1',
  case: id,
  tool: { name: 'pavm', version: '0.1.0', rule_set: '4f1c0a9d2be37755' },
  inputs: [
    { path: 'case.yaml', sha256: '8d0f'.repeat(16), bytes: 2214 },
    { path: 'meshes/lesion.stl', sha256: '31ab'.repeat(16), bytes: 1204884 },
  ],
});

/** One feeding artery, everything in stock, shunt from a fully saturated sample. */
export function oneFeeder(): Result {
  return {
    ...provenance('plover'),
    title: 'Single feeding artery of the lingula',
    purpose: 'demo',
    scan_date: '2026-02-10',
    today: { date: '2026-02-20', from: 'shelf' },
    lesion: {
      side: 'left',
      lobe: 'lingula',
      segments: ['S5'],
      kind: 'simple',
      kind_because: 'one segment (S5) feeds the sac',
      feeder_count: 1,
      drain_count: 1,
    },
    sac: {
      volume_ml: 1.92,
      volume_interval_ml: [1.74, 2.1],
      surface_cm2: 8.4,
      longest_mm: 18.6,
      axes_mm: [18.1, 15.2, 13.4],
      centre_mm: [61, 22, 88],
    },
    vessels: {
      A1: {
        role: 'feeder',
        arises_from: 'A5 of the lingula',
        length_mm: 41.6,
        length_interval_mm: [40.8, 42.4],
        tortuosity: 1.14,
        calibre_mm: { min: 5.8, mean: 6.1, max: 6.9 },
        profile: profileOf(6.2, 42),
        neck: { at_mm: 41.6, point_mm: [52, 18, 90], calibre_mm: 6.8 },
        branches: [],
        landing: {
          from_mm: 0,
          to_mm: 39.2,
          length_mm: 39.2,
          calibre_mm: 6.0,
          calibre_interval_mm: [5.6, 6.4],
          largest_width_mm: 6.7,
          taper_percent: 7,
          to_sac_mm: 2.4,
          view: { lao_rao_deg: 35, cran_caud_deg: -10 },
        },
      },
      V1: {
        role: 'drain',
        length_mm: 33.0,
        tortuosity: 1.06,
        calibre_mm: { min: 7.0, mean: 7.4, max: 8.3 },
        profile: profileOf(7.5, 33),
        neck: { at_mm: 33.0, point_mm: [66, 24, 86] },
        branches: [],
      },
    },
    shunt: {
      fraction: 0.1458,
      interval: [0.128, 0.167],
      method: 'content',
      sample: 'on-oxygen',
      alveolar_po2_mmhg: 673,
      barometric_mmhg: 760,
      arterial_saturation_percent: 99.96,
      end_capillary_content_ml_dl: 22.186,
      arterial_content_ml_dl: 21.333,
      venous_content_ml_dl: 16.333,
      av_difference_ml_dl: 5,
      origins: {
        barometric_mmhg: 'measured',
        arterial_saturation_percent: 'derived',
        av_difference_ml_dl: 'assumed',
      },
      dissolved_only: { fraction: 0.1448 },
      sensitivity: [{ av_difference_ml_dl: 4.4, fraction: 0.1625, source: 'Clin Sci 2002;102:127' }],
      assumed: [
        'arterio-venous oxygen difference 5 mL/dL: no mixed-venous sample',
        'haemoglobin binds 1.34 mL/g of oxygen',
      ],
    },
    closure: [
      {
        closed: ['A1'],
        occlusion_percent: 100,
        shunt_fraction: 0,
        so2_room_air_percent: 97.6,
        so2_on_oxygen_percent: 100,
        mean_pa_pressure_mmhg: 16.2,
        cardiac_output_l_min: 4.6,
        remaining: {},
        intervals: {
          shunt_fraction: [0, 0.01],
          so2_room_air_percent: [97.1, 97.9],
          mean_pa_pressure_mmhg: [15.6, 16.9],
        },
        assumed: ['respiratory quotient 0.8'],
      },
    ],
    devices: {
      A1: {
        window_mm: [7.8, 9],
        kind: 'vascular-plug',
        code: 'PLUG-08',
        diameter_mm: 8,
        length_mm: 7,
        count: 1,
        oversize_percent: 33.3,
        oversize_interval_percent: [25, 42.9],
        rule: 'window-vascular-plug',
        rule_source: 'AJR 2009;192 (12 PAVM)',
        needs_lumen_mm: 1.8,
        on_shelf: true,
        alternates: [
          {
            code: 'COIL-08',
            kind: 'detachable-coil',
            diameter_mm: 7.5,
            oversize_percent: 25,
            count: 4,
            on_shelf: true,
            rule: 'window-detachable-coil',
          },
        ],
        rejected: [{ code: 'PLUG-06', why: '0 % oversize, below the window of 7.8 to 9.0 mm' }],
        borderline: false,
      },
    },
    resection: {
      lobe: 'lingula',
      procedure: 'Lingulectomy',
      spare: [],
      steps: [
        {
          id: 'control',
          stage: 'Control',
          text: 'Tape the left main pulmonary artery before the sac is touched',
          see: 'the artery crossing over the left upper bronchus',
          source: COMMON,
        },
        {
          id: 'arteries',
          stage: 'Arteries',
          text: 'Divide A1 before the vein, so that the sac does not engorge',
          see: 'A1, 6 mm wide, entering the lingula',
          source: COMMON,
        },
      ],
      predicted_fev1_l: 2.59,
      predicted_fev1_percent: 79,
      predicted_because: '2 of 19 segments are removed',
      leak_test: { cmh2o: 30, mmhg: 22.07 },
    },
    readiness: {
      plan_a: { ready_today: true, ready_by: '2026-02-20', missing: [] },
      plan_b: {
        ready_today: false,
        missing: ['group and crossmatch'],
        ready_by_absent_because: 'the case gives no lead time for blood',
      },
      recommended: 'embolise',
      because: ['A1 has a landing zone 39.2 mm long', 'the device that fits is on the shelf'],
      triggers: [
        {
          id: 'no-landing',
          direction: 'a-to-b',
          text: 'No landing zone at least 10 mm long on the angiogram',
          applies: false,
          source: COMMON,
        },
      ],
      order_list: [],
      follow_up: [
        {
          what: 'CT of the chest: sac and draining vein smaller by 70 % or more',
          from: '2026-08-20',
          to: '2027-02-20',
          source: 'HHT guideline, J Med Genet 2011;48:73',
        },
      ],
    },
    checklist: [
      {
        id: 'antibiotic',
        level: 'caution',
        moment: 'time-out',
        text: 'Antibiotic prophylaxis given',
        because: 'a right-to-left shunt carries bacteria past the lung',
        source: 'BTS, Thorax 2017;72:1154',
      },
      {
        id: 'air',
        level: 'caution',
        moment: 'sign-in',
        text: 'No air in any line; filter where practicable',
        because: 'air in a vein reaches the arteries through the shunt',
        source: 'BTS, Thorax 2017;72:1154',
      },
      {
        id: 'nickel',
        level: 'ok',
        moment: 'planning',
        text: 'No nickel allergy',
        because: 'the case lists no allergy to nickel',
        source: COMMON,
      },
    ],
    findings: [],
    cautions: ['The lung is taken as fully inflated, as on the CT.'],
  };
}

/** Two feeding arteries; a branch to keep; the right plug is not in stock; one size is borderline. */
export function twoFeeders(): Result {
  const base = oneFeeder();
  const a1: Vessel = {
    role: 'feeder',
    arises_from: 'A9 of the left lower lobe',
    length_mm: 52.3,
    length_interval_mm: [51.2, 53.4],
    tortuosity: 1.31,
    calibre_mm: { min: 7.4, mean: 7.8, max: 8.9 },
    profile: profileOf(8.1, 53),
    neck: { at_mm: 52.3, point_mm: [-43, 10, 102], calibre_mm: 8.8 },
    branches: [{ name: 'B1', at_mm: 21, from_mm: 18.9, to_mm: 23.2, calibre_mm: 3.9 }],
    landing: {
      from_mm: 23.2,
      to_mm: 49.8,
      length_mm: 26.6,
      calibre_mm: 7.6,
      calibre_interval_mm: [7.2, 8],
      largest_width_mm: 8.3,
      taper_percent: 9,
      to_sac_mm: 2.5,
      to_branch_mm: 0,
      view: { lao_rao_deg: -22, cran_caud_deg: 14 },
    },
  };
  const a2: Vessel = {
    role: 'feeder',
    arises_from: 'A10 of the left lower lobe',
    length_mm: 30.4,
    tortuosity: 1.09,
    calibre_mm: { min: 4.1, mean: 4.4, max: 5.2 },
    profile: profileOf(4.5, 31),
    neck: { at_mm: 30.4, point_mm: [-38, 4, 96], calibre_mm: 5.1 },
    branches: [],
    landing: {
      from_mm: 0,
      to_mm: 27.9,
      length_mm: 27.9,
      calibre_mm: 4.4,
      calibre_interval_mm: [4, 4.8],
      taper_percent: 8,
      to_sac_mm: 2.5,
      view_absent_because: 'the frame of the surface coordinates is unknown',
    },
  };
  const b1: Vessel = {
    role: 'branch',
    of: 'A1',
    spare: true,
    supplies: 'S8',
    length_mm: 18.2,
    tortuosity: 1.04,
    calibre_mm: { min: 3.6, mean: 3.9, max: 4.2 },
    profile: profileOf(3.9, 18),
    branches: [],
  };
  const plugA1: Device = {
    window_mm: [9.88, 11.4],
    kind: 'vascular-plug',
    code: 'PLUG-10',
    diameter_mm: 10,
    length_mm: 7,
    count: 1,
    oversize_percent: 31.6,
    oversize_interval_percent: [25, 38.9],
    rule: 'window-vascular-plug',
    rule_source: 'AJR 2009;192 (12 PAVM)',
    needs_lumen_mm: 2.1,
    on_shelf: false,
    ready_by: '2026-04-10',
    alternates: [],
    rejected: [
      { code: 'PLUG-08', why: '5 % oversize, below the window' },
      { code: 'PLUG-12', why: '58 % oversize, above the window' },
    ],
    borderline: false,
    if_none: 'use coils behind a balloon, or plan B',
  };
  const plugA2: Device = {
    window_mm: [5.72, 6.6],
    kind: 'vascular-plug',
    code: 'PLUG-06',
    diameter_mm: 6,
    length_mm: 6,
    count: 1,
    oversize_percent: 36.4,
    oversize_interval_percent: [25, 50],
    rule: 'window-vascular-plug',
    rule_source: 'AJR 2009;192 (12 PAVM)',
    needs_lumen_mm: 1.6,
    on_shelf: true,
    alternates: [
      {
        code: 'COIL-05',
        kind: 'detachable-coil',
        diameter_mm: 5.5,
        oversize_percent: 25,
        count: 5,
        on_shelf: true,
      },
    ],
    rejected: [],
    borderline: true,
    borderline_because:
      'at the low end of the interval (4.0 mm) the oversize is 50 %, the edge of the window',
    packing: { density_percent: 26, note: 'No threshold for this lesion is published; for information' },
  };
  return {
    ...base,
    ...provenance('avocet'),
    title: 'Two feeding arteries of the left lower lobe',
    purpose: 'clinical',
    scan_date: '2026-03-14',
    today: { date: '2026-03-20', from: 'shelf' },
    lesion: {
      side: 'left',
      lobe: 'lower',
      segments: ['S9', 'S10'],
      kind: 'complex',
      kind_because: 'two segments (S9 and S10) feed the sac',
      feeder_count: 2,
      drain_count: 1,
    },
    sac: {
      volume_ml: 6.84,
      volume_interval_ml: [6.35, 7.33],
      surface_cm2: 19.7,
      longest_mm: 29.9,
      axes_mm: [29.2, 22.8, 19.6],
    },
    vessels: { V1: { ...base.vessels.V1!, spare: false }, A2: a2, A1: a1, B1: b1 },
    neighbours: [
      {
        from: 'sac',
        to: 'bronchus',
        distance_mm: 3.2,
        points_mm: [
          [1, 2, 3],
          [1, 2, 6.2],
        ],
      },
    ],
    shunt: {
      fraction: 0.31,
      interval: [0.27, 0.355],
      method: 'content',
      sample: 'on-oxygen',
      alveolar_po2_mmhg: 640,
      barometric_mmhg: 721,
      arterial_saturation_percent: 97.9,
      end_capillary_content_ml_dl: 28.516,
      arterial_content_ml_dl: 26.27,
      venous_content_ml_dl: 21.27,
      av_difference_ml_dl: 5,
      origins: {
        barometric_mmhg: 'derived',
        arterial_saturation_percent: 'measured',
        av_difference_ml_dl: 'assumed',
      },
      dissolved_only: {
        refused_because:
          'PaO2 is 95 mmHg; below 150 mmHg arterial blood is not fully saturated and the short form reads too low',
      },
      other_saturation: { fraction: 0.3214, basis: 'saturation from the curve, 97.5 %' },
      sensitivity: [{ av_difference_ml_dl: 4.4, fraction: 0.338, source: 'Clin Sci 2002;102:127' }],
      assumed: [
        'arterio-venous oxygen difference 5 mL/dL: no mixed-venous sample',
        'barometric pressure from an altitude of 440 m by the standard atmosphere',
      ],
    },
    closure: [
      {
        closed: ['A1'],
        shunt_fraction: 0.052,
        so2_room_air_percent: 96.9,
        so2_on_oxygen_percent: 99.9,
        mean_pa_pressure_mmhg: 21.1,
        cardiac_output_l_min: 4.65,
        remaining: { A2: { flow_l_min: 0.33, share: 0.12, share_range: [0.09, 0.17] } },
        intervals: {
          shunt_fraction: [0.035, 0.081],
          so2_room_air_percent: [96.2, 97.4],
          so2_on_oxygen_percent: [99.8, 99.95],
          mean_pa_pressure_mmhg: [19.8, 22.6],
          cardiac_output_l_min: [4.3, 5],
        },
        assumed: ['flow is shared by the fourth power of the calibre over the length'],
      },
      {
        closed: ['A2'],
        shunt_fraction: 0.283,
        so2_room_air_percent: 90.4,
        so2_on_oxygen_percent: 98.4,
        mean_pa_pressure_mmhg: 18.4,
        cardiac_output_l_min: 6.16,
        remaining: { A1: { flow_l_min: 1.74, share: 0.88 } },
        intervals: { shunt_fraction: [0.24, 0.32] },
      },
      {
        closed: ['A1', 'A2'],
        shunt_fraction: 0,
        so2_room_air_percent: 97.8,
        so2_on_oxygen_percent: 100,
        mean_pa_pressure_mmhg: 22,
        cardiac_output_l_min: 4.42,
      },
      { closed: 'lobe', absent_because: 'the share of normal lung in the lobe is not known' },
    ],
    devices: { A2: plugA2, A1: plugA1 },
    resection: {
      lobe: 'left lower lobe',
      procedure: 'Left lower lobectomy',
      spare: [
        { name: 'B1', supplies: 'S8', to_division_mm: 12.4, division: 'A9 beyond its first branch' },
        {
          name: 'A4+5',
          supplies: 'lingula',
          to_division_absent_because: 'the branch is not in the surfaces',
          division: 'basal trunk',
        },
      ],
      steps: [
        {
          id: 'isolate',
          stage: 'Before incision',
          text: 'Confirm side and lobe on the CT, and that the left lung is isolated',
          source: COMMON,
        },
        {
          id: 'control',
          stage: 'Control',
          text: 'Tape the left main pulmonary artery before the sac is touched',
          see: 'the artery above the left upper bronchus',
          source: COMMON,
        },
        {
          id: 'basal',
          stage: 'Arteries',
          text: 'Divide the basal trunk below the lingular arteries',
          see: 'A4+5 leaving the interlobar artery below A6',
          source: 'Series of 404 and of 539 left lungs (lingular artery and vein variants)',
        },
      ],
      at_stake: [
        {
          name: 'lingular arteries',
          text: 'they leave the interlobar artery below A6; divide the basal trunk below them',
          source: 'lobe-anatomy-teaching',
        },
      ],
      predicted_fev1_l: 2.29,
      predicted_fev1_percent: 69.5,
      predicted_dlco_percent: 58.4,
      predicted_because: '4 of 19 segments are removed',
      predicted_reading: 'One value lies between 30 and 60 %: an exercise test is usual',
      leak_test: { cmh2o: 30, mmhg: 22.07, note: 'As written in the case' },
    },
    readiness: {
      plan_a: {
        ready_today: false,
        ready_by: '2026-04-10',
        missing: ['PLUG-10 for A1, lead time 21 days'],
        unknown: ['nickel allergy'],
      },
      plan_b: {
        ready_today: false,
        ready_by: '2026-03-27',
        missing: ['group and crossmatch', 'exercise test'],
      },
      recommended: 'embolise',
      decided_by: 'both-feeders-closable',
      because: [
        'both feeding arteries have a landing zone',
        'the plug for A1 can be there before the planned date',
      ],
      triggers: [
        {
          id: 'no-device',
          direction: 'a-to-b',
          text: 'No device in the window is on the shelf on the day',
          applies: true,
          because: 'PLUG-10 for A1 is not on the shelf',
          source: COMMON,
        },
        {
          id: 'bleed',
          direction: 'stop-and-discuss',
          text: 'New haemoptysis before the procedure',
          applies: false,
          source: COMMON,
        },
      ],
      best_today: [
        { feeder: 'A1', code: 'COIL-10', kind: 'detachable-coil', diameter_mm: 9.5, count: 6 },
        { feeder: 'A2', code: 'PLUG-06', kind: 'vascular-plug', diameter_mm: 6, count: 1 },
      ],
      order_list: [
        { item: 'PLUG-10', count: 2, ready_by: '2026-04-10', for: ['A1'] },
        { item: 'Retrieval snare', count: 1 },
      ],
      follow_up: [
        {
          what: 'Saturation sitting and lying, chest film',
          from: '2026-04-11',
          to: '2026-04-17',
          source: COMMON,
        },
        { what: 'CT of the chest', from: '2026-10-10', source: 'BTS, Thorax 2017;72:1154' },
      ],
    },
    checklist: [
      ...base.checklist.slice(0, 2),
      {
        id: 'device-missing',
        level: 'stop',
        moment: 'planning',
        text: 'Do not start plan A without the plug for A1',
        because: 'PLUG-10 is not on the shelf; ready by 2026-04-10',
        source: COMMON,
      },
      {
        id: 'nickel-unknown',
        level: 'caution',
        moment: 'planning',
        text: 'Ask about nickel allergy',
        because: 'the case does not say; PLUG-10 contains nickel',
        source: 'Gueroult et al., Heart 2021',
      },
      {
        id: 'blood',
        level: 'note',
        text: 'Two units crossmatched',
        because: 'plan B stands by',
        source: COMMON,
      },
      {
        id: 'pleurisy',
        level: 'note',
        moment: 'after',
        text: 'Warn of pleuritic pain in the first week',
        because: 'a feeding artery of 7.6 mm is closed',
        source: COMMON,
      },
    ],
    findings: [
      {
        id: 'device-not-on-shelf',
        level: 'stop',
        where: 'A1',
        text: 'the only plug that fits (PLUG-10) is not on the shelf; order it or change to plan B',
      },
      {
        id: 'borderline-size',
        level: 'caution',
        where: 'A2',
        text: 'oversize reaches 50 % at the edge of the interval',
      },
      { id: 'frame-unknown', level: 'note', where: 'surfaces.frame', text: 'no working view for A2' },
    ],
    cautions: ['The lung is taken as fully inflated, as on the CT.'],
  };
}

/** Almost nothing could be computed; each gap has its reason. */
export function nearlyEmpty(): Result {
  return {
    format: 'pavm-result/1',
    case: 'dunlin',
    purpose: 'teaching',
    tool: { name: 'pavm', version: '0.1.0', rule_set: '4f1c0a9d2be37755' },
    today: { from: 'unknown' },
    inputs: [],
    lesion: { kind_because: 'the segments are not stated' },
    vessels: {
      A1: {
        role: 'feeder',
        length_mm: 9,
        tortuosity: 1.02,
        calibre_mm: { min: 5, mean: 7.4, max: 9.9 },
        profile: [],
        branches: [],
        landing_absent_because: 'no stretch of 7.4 mm keeps its calibre within 20 %',
      },
    },
    shunt: {
      method: 'content',
      absent_because: 'the only arterial sample was taken after 4 minutes on oxygen',
      assumed: [],
    },
    closure: [
      { closed: ['A1'], absent_because: 'the shunt is not known: too short on oxygen' },
      { closed: 'lobe', absent_because: 'the shunt is not known: too short on oxygen' },
    ],
    devices: {
      A1: {
        alternates: [],
        rejected: [],
        borderline: false,
        absent_because: 'there is no landing zone to size a device for',
        if_none: 'discuss plan B',
      },
    },
    readiness: {
      plan_a: {
        ready_today: false,
        missing: ['a landing zone for A1'],
        ready_by_absent_because: 'nothing to order helps',
      },
      plan_b: { ready_today: false, missing: [], unknown: ['spirometry'] },
      recommended: 'discuss',
      because: [],
    },
    checklist: [],
    findings: [
      { id: 'no-landing-zone', level: 'caution', where: 'A1', text: 'no landing zone' },
      {
        id: 'washout-too-short',
        level: 'caution',
        where: 'gases[0]',
        text: 'repeat after 20 minutes on oxygen',
      },
    ],
    cautions: [],
  };
}

/** Keys whose values are fixed words of the schema, not text of a case. */
const WORDS = new Set([
  'format',
  'role',
  'side',
  'purpose',
  'method',
  'level',
  'moment',
  'direction',
  'recommended',
]);

/** A copy with every free text and every vessel name replaced. */
export function withStrings(result: Result, replace: (text: string) => string): Result {
  const walk = (value: unknown, key: string, path: string): unknown => {
    if (typeof value === 'string') {
      const fixedWord =
        WORDS.has(key) ||
        path === '.lesion.kind' ||
        path === '.lesion.lobe' ||
        path === '.today.from' ||
        path.includes('.origins.') ||
        value === 'lobe' ||
        /^\.devices\.[^.]*\.kind$/.test(path);
      return fixedWord ? value : replace(value);
    }
    if (Array.isArray(value)) return value.map((item) => walk(item, key, path));
    if (typeof value !== 'object' || value === null) return value;
    const named = key === 'vessels' || key === 'devices' || key === 'remaining';
    return Object.fromEntries(
      Object.entries(value).map(([k, v]) => [
        named ? replace(k) : k,
        walk(v, k, `${path}.${named ? 'x' : k}`),
      ]),
    );
  };
  return walk(result, '', '') as Result;
}
