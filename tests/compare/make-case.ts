import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { planResult } from '../../src/cli/plan/plan-files.js';
import { measureCase } from '../../src/cli/measure/measure-case.js';
import type { Vec3 } from '../../src/foundation/vector.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { axisIntoSac, type LesionPlan, partMeshes, type VesselPlan } from '../../src/phantoms/lesion.js';
import type { SacShape } from '../../src/phantoms/sac.js';
import type { Result } from '../../src/result/result.generated.js';

/** What differs between two scans of the synthetic lesion. */
export interface LesionState {
  /** Semi-axes of the sac as a multiple of the original ones. */
  sac?: number;
  /** Calibres, mm; 0 omits the vessel. */
  A1?: number;
  A2?: number;
  V1?: number;
  /** Moves the whole scan, as when a patient lies elsewhere in the scanner. */
  shift?: Vec3;
}

export const AT_FIRST = { sac: 1, A1: 5.6, A2: 4.4, V1: 7 };

/** A synthetic lesion of the left upper lobe, in the requested state. */
export function lesionOf(state: LesionState = {}): LesionPlan {
  const { sac: scale, A1, A2, V1, shift = [0, 0, 0] } = { ...AT_FIRST, ...state };
  const sac: SacShape = {
    centreMm: [70, -20, 30],
    semiAxesMm: [12 * scale, 10 * scale, 9 * scale],
    lobes: [{ direction: [0.6, -0.7, 0.2], height: 0.1, sharpness: 4 }],
  };
  const vessel = (
    name: string,
    role: 'feeder' | 'drain',
    calibreMm: number,
    towards: Vec3,
    farther: Vec3[],
  ): VesselPlan => ({
    name,
    role,
    axisMm: axisIntoSac(sac, towards, farther, 1.2),
    calibre: { kind: 'constant', calibreMm },
  });
  const vessels = [
    vessel(
      'A1',
      'feeder',
      A1,
      [-0.8, 0.6, 0.1],
      [
        [28, 10, 36],
        [38, 1, 34],
      ],
    ),
    vessel(
      'A2',
      'feeder',
      A2,
      [-0.5, -0.2, 0.9],
      [
        [46, -32, 76],
        [54, -29, 66],
      ],
    ),
    vessel(
      'V1',
      'drain',
      V1,
      [-0.7, -0.5, -0.6],
      [
        [28, -48, -2],
        [38, -42, 5],
      ],
    ),
  ].filter(({ name }) => ({ A1, A2, V1 })[name] !== 0);
  const move = (p: Vec3): Vec3 => [p[0] + shift[0], p[1] + shift[1], p[2] + shift[2]];
  return {
    name: 'invented',
    sac: { ...sac, centreMm: move(sac.centreMm) },
    vessels: vessels.map((one) => ({ ...one, axisMm: one.axisMm.map(move) })),
    neighbours: [],
    blendMm: 1,
  };
}

/** What a made case may specify. */
export interface CaseMaking {
  id?: string;
  date?: string;
  /** Blood gas after treatment, PO2 in mmHg. */
  after?: number;
  before?: number;
  /** Date of a treatment before the scan. */
  treated?: string;
  /** Names in the case file that replace those of the lesion. */
  rename?: Record<string, string>;
  /** Moves each vertex by up to this much, mm, from a seed. */
  noiseMm?: number;
  seed?: number;
  shelf?: string;
  unit?: 'mm' | 'cm';
  extra?: string;
}

/** A generator of 0 .. 1 (Park & Miller 1988, the minimal standard). */
function uniform(seed: number): () => number {
  let state = (seed % 2147483646) + 1;
  return () => {
    state = (state * 48271) % 2147483647;
    return state / 2147483647;
  };
}

function noisy(mesh: TriangleMesh, mm: number, next: () => number): TriangleMesh {
  return { triangles: mesh.triangles, positions: mesh.positions.map((x) => x + mm * (2 * next() - 1)) };
}

/** Writes a case folder with the meshes of a lesion, small enough for tests. */
export function writeCase(folder: string, lesion: LesionPlan, making: CaseMaking = {}): string {
  const { id = 'invented', date = '2025-03-01', before = 150, rename = {}, noiseMm = 0 } = making;
  mkdirSync(join(folder, 'meshes'), { recursive: true });
  const next = uniform(making.seed ?? 1);
  const parts = partMeshes(lesion, { around: 24, stepMm: 1.2, sacFrequency: 10 });
  const lines = parts.map(({ name, role, mesh }) => {
    const known = rename[name] ?? name;
    writeFileSync(join(folder, 'meshes', `${known}.stl`), writeStl(noisy(mesh, noiseMm, next), known));
    return `    - { name: ${known}, role: ${role}, mesh: meshes/${known}.stl${role === 'feeder' ? `, arises_from: "A${name.slice(1)} of the left upper lobe"` : ''} }`;
  });
  const gas = (when: string, po2: number): string[] => [
    `  - { name: ${when}, when: ${when}, fio2: 1.0, minutes_on_oxygen: 20, site: arterial, po2: ${po2} mmHg, pco2: 36 mmHg, ph: 7.42,${when === 'before' ? ' so2: 97 %,' : ''} pressure: 755 mmHg }`,
  ];
  const text = [
    '# Invented; not a real patient.',
    'format: pavm-case/1',
    `id: ${id}`,
    'purpose: teaching',
    `scan: { date: ${date}, slice_thickness: 0.8 mm, in_plane: 0.7 mm }`,
    'patient: { age: 44 y, sex: female, pregnant: no, allergies: [], anticoagulated: no }',
    'blood: { haemoglobin: 15 g/dL, haematocrit: 45 % }',
    'gases:',
    ...gas('before', before),
    ...(making.after === undefined ? [] : gas('after', making.after)),
    'circulation: { cardiac_output: 6 L/min, mean_pa_pressure: 15 mmHg, wedge_pressure: 8 mmHg }',
    `lesion: { side: left, lobe: upper, segments: [S3]${making.treated === undefined ? '' : `, treated: ${making.treated}`} }`,
    'surfaces:',
    `  unit: ${making.unit ?? 'mm'}`,
    '  frame: LPS',
    '  parts:',
    ...lines,
    ...(making.shelf === undefined ? [] : ['shelf: shelf.yaml']),
    'planned: { approach: auto }',
    ...(making.extra === undefined ? [] : [making.extra]),
  ];
  if (making.shelf !== undefined) writeFileSync(join(folder, 'shelf.yaml'), making.shelf);
  writeFileSync(join(folder, 'case.yaml'), `${text.join('\n')}\n`);
  return folder;
}

/** The computed result of a case folder. */
export async function resultOfCase(folder: string): Promise<Result> {
  return (await planResult(await measureCase(folder))).result;
}
