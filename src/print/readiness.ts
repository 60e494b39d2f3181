import type { PatientDirection } from '../case/case.js';
import { rounded } from '../foundation/number-text.js';
import { dot, type Vec3 } from '../foundation/vector.js';
import type { WorkBudget } from '../foundation/work-budget.js';
import { measure } from '../mesh/measures.js';
import { OVERHANG_ROW } from '../mesh/mesh-passes.js';
import { COMMON_PRACTICE } from '../reference/sources.js';
import type { Result } from '../result/result.generated.js';
import { addedAreas, extentAlong, overhangsOf, printerAxes } from './build-space.js';
import { DIRECTIONS, directionOf, directionWord } from './cut-plane.js';
import type { PrintJob } from './print-job.js';
import type { PrintedPart } from './printed-part.js';
import type { ProcessLimits } from './process.js';

type Print = NonNullable<Result['print']>;

const MM3_PER_ML = 1000;
const MM2_PER_CM2 = 100;

const bedOf = (parts: readonly PrintedPart[], up: Vec3): number =>
  Math.min(...parts.map((p) => extentAlong(p.mesh, up).min));

/** Overhanging faces of the bodies printed together, for the case's build direction and the five others; undefined without a process. */
export function overhang(job: PrintJob, parts: readonly PrintedPart[]): Print['overhang'] {
  const { process } = job.rules;
  if (!process) return undefined;
  const area = (direction: PatientDirection): number => {
    if (!process.overhang) return 0;
    const up = directionOf(direction, job.input.frame);
    const bed = bedOf(parts, up);
    const { deg } = process.overhang;
    const sumMm2 = parts.reduce((sum, p) => addedAreas(sum, overhangsOf(p.mesh, up, deg, bed)), 0);
    return rounded(sumMm2 / MM2_PER_CM2, 2);
  };
  const chosen = job.input.print.buildUp ?? 'superior';
  return {
    up: directionWord(chosen, job.input.frame),
    ...(process.overhang && { below_deg: process.overhang.deg }),
    area_cm2: area(chosen),
    source: COMMON_PRACTICE,
    turned: process.overhang
      ? DIRECTIONS.filter((d) => d !== chosen).map((d) => ({
          up: directionWord(d, job.input.frame),
          area_cm2: area(d),
        }))
      : [],
  };
}

/**
 * Time and material of the bodies printed together, as ranges from the process's rules. Material ranges from the sparsest infill without
 * support to the solid body with support. An estimate for planning, not a slicer's forecast.
 */
export async function estimate(job: PrintJob, parts: readonly PrintedPart[]): Promise<Print['estimate']> {
  const { process } = job.rules;
  if (!process || parts.length === 0) return undefined;
  const { up } = printerAxes(job);
  const extents = parts.map((p) => extentAlong(p.mesh, up));
  const bed = Math.min(...extents.map((e) => e.min));
  const heightMm = Math.max(...extents.map((e) => e.max)) - bed;
  const solid = parts.reduce((sum, p) => sum + p.check.volumeMm3, 0);
  const support = await supportMm3(parts, up, process, bed, job.workshop.work);
  const least = process.infill ? parts.reduce((sum, p) => sum + sparse(p, process.infill!), 0) : solid;
  const material: [number, number] = [least / MM3_PER_ML, (solid + support) / MM3_PER_ML];
  const { rate } = process;
  const hours: [number, number] =
    rate.unit === 'cm3/h'
      ? [material[0] / rate.high, material[1] / rate.low]
      : [heightMm / rate.high, heightMm / rate.low];
  return {
    volume_ml: rounded(solid / MM3_PER_ML, 2),
    height_mm: rounded(heightMm, 1),
    ...(process.overhang && { support_ml: rounded(support / MM3_PER_ML, 2) }),
    material_ml: material.map((v) => rounded(v, 2)) as [number, number],
    material_g: material.map((v) => rounded(v * process.densityGCm3, 1)) as [number, number],
    hours: hours.map((h) => rounded(h, 1)) as [number, number],
    assumptions: assumptions(process),
    source: COMMON_PRACTICE,
  };
}

function assumptions(process: ProcessLimits): string[] {
  const { rate, infill, overhang: below, densityGCm3 } = process;
  return [
    rate.unit === 'cm3/h'
      ? `${rate.low} to ${rate.high} cm³ are laid down in an hour`
      : `${rate.low} to ${rate.high} mm of height are built in an hour, all bodies in one run`,
    infill
      ? `least material: a skin of ${infill.skinMm} mm and ${infill.fraction * 100} % of the inside, without support; most: filled, with support`
      : 'bodies are filled; most material with support, least without',
    below
      ? `support fills ${below.supportFraction * 100} % of the space under faces below ${below.deg} degrees`
      : 'the process needs no support',
    `density ${densityGCm3} g/cm³`,
    'making ready, cooling, washing and curing are not counted',
  ];
}

/** A solid skin and a sparse infill, mm³. */
function sparse(part: PrintedPart, infill: { fraction: number; skinMm: number }): number {
  const { volumeMm3 } = part.check;
  const skin = Math.min(volumeMm3, measure(part.mesh).areaMm2 * infill.skinMm);
  return skin + infill.fraction * (volumeMm3 - skin);
}

/** Greatest number of rays from overhangs down to the base of their support; more faces are sampled evenly. */
const MOST_RAYS = 4000;

/** Space between overhanging faces and the body or bed below them, times the share that support fills, mm³. */
async function supportMm3(
  parts: readonly PrintedPart[],
  up: Vec3,
  process: ProcessLimits,
  bedMm: number,
  work: WorkBudget,
): Promise<number> {
  if (!process.overhang) return 0;
  const { WindingField } = await import('../mesh/winding-field.js');
  const down: Vec3 = [-up[0], -up[1], -up[2]];
  let volume = 0;
  for (const part of parts) {
    const faces = overhangsOf(part.mesh, up, process.overhang.deg, bedMm);
    if (faces.length === 0) continue;
    const field = new WindingField(part.mesh, work);
    const stride = Math.max(1, Math.ceil(faces.length / OVERHANG_ROW / MOST_RAYS));
    let shadow = 0;
    let sampled = 0;
    let space = 0;
    for (let row = 0; row < faces.length; row += OVERHANG_ROW) {
      const shadowMm2 = faces[row + 4];
      shadow += shadowMm2;
      if ((row / OVERHANG_ROW) % stride !== 0) continue;
      sampled += shadowMm2;
      const centre: Vec3 = [faces[row], faces[row + 1], faces[row + 2]];
      const hit = field.first(centre, down, 1e-3);
      space += shadowMm2 * (hit?.distance ?? dot(centre, up) - bedMm);
    }
    volume += sampled > 0 ? (space * shadow) / sampled : 0;
  }
  return volume * process.overhang.supportFraction;
}
