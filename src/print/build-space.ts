import { finding } from '../foundation/finding.js';
import { fixed, rounded } from '../foundation/number-text.js';
import { cross, type Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { OVERHANG_ROW, passesOver } from '../mesh/mesh-passes.js';
import { plainExtent } from '../mesh/point-set.js';
import { layNormal } from '../mesh/triangle-normal.js';
import type { Result } from '../result/result.generated.js';
import { directionOf } from './cut-plane.js';
import type { PrintJob } from './print-job.js';
import type { PrintedPart } from './printed-part.js';

type Print = NonNullable<Result['print']>;

/** Directions of the printer in print coordinates: width, depth and up. */
export interface PrinterAxes {
  width: Vec3;
  depth: Vec3;
  up: Vec3;
}

/** The patient direction that points up, and the two perpendicular ones; width is the patient's left unless that is up. */
export function printerAxes(job: PrintJob, direction = job.input.print.buildUp ?? 'superior'): PrinterAxes {
  const { frame } = job.input;
  const up = directionOf(direction, frame);
  const isSide = direction === 'left' || direction === 'right';
  const width = directionOf(isSide ? 'posterior' : 'left', frame);
  return { width, depth: cross(up, width), up };
}

/** Extent of a mesh along a direction, mm. */
export function extentAlong(mesh: TriangleMesh, direction: Vec3): { min: number; max: number } {
  const compiled = passesOver(mesh)?.extent(...direction);
  if (compiled) return { min: compiled[0], max: compiled[1] };
  const { least, greatest } = plainExtent(mesh.positions, ...direction);
  return { min: least, max: greatest };
}

/**
 * Checks every body against the build space of the case's printer, as placed and after quarter turns. Undefined if the case names no
 * printer. Bodies that do not fit as placed are reported.
 */
export function buildVolume(job: PrintJob, parts: readonly PrintedPart[]): Print['build_volume'] {
  const inside = job.input.print.buildVolumeMm;
  if (!inside) return undefined;
  const axes = printerAxes(job);
  const bodies = parts.map((part) => {
    const size = [axes.width, axes.depth, axes.up].map((axis) => {
      const { min, max } = extentAlong(part.mesh, axis);
      return rounded(max - min, 2);
    }) as Vec3;
    const fits = size.every((s, k) => s <= inside[k]);
    const turned = TURNS.slice(1)
      .map((turn) => turn.map((k) => size[k]) as Vec3)
      .filter((s) => s.every((edge, k) => edge <= inside[k]));
    if (!fits) sayTooLarge(job, part.name, size, turned, inside);
    return { name: part.name, size_mm: size, fits, turned };
  });
  return { inside_mm: inside, bodies };
}

/** The edges of a body along width, depth and height: first as placed, then turned about the vertical. */
const TURNS: readonly Vec3[] = [
  [0, 1, 2],
  [1, 0, 2],
  [0, 2, 1],
  [2, 0, 1],
  [1, 2, 0],
  [2, 1, 0],
];

function sayTooLarge(job: PrintJob, name: string, size: Vec3, turned: readonly Vec3[], inside: Vec3): void {
  const box = (s: Vec3): string => s.map((c) => fixed(c, 1)).join(' x ');
  const [best] = turned;
  job.findings.push(
    best
      ? finding(
          'note',
          'print-turn',
          name,
          `It is ${box(size)} mm as it stands, the printer ${box(inside)} mm inside; after quarter turns it fits as ${box(best)} mm.`,
        )
      : finding(
          'caution',
          'print-too-large',
          name,
          `It is ${box(size)} mm; the printer is ${box(inside)} mm inside, and no quarter turn makes it fit. Print it smaller, cut it, or lay it across the bed by hand.`,
        ),
  );
}

/** Faces this near to the lowest point are on the bed, mm. */
const BED_MM = 0.05;

/**
 * Triangles that face down at less than `deg` from the horizontal, except those on the bed at `bedMm` along `up`: rows of the centre x y z,
 * mm, the area and its projection on the bed, mm².
 */
export function overhangsOf(mesh: TriangleMesh, up: Vec3, deg: number, bedMm: number): Float64Array {
  const steep = Math.cos((Math.min(deg, 89.999) * Math.PI) / 180);
  const onBedMm = bedMm + BED_MM;
  return passesOver(mesh)?.overhangs(...up, steep, onBedMm) ?? plainOverhangs(mesh, up, steep, onBedMm);
}

/** `steep`: cosine of the angle from the horizontal. Triangles that are completely below `onBedMm` are left out. */
export function plainOverhangs(
  mesh: TriangleMesh,
  [ux, uy, uz]: Vec3,
  steep: number,
  onBedMm: number,
): Float64Array {
  const { positions: p, triangles } = mesh;
  const rows: number[] = [];
  const n = new Float64Array(3);
  for (let t = 0; t < triangles.length; t += 3) {
    const twice = layNormal(mesh, t / 3, n);
    const down = -(n[0] * ux + n[1] * uy + n[2] * uz);
    if (twice === 0 || down <= 0 || down < steep * twice) continue;
    const a = 3 * triangles[t];
    const b = 3 * triangles[t + 1];
    const c = 3 * triangles[t + 2];
    const isOnBed = (v: number): boolean => p[v] * ux + p[v + 1] * uy + p[v + 2] * uz < onBedMm;
    if (isOnBed(a) && isOnBed(b) && isOnBed(c)) continue;
    for (let k = 0; k < 3; k++) rows.push((p[a + k] + p[b + k] + p[c + k]) * (1 / 3));
    rows.push(twice / 2, down / 2);
  }
  return Float64Array.from(rows);
}

/** A sum of areas, mm², plus the areas of these overhangs, added one after the other. */
export function addedAreas(sumMm2: number, overhangs: Float64Array): number {
  let sum = sumMm2;
  for (let row = 0; row < overhangs.length; row += OVERHANG_ROW) sum += overhangs[row + 3];
  return sum;
}
