import { finding } from '../foundation/finding.js';
import { fixed, rounded } from '../foundation/number-text.js';
import { add, cross, dot, scale, type Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
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
export function extentAlong({ positions }: TriangleMesh, direction: Vec3): { min: number; max: number } {
  let [min, max] = [Infinity, -Infinity];
  for (let p = 0; p < positions.length; p += 3) {
    const d = positions[p] * direction[0] + positions[p + 1] * direction[1] + positions[p + 2] * direction[2];
    if (d < min) min = d;
    if (d > max) max = d;
  }
  return { min, max };
}

/**
 * Checks every body against the build space of the case's printer, as it stands and after quarter turns. Undefined if the case gives no
 * printer. Bodies that do not fit as they stand are reported.
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

/** The edges of a body along width, depth and height: first as it stands, then turned about the vertical. */
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

/** A downward-facing triangle. */
export interface Overhang {
  centre: Vec3;
  areaMm2: number;
  /** Its projected area on the bed, mm². */
  shadowMm2: number;
}

/** Faces this near to the lowest point lie on the bed, mm. */
const BED_MM = 0.05;

/** Triangles that face down at less than `deg` from the horizontal, without those on the bed at `bedMm` along `up`. */
export function overhangsOf(mesh: TriangleMesh, up: Vec3, deg: number, bedMm: number): Overhang[] {
  const { positions, triangles } = mesh;
  const least = Math.cos((Math.min(deg, 89.999) * Math.PI) / 180);
  const found: Overhang[] = [];
  const at = (v: number): Vec3 => [positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]];
  const [ux, uy, uz] = up;
  const n = new Float64Array(3);
  for (let t = 0; t < triangles.length; t += 3) {
    const twice = layNormal(mesh, t / 3, n);
    const down = -(n[0] * ux + n[1] * uy + n[2] * uz);
    if (twice === 0 || down <= 0 || down < least * twice) continue;
    const [a, b, c] = [at(triangles[t]), at(triangles[t + 1]), at(triangles[t + 2])];
    if ([a, b, c].every((p) => dot(p, up) < bedMm + BED_MM)) continue;
    found.push({ centre: scale(add(add(a, b), c), 1 / 3), areaMm2: twice / 2, shadowMm2: down / 2 });
  }
  return found;
}
